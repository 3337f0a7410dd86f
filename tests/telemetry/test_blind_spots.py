"""What the fitted signals cannot show."""

from __future__ import annotations

from controller.diagnosis.outlet_records import OutletRecord, unknown_outlets
from controller.diagnosis.outlets import SEEN_ENOUGH_S
from controller.telemetry.blind_spots import not_monitored
from tests.decision.world import HOUSE
from tests.telemetry import ticks


def listed(**changed) -> str:
    """All blind spots of a changed house as one text."""
    return " / ".join(not_monitored(ticks.settings().model_copy(update=changed)))


def test_house_without_air_probes_says_what_stands_in_for_them():
    """No bench and no outdoor probe: both are named."""
    probes = {name: probe for name, probe in ticks.settings().probes.items() if probe.place != "bench"}
    text = listed(probes=probes)
    assert "no bench probe" in text
    assert "no outdoor probe" in text
    assert "no bench" not in listed()


def test_every_blind_spot_says_what_and_why_and_most_say_what_to_do():
    """Each names what is not seen, then after a colon why."""
    spots = not_monitored(ticks.settings())
    assert all(": " in spot for spot in spots)
    by_hand = ("every month", "every season", "every week", "every year", "every day", "falls silent")
    assert sum(spot.endswith(by_hand) for spot in spots) > len(spots) / 2
    assert all(len(spot) < 200 for spot in spots)


def test_a_loop_is_listed_until_its_outlet_has_shown_the_difference():
    """Once fan on and fan off have been seen, a fan without a command is no longer a blind spot."""
    settings = HOUSE
    unknown = unknown_outlets(settings.loops, 0.0)
    assert sum("not yet been seen" in spot for spot in not_monitored(settings, unknown)) == 3
    both_seen = OutletRecord(moving_while_on_s=SEEN_ENOUGH_S, still_while_off_s=SEEN_ENOUGH_S)
    known = unknown._replace(records={**unknown.records, "north": both_seen})
    text = " / ".join(not_monitored(settings, known))
    assert "loop north, whether its fan turns" not in text
    assert "loop south, whether its fan turns" in text


def test_float_that_reads_dry_when_cut_is_named():
    """A float that closes on rise hides a cut wire; one that opens on rise does not."""
    sump = ticks.settings().sumps["low-corner"]
    assert "cut float wire" not in listed()
    careless = sump.model_copy(update={"float_kind": "closes-on-rise"})
    assert "sump low-corner, rising water: a cut float wire reads dry" in listed(
        sumps={"low-corner": careless}
    )


def test_what_no_probe_can_show_is_always_named():
    """Whatever its probes: pumps without feedback, floats that hang dry, fire, supply."""
    for words in ("a pump that runs without a command", "a float that hangs dry", "no fire alarm", "supply"):
        assert words in listed()


def test_what_shows_only_when_it_is_bad_is_named_until_then():
    """A grille that is partly shut and a pump that grows slow look like sound ones for long."""
    text = listed()
    assert "partly shut" in text
    assert "a pump that grows slow" in text
