"""Runs of fans and pumps, with what they started and stopped for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.decision.reasons import Reason, ReasonCode
from controller.equipment import Kind
from controller.report.data import Run

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from controller.equipment import OutputId
    from controller.history.queries import RecordedChange
    from controller.units import TemperatureUnit

WET_CODES = frozenset((ReasonCode.PUMP_WET.value, ReasonCode.PUMP_DOUBTED.value))


@dataclass(slots=True)
class Water:
    """What water asked of pumps and fans on a day."""

    wet_runs: int = 0
    wet_s: float = 0.0
    other_runs: int = 0
    other_s: float = 0.0
    fans_stopped: int = 0

    def add(self, run: Run) -> None:
        """Count a run that belongs to the day."""
        if run.kind == "fan":
            self.fans_stopped += run.end_code == ReasonCode.FLOOD.value
            return
        lasted_s = (run.ended - run.began).total_seconds()
        if run.code in WET_CODES:
            self.wet_runs += 1
            self.wet_s += lasted_s
        else:
            self.other_runs += 1
            self.other_s += lasted_s


def runs_of(changes: Iterable[RecordedChange], last_seen: datetime, unit: TemperatureUnit) -> list[Run]:
    """Every run, in the order in which they ended.

    Args:
        changes: oldest first; a run that began before them is not known and left out.
        last_seen: until when outputs are known; a run without an end lasts until then.
        unit: of the temperatures in the reasons.
    """
    running: dict[OutputId, RecordedChange] = {}
    runs = []
    for change in changes:
        if change.output.kind is Kind.SIGNAL:
            continue
        start = running.pop(change.output, None)
        if start is not None and start.when.run_id == change.when.run_id:
            runs.append(_run(start, change.when.at_utc, change.code, unit))
        if change.on:
            running[change.output] = change
    runs += [_run(start, max(last_seen, start.when.at_utc), "", unit) for start in running.values()]
    return runs


def _run(start: RecordedChange, ended: datetime, end_code: str, unit: TemperatureUnit) -> Run:
    return Run(
        kind="fan" if start.output.kind is Kind.FAN else "pump",
        name=start.output.name,
        began=start.when.at_utc,
        ended=ended,
        code=start.code,
        why=in_unit(start, unit),
        end_code=end_code,
    )


def in_unit(change: RecordedChange, unit: TemperatureUnit) -> str:
    """The reason of a change in the unit that is wanted now; one of another release as it was written."""
    try:
        return Reason(ReasonCode(change.code), change.numbers).sentence(unit)
    except (ValueError, KeyError):
        return change.sentence
