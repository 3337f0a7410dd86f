"""What the fitted signals cannot show."""

from __future__ import annotations

from controller.telemetry.blind_spots import not_monitored
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
    assert "bench" not in listed()


def test_float_that_reads_dry_when_cut_is_named():
    """A float that closes on rise hides a cut wire; one that opens on rise does not."""
    sump = ticks.settings().sumps["low-corner"]
    assert "cut float wire" not in listed()
    careless = sump.model_copy(update={"float_kind": "closes-on-rise"})
    assert "sump low-corner: a cut float wire reads dry" in listed(sumps={"low-corner": careless})


def test_motors_without_feedback_are_always_named():
    """No house of this kind can see a stuck contactor, whatever its probes."""
    assert "fans that turn without a command" in listed()
    assert "pumps that run without a command" in listed()
