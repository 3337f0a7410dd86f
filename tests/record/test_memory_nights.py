"""What nights have taught outlives a restart in few letters."""

from __future__ import annotations

import json

import pytest

from controller.forecast.outlook import Outlook, outlook
from controller.forecast.watch import no_nights
from controller.record.memory_nights import NightsKept, kept_nights, restored_nights
from tests.forecast.nights import Winter


def winter() -> Winter:
    """A house that knows its nights, late in the evening."""
    known = Winter()
    known.pass_nights(30, forecast_bias_k=1.0)
    known.pass_to(20.0)
    known.give(known.low_out_c)
    known.pass_to(21.0)
    return known


def test_a_restart_in_the_evening_changes_nothing_of_the_outlook() -> None:
    """Within a boot the night in progress goes on, and the next morning teaches as if nothing had been."""
    house, other = winter(), winter()
    kept = NightsKept.model_validate(json.loads(json.dumps(kept_nights(house.nights, house.now_s))))
    other.nights = restored_nights(kept, True, 0.0, other.now_s)
    for _ in range(2):
        for one in (house, other):
            one.pass_to(22.0)
        first, second = (outlook(one.nights, one.now_s) for one in (house, other))
        assert isinstance(first, Outlook)
        assert isinstance(second, Outlook)
        assert second.low_c == pytest.approx(first.low_c, abs=0.01)
        assert second.from_c == pytest.approx(first.from_c, abs=0.01)
    assert other.nights.learned == house.nights.learned


def test_after_a_reboot_what_was_learned_is_known_and_the_night_in_progress_is_not() -> None:
    """Nobody knows how long the power was off."""
    house = winter()
    kept = NightsKept.model_validate(kept_nights(house.nights, house.now_s))
    again = restored_nights(kept, False, 0.0, 50.0)
    assert again.learned == house.nights.learned
    assert again.moments[1].house == pytest.approx(house.nights.moments[1].house, abs=1e-3)
    assert (again.passing.seen_s, again.hours, again.given) == (0.0, (), None)


def test_it_takes_a_few_kilobytes() -> None:
    """Every write wears the card."""
    house = winter()
    assert len(json.dumps(kept_nights(house.nights, house.now_s))) < 6000


@pytest.mark.parametrize("damaged", ["", "AAAA", "//////8="])
def test_what_cannot_be_read_is_learned_anew(damaged: str) -> None:
    """A damaged text costs the outlook, and nothing else."""
    house = winter()
    kept = NightsKept.model_validate(kept_nights(house.nights, house.now_s) | {"moments": damaged})
    assert restored_nights(kept, True, 0.0, house.now_s).learned == no_nights().learned
