"""What the house's own nights teach of the one that comes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.forecast.outlook import Outlook, outlook
from tests.forecast.nights import Winter

if TYPE_CHECKING:
    from controller.forecast.watch import Look


def said(winter: Winter) -> Outlook:
    """The outlook now, which must be there."""
    found = outlook(winter.nights, winter.now_s)
    assert isinstance(found, Outlook), found
    return found


@pytest.mark.parametrize(
    ("nights", "value", "bounds"), [(9, False, False), (10, True, False), (25, True, True)]
)
def test_a_value_comes_after_ten_nights_and_bounds_after_twenty_five(
    nights: int, value: bool, bounds: bool
) -> None:
    """Before that it says how much is missing and gives no number."""
    winter = Winter()
    winter.pass_nights(nights + 1)  # the first has no night before it
    winter.pass_to(17.0)
    found = outlook(winter.nights, winter.now_s)
    assert isinstance(found, Outlook) is value
    if not isinstance(found, Outlook):
        assert found == "1 more night must be seen first"
    else:
        assert (found.half_k is not None) is bounds


def test_it_learns_what_the_evening_shows() -> None:
    """Where outdoors at sunset says what the night becomes, last night's low does not mislead."""
    winter = Winter()
    winter.pass_nights(40)
    for _ in range(8):
        winter.pass_to(17.0)
        found = said(winter)
        assert found.low_c == pytest.approx(winter.low_out_c + 4.0, abs=1.0)
        assert found.from_c is not None
        assert found.from_c <= winter.low_out_c + 4.0
        winter.pass_to(11.0)


def test_the_constant_bias_of_a_forecast_is_learned_away() -> None:
    """A station in the town that is always 5 K too warm is as good as one next to the house."""
    winter = Winter()
    winter.pass_nights(40, forecast_bias_k=5.0)
    winter.pass_to(15.5)
    winter.give(winter.low_out_c + 5.0)
    winter.pass_to(15.75)
    found = said(winter)
    assert found.by_forecast
    assert found.low_c == pytest.approx(winter.low_out_c + 4.0, abs=1.0)


def test_a_forecast_low_holds_for_one_night() -> None:
    """What was typed in for last night says nothing of the next."""
    winter = Winter()
    winter.pass_nights(26)
    winter.pass_to(16.0)
    winter.give(-30.0)
    winter.pass_to(17.0)
    assert said(winter).by_forecast
    winter.pass_to(11.0)
    winter.pass_to(17.0)
    assert not said(winter).by_forecast


@pytest.mark.parametrize("what", ["outdoor_c", "air_c", "soil_c"])
def test_without_a_probe_it_says_so(what: str) -> None:
    """A number that rests on nothing is worse than none."""
    winter = Winter()
    winter.pass_nights(26)
    winter.pass_to(17.0, lambda look: look._replace(**{what: float("nan")}))
    assert outlook(winter.nights, winter.now_s) == (
        "air, soil or outdoors cannot be read, or last night was not seen"
    )


def test_a_night_that_was_not_seen_teaches_nothing() -> None:
    """The air was lost for three hours, or the clock jumped by a day and a half: no night is added."""
    winter = Winter()
    winter.pass_nights(12)
    learned = winter.nights.learned

    def lost(look: Look) -> Look:
        return look._replace(air_c=float("nan")) if look.hour and 4.0 < look.hour.since_h < 8.0 else look

    winter.pass_to(11.0, lost)
    assert winter.nights.learned == learned
    winter.pass_to(23.0)
    winter.now_s += 1.5 * 86400.0
    winter.pass_to(11.0)
    assert winter.nights.learned == learned
    winter.pass_nights(2)
    assert winter.nights.learned > learned


def test_without_a_clock_the_hour_by_the_air_is_enough() -> None:
    """The season is then left out; the rest is learned all the same."""
    winter = Winter(by_clock=False)
    winter.pass_nights(30)
    winter.pass_to(17.0)
    assert said(winter).low_c == pytest.approx(winter.low_out_c + 4.0, abs=1.5)


def test_the_bounds_never_promise_more_than_the_house_has_had() -> None:
    """Late in the night the upper bound is the low so far, and the two close up towards sunrise."""
    winter = Winter()
    winter.pass_nights(30)
    widths = []
    for hour in (17.0, 0.0, 6.0):
        winter.pass_to(hour)
        found = said(winter)
        assert found.to_c is not None
        assert found.from_c is not None
        assert found.low_c <= found.to_c <= winter.look().air_c + 1e-9
        widths.append(found.to_c - found.from_c)
    assert widths[2] <= widths[0]
