"""Alarms from their first call to their end, and what people said while they stood."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.history.rows import EventCode
from controller.report.data import AlarmSpell, Said

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from controller.history.queries import RecordedAlarm, RecordedEvent
    from controller.report.data import Run

# What is said of one alarm, and what is said of the house.
OF_AN_ALARM = frozenset((EventCode.SEEN.value,))
OF_THE_HOUSE = frozenset((EventCode.HOUSE_EMPTY.value, EventCode.HOUSE_PLANTED.value, EventCode.DONE.value))


@dataclass(slots=True)
class _Open:
    first: RecordedAlarm
    priority: int
    calls: int = 1

    def close(self, over: datetime | None, runs: Sequence[Run]) -> AlarmSpell:
        """The alarm with what ran until it was over."""
        began = self.first.when.at_utc
        return AlarmSpell(
            code=self.first.code,
            subject=self.first.subject,
            priority=self.priority,
            raised=began,
            over=over,
            calls=self.calls,
            detail=self.first.detail,
            fan_h=_ran(runs, "fan", began, over) / timedelta(hours=1),
            pump_s=_ran(runs, "pump", began, over).total_seconds(),
            said=[],
        )


def spells_of(
    alarms: Iterable[RecordedAlarm], events: Iterable[RecordedEvent], runs: Sequence[Run]
) -> list[AlarmSpell]:
    """Every alarm, oldest first.

    One that is raised again before it was over is the same alarm calling again. One whose end is missing
    ended with the program; the next call of the same alarm then belongs to it.
    """
    standing: dict[tuple[str, str], _Open] = {}
    spells: list[AlarmSpell] = []
    for alarm in alarms:
        key = (alarm.code, alarm.subject)
        spell = standing.get(key)
        if not alarm.raised:
            if spell is not None:
                spells.append(standing.pop(key).close(alarm.when.at_utc, runs))
        elif spell is None:
            standing[key] = _Open(alarm, alarm.priority)
        else:
            spell.calls += 1
            spell.priority = min(spell.priority, alarm.priority)
    spells += [spell.close(None, runs) for spell in standing.values()]
    _add_words(spells, events)
    return sorted(spells, key=lambda spell: spell.raised)


def _ran(runs: Sequence[Run], kind: str, began: datetime, ended: datetime | None) -> timedelta:
    """How long all motors of a kind ran in a range of time together; an open range counts nothing."""
    if ended is None:
        return timedelta()
    shared = [min(run.ended, ended) - max(run.began, began) for run in runs if run.kind == kind]
    return sum((span for span in shared if span > timedelta()), start=timedelta())


def _add_words(spells: Iterable[AlarmSpell], events: Iterable[RecordedEvent]) -> None:
    """Put what was said beside the alarms it names, which stand before the colon."""
    for event in events:
        if event.code not in OF_AN_ALARM:
            continue
        named = event.detail.partition(": ")[0].split(", ")
        said = Said(at=event.when.at_utc, words=event.detail)
        for spell in spells:
            name = f"{spell.code} ({spell.subject})" if spell.subject else spell.code
            if name in named and spell.raised <= said.at and (spell.over is None or said.at <= spell.over):
                spell.said.append(said)


def said_of_the_house(events: Iterable[RecordedEvent]) -> list[Said]:
    """Checks by hand that were done, and a house said to be empty or planted."""
    return [Said(at=event.when.at_utc, words=event.detail) for event in events if event.code in OF_THE_HOUSE]
