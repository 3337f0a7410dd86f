"""The watch over wet floats reports a pump that stands in water, runs for ever, or calls nobody."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from controller.decision.command import OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.diagnosis.alarms import Alarm
from controller.equipment import OutputId
from controller.faults import FaultCode, Priority
from controller.readings.reading import Good, Level, Missing, Why
from controller.record.promises import PromiseWatch
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from controller.readings.reading import LevelReading
    from controller.settings.schema import Settings

PUMP, MAIN, NORTH = HOUSE.pump, OutputId.pump("main"), OutputId.fan("north")
WORDS = Reason(ReasonCode.PUMP_WET, {"starts": 1.0})
TEMPLATE = World(settle=False)
TEMPLATE.tick()
CALL = Alarm(FaultCode.SUMP_NOT_EMPTYING, "main", "", Priority.ACT_NOW, 0.0)


class Made:
    """Ticks made by hand around one float; only what concerns it is kept of what the watch says."""

    def __init__(self, settings: Settings = HOUSE) -> None:
        self.settings, self.watch = settings, PromiseWatch()
        self.now_s, self.on = 10_000.0, frozenset[OutputId]()
        self.level: Level | Why = Level.DRY
        self.alarms: tuple[Alarm, ...] = ()
        self.look_s: float | None = None
        self.tick(after_s=HOUR_S)
        self.tick(after_s=HOUR_S)

    def tick(self, *on: OutputId, after_s: float = 10.0, reason: Reason = WORDS) -> list[str]:
        """Command exactly these outputs on; returns what is reported about wet floats."""
        self.now_s += after_s
        record = TEMPLATE.record
        assert record is not None
        wanted = frozenset(on)
        changes = tuple(OutputChange(o, o in wanted, reason) for o in wanted ^ self.on)
        self.on = wanted
        decision = record.decision._replace(
            commands={o: c._replace(on=o in wanted) for o, c in record.decision.commands.items()},
            changes=changes,
            look_again_s=self.look_s,
        )
        seen = record.snapshot._replace(sumps={"main": self._seen()})
        made = record._replace(
            now_mono_s=self.now_s,
            settings=self.settings,
            snapshot=seen,
            decision=decision,
            diagnosis=record.diagnosis._replace(alarms=self.alarms),
        )
        broken = self.watch.observe(made)
        return [one.detail for one in broken if one.promise == "P16" or "on a float wet for" in one.detail]

    def _seen(self) -> LevelReading:
        if isinstance(self.level, Why):
            return Missing(self.level, self.now_s)
        return Good(self.level, self.now_s)

    def run(self, for_s: float, *on: OutputId) -> list[str]:
        """The same command for a while, a tick every ten seconds."""
        return [words for _ in range(round(for_s / 10.0)) for words in self.tick(*on)]

    def rises(self, *on: OutputId) -> list[str]:
        """The float rises."""
        self.level = Level.WET
        return self.tick(*on)


def stands(made: Made, longest_s: float = HOUR_S) -> float:
    """How long the pump may stand from now on until it is reported."""
    begin_s = made.now_s
    while made.now_s < begin_s + longest_s:
        if made.tick():
            break
    return made.now_s - begin_s


def test_long_runs_with_short_rests_are_in_order_for_twelve_hours() -> None:
    """Half an hour on and two minutes off is nine tenths of the time."""
    made = Made()
    made.alarms = (CALL,)
    said = made.rises(MAIN)
    while made.now_s < 10_000.0 + 14 * HOUR_S:
        said += made.run(PUMP.longest_run_s - 10.0, MAIN)
        said += made.run(PUMP.rest_s)
    assert said == []


def test_a_pump_that_may_start_and_does_not_is_reported_after_one_rest() -> None:
    """Fifteen per cent of nothing is nothing; what remains is the one rest that a run may have owed."""
    made = Made()
    assert made.rises() == []
    assert stands(made) == pytest.approx(PUMP.rest_s / 0.85, abs=20.0)


@pytest.mark.parametrize(("run_s", "rest_s", "sound"), [(900.0, 90.0, True), (900.0, 400.0, False)])
def test_rests_count_once_the_pump_has_run(run_s: float, rest_s: float, sound: bool) -> None:
    """Rests in the middle of the spell are held to fifteen per cent, whatever they are for."""
    made = Made()
    made.alarms = (CALL,)
    said = made.rises(MAIN)
    for _ in range(12):
        said += made.run(run_s, MAIN)
        said += made.run(rest_s)
    assert (said == []) is sound
    assert all(words.startswith("P16: pump main stood for ") for words in said)


def test_what_is_owed_before_the_first_run_does_not_count() -> None:
    """A rise right after a run waits for the spacing of starts, and is reported soon after it."""
    made = Made()
    made.run(MINUTE_S, MAIN)
    started_s = made.now_s - MINUTE_S + 10.0
    made.tick()
    made.rises()
    stands(made)
    owed_until_s = started_s + HOUR_S / PUMP.starts_per_hour
    assert made.now_s - owed_until_s == pytest.approx(PUMP.rest_s / 0.85, abs=30.0)


@pytest.mark.parametrize(
    ("code", "stands_s"),
    [
        (ReasonCode.PUMP_LONGEST_RUN, (0.15 * PUMP.longest_run_s + PUMP.rest_s) / 0.85),
        (ReasonCode.NO_DECISION, PUMP.rest_s + PUMP.rest_s / 0.85),
        (ReasonCode.OUTPUT_FAILED, PUMP.rest_s + PUMP.rest_s / 0.85),
    ],
)
def test_a_run_that_nobody_decided_to_end_begins_the_count_anew(code: ReasonCode, stands_s: float) -> None:
    """What the motor owes then is owed as at the beginning; an end that was decided takes nothing back."""
    made = Made()
    made.rises(MAIN)
    made.run(PUMP.longest_run_s, MAIN)
    made.tick(reason=Reason(code, {"run_s": 1.0}))
    assert stands(made) == pytest.approx(stands_s, abs=20.0)


def test_the_stagger_never_counts() -> None:
    """While other motors start one after the other the pump may wait, first time or not."""
    made = Made(settings_with(fans={"stagger_s": 600.0}))
    made.alarms = (CALL,)
    said = made.rises(MAIN)
    for count in range(12):
        said += made.run(300.0, *([NORTH] if count % 2 else []))
    assert said == []


def test_a_late_tick_is_the_leases_affair() -> None:
    """A pause that nobody asked for counts no longer than the lease; one that was asked for counts."""
    made = Made()
    assert made.rises() == []
    assert made.tick(after_s=HOUR_S / 2) == []
    made = Made()
    made.look_s = HOUR_S / 2
    assert made.rises() == []
    assert made.tick(after_s=HOUR_S / 2)


def test_a_dry_or_a_missing_reading_begins_a_new_spell() -> None:
    """What was counted before it is forgotten."""
    for level in (Level.DRY, Why.UNREADABLE):
        made = Made()
        made.rises()
        assert stands(made, 100.0) == 100.0
        made.level = level
        made.tick()
        made.rises()
        assert stands(made, 100.0) == 100.0


def test_an_hour_in_which_nobody_is_called_is_reported() -> None:
    """To the moment, and only an alarm about this very sump counts."""
    for alarms, sound in (((CALL,), True), ((), False), ((replace(CALL, subject="low"),), False)):
        made = Made()
        made.rises(MAIN)
        assert made.run(HOUR_S - 10.0, MAIN) == []
        made.alarms = alarms
        assert (made.tick(MAIN) == []) is sound


def test_beyond_twelve_hours_a_quarter_of_the_time_is_the_bound() -> None:
    """One longest run more than a quarter is allowed, a pump that goes on as before is reported."""
    made = Made()
    made.alarms = (CALL,)
    assert made.rises(MAIN) == []
    assert made.run(12 * HOUR_S, MAIN) == []
    assert made.run(PUMP.longest_run_s / 0.75 - 10.0, MAIN) == []
    assert made.run(60.0, MAIN)[-1].startswith("P3: pump main ran ")
    made = Made()
    made.alarms = (CALL,)
    made.rises(MAIN)
    said = made.run(12 * HOUR_S, MAIN)
    for _ in range(10):
        said += made.run(PUMP.longest_run_s, MAIN)
        said += made.run(3 * PUMP.longest_run_s)
    assert said == []
