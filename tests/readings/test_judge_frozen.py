"""A probe that stays on one digit while the others of its kind move."""

from __future__ import annotations

import pytest

from controller.readings.reading import Good, Why
from tests.readings.probe import EVERY_S, Probe, why


def together(places: list[str], hours: float, traces: list[list[float]]) -> list[Probe]:
    """Probes of one house that give their traces over and over, a sample every minute."""
    probes = [Probe(place) for place in places]
    for probe in probes:
        probe.judge.kin = [other.judge for other in probes if other is not probe]
    for minute in range(int(hours * 60)):
        for probe, trace in zip(probes, traces, strict=True):
            probe.now_s = 100_000.0 + 60.0 * minute
            probe.gives(trace[minute % len(trace)])
    return probes


RISING_AND_FALLING = [10.0 + abs(n - 300) / 60.0 for n in range(600)]


def test_frozen_air_probe_is_found_while_others_move() -> None:
    """A ceiling probe on one digit for more than six hours, while another moves, is not believed."""
    frozen, _ = together(["ceiling", "bench"], 6.1, [[12.0], RISING_AND_FALLING])
    assert why(frozen.now()) is Why.STUCK
    assert frozen.judge.trouble is Why.STUCK
    assert isinstance(frozen.gives(12.0625), Good), "it is believed again when it moves"


def test_calm_night_is_no_fault() -> None:
    """Where nothing moves but the last digit, nobody is stuck."""
    probes = together(["ceiling", "bench"], 24.0, [[4.0], [4.0, 4.0625, 4.125]])
    assert [type(probe.now()) for probe in probes] == [Good, Good]


def test_probe_without_others_is_never_called_stuck() -> None:
    """A lone probe cannot be compared."""
    lone = Probe("outdoor")
    lone.gives(4.0)
    lone.now_s += 24 * 3600.0
    assert lone.gives(4.0) == Good(4.0, lone.now_s)


def frozen_beside(place: str, others_c: list[float], for_s: float) -> Probe:
    """A probe that gives 12 °C, and again after some time; meanwhile another of its place gives others_c.

    The first of others_c comes in the same moment as the probe's own first sample.
    """
    frozen, other = Probe(place), Probe(place)
    frozen.judge.kin = [other.judge]
    frozen.gives(12.0)
    other.gives(*others_c)
    frozen.now_s += for_s - EVERY_S
    frozen.gives(12.0)
    return frozen


@pytest.mark.parametrize(
    ("place", "others_c", "for_s", "trouble"),
    [
        ("bench", [10.0, 11.0, 12.0], 6 * 3600.0 + 1.0, Why.STUCK),
        ("bench", [12.0, 11.0, 10.0], 6 * 3600.0 + 1.0, Why.STUCK),
        ("bench", [10.0, 11.0, 12.0], 6 * 3600.0, None),  # until the very end of its time
        ("bench", [10.0, 10.9, 11.8], 6 * 3600.0 + 1.0, None),  # one move only
        ("soil", [12.0, 12.25, 12.5], 14 * 86400.0 + 1.0, Why.STUCK),
        ("soil", [12.0, 12.2, 12.4], 14 * 86400.0 + 1.0, None),
        ("soil", [12.0, 12.25, 12.5], 14 * 86400.0, None),
    ],
)
def test_two_moves_of_another_call_a_probe_stuck(
    place: str, others_c: list[float], for_s: float, trouble: Why | None
) -> None:
    """Two moves of a kelvin in air, of a quarter of one in soil, tell on a probe that stands still."""
    assert frozen_beside(place, others_c, for_s).judge.last_why is trouble


def test_a_move_in_the_same_moment_proves_nothing() -> None:
    """A move of another that came together with this probe's own last one is not counted against it."""
    frozen, other = Probe("bench"), Probe("bench")
    frozen.judge.kin = [other.judge]
    frozen.gives(11.0, 12.0)
    other.gives(10.0, 11.0, 12.0)
    frozen.now_s += 7 * 3600.0
    frozen.gives(12.0)
    assert frozen.judge.last_why is None


def test_resting_outlet_may_stand_still_for_days() -> None:
    """The outlet of a resting fan takes the temperature of the ground while another loop runs."""
    resting, _ = together(["outlet", "outlet"], 48.0, [[12.0], RISING_AND_FALLING])
    assert isinstance(resting.now(), Good)
