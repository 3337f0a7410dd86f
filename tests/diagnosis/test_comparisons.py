"""Probes that read wrong without ever leaving what is possible: found by comparing them with others."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from controller.diagnosis.probe_records import Record
from controller.equipment import OutputId
from controller.record.memory import to_memory
from tests.decision.world import HOUR_S, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.readings.reading import Why

STEP_S = 15 * MINUTE_S


class House(World):
    """A house with mild days; each probe may be off by night and by day."""

    def __init__(self) -> None:
        super().__init__(settings_with(setpoints={"comfort_floor_c": 30.0}))  # no fan is wanted
        self.off_k: dict[str, float] = {}
        self.sun_k: dict[str, float] = {}

    def day(self, sun: float = 1.0) -> None:
        """A night of 12 hours and a day of 12, with this share of a clear day's sun."""
        for hours, shining in ((12.0, 0.0), (12.0, sun)):
            self.ceiling_c, self.bench_c = 12.0 + 12.0 * shining, 11.8 + 8.0 * shining
            for name, probe in self.settings.probes.items():
                true_c = {"ceiling": self.ceiling_c, "bench": self.bench_c}.get(probe.place)
                if true_c is not None:
                    self.probe_c[name] = (
                        true_c + self.off_k.get(name, 0.0) + shining * self.sun_k.get(name, 0.0)
                    )
            self.soil_c = {loop: 12.0 + self.off_k.get(f"{loop}-soil", 0.0) for loop in self.settings.loops}
            for _ in range(round(hours * HOUR_S / STEP_S)):
                self.outlet_c = dict(self.outlets())
                self.run(STEP_S, STEP_S)

    def outlets(self) -> Iterator[tuple[str, float]]:
        """Moving air has left most of its difference in the tubes, still air lies halfway."""
        for loop in self.settings.loops:
            on = self.state.outputs[OutputId.fan(loop)].on
            over_k = 0.25 * (self.ceiling_c - 12.0) if on else 0.5 * (self.bench_c - 12.0)
            yield loop, 12.0 + over_k + self.off_k.get(f"{loop}-outlet", 0.0)

    def days(self, count: int) -> None:
        """Days in a row."""
        for _ in range(count):
            self.day()


@pytest.fixture(name="sound")
def _sound() -> House:
    """A house whose probes have been alike for long enough to know what is usual."""
    house = House()
    house.days(6)
    assert house.events == []
    return house


@pytest.mark.parametrize("name", ["ceiling-west", "bench", "north-soil", "south-outlet"])
def test_a_probe_that_is_off_is_named_after_days(sound: House, name: str) -> None:
    """Not at once, because one day may be odd; and nobody else is named."""
    sound.off_k[name] = 3.0
    sound.days(2)
    assert sound.events == []
    sound.days(3)
    assert sound.events == [("probe-off", name, True)]


def test_a_mended_probe_ends_its_alarm(sound: House) -> None:
    """A day after the probe reads right again, and one more for certainty, the alarm is gone."""
    sound.off_k["bench"] = 4.0
    sound.days(6)
    sound.off_k.clear()
    sound.days(4)
    assert sound.events == [("probe-off", "bench", True), ("probe-off", "bench", False)]


@pytest.mark.parametrize("name", ["ceiling-east", "bench"])
def test_a_probe_in_the_sun_is_named_after_clear_days(sound: House, name: str) -> None:
    """It is right by night and by day warmer than the other ceiling, or than the roof."""
    sound.sun_k[name] = 10.0
    sound.days(5)
    assert sound.events == [("probe-in-sun", name, True)]


class Banking(House):
    """A house whose loops bank for some hours every day."""

    def __init__(self) -> None:
        super().__init__()
        self.settings = settings_with()
        self.shares = dict.fromkeys(self.settings.loops, 0.8)
        self.remember_need(2.0)

    def outlet(self, loop: str) -> float | Why:
        """Each loop's tubes take their share of the difference out of the air."""
        soil_c, ceiling_c = self.soil_c[loop], self.ceiling_c
        assert isinstance(soil_c, float)
        assert isinstance(ceiling_c, float)
        if self.decision is not None and self.fan(loop):
            return ceiling_c - self.shares[loop] * (ceiling_c - soil_c)
        return soil_c


@pytest.mark.parametrize("change", [-0.06, 0.06], ids=["silted", "blocked"])
def test_a_loop_whose_share_of_heat_moves_against_the_others_is_named(change: float) -> None:
    """Air that comes out nearer to the soil, or further from it, is less air; other loops stay silent."""
    house = Banking()
    house.shares["south"] = 0.83  # loops differ; only a change counts
    house.days(7)
    assert house.events == []
    house.shares["north"] += change
    house.days(6)
    assert house.events == [("loop-weak", "north", True)]
    shares = house.evidence.comparisons.shares
    house.restart(same_boot=False)
    assert house.evidence.comparisons.shares == shares


def test_all_loops_changing_together_are_the_weather() -> None:
    """Moist or dry air, and soil near the tubes, change all loops alike."""
    house = Banking()
    house.days(7)
    house.shares = dict.fromkeys(house.shares, 0.76)
    house.days(6)
    assert house.events == []


def test_days_of_comparing_survive_a_restart(sound: House) -> None:
    """What took days to see is remembered on the card."""
    sound.off_k["bench"] = 4.0
    sound.days(2)
    records = sound.evidence.comparisons.records
    sound.restart(same_boot=False)
    assert sound.evidence.comparisons.records == records
    assert records["bench"].off_days > 0
    sound.days(3)
    assert ("probe-off", "bench", True) in sound.events


def test_what_is_remembered_of_a_probe_or_loop_that_is_gone_calls_nobody() -> None:
    """After a restart with other wiring the memory still names the old parts; that is forgotten."""
    house = House()
    house.day()
    off = Record(lately=9.0, days=5, off_days=3)
    comparisons = house.evidence.comparisons
    house.evidence = house.evidence._replace(
        comparisons=comparisons._replace(
            records={**comparisons.records, "old-soil": off}, shares={"old": off}, suspicious=True
        )
    )
    kept = to_memory(house.state, house.evidence, house.now_s)
    house.saved = json.loads(json.dumps(kept.data))
    house.restart(5.0)
    assert "old-soil" in house.evidence.comparisons.records
    assert "old" not in house.evidence.comparisons.shares
    house.days(2)
    assert "old-soil" not in house.evidence.comparisons.records
    assert not house.evidence.comparisons.suspicious
