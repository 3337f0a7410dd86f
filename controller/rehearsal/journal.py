"""What happened in a rehearsal, and when: runs of motors, wet floats, alarms, and the reasons of changes."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from enum import Enum
from typing import TYPE_CHECKING

from controller.equipment import Kind
from controller.readings.reading import Good, Level

if TYPE_CHECKING:
    from datetime import datetime

    from controller.decision.command import OutputChange
    from controller.decision.reasons import ReasonCode
    from controller.decision.state import Demand
    from controller.diagnosis.alarms import Alarm
    from controller.record.tick import TickRecord


class Doing(Enum):
    """What lasted."""

    FAN = "fan"
    PUMP = "pump"
    WET = "float wet"


@dataclass(frozen=True, slots=True)
class Span:
    """Something that lasted: a fan's or pump's run, or water at a float.

    Attributes:
        doing: what.
        name: of which loop or sump.
        demand: what a fan ran for, None for the others.
        began: local time.
        ended: local time.
    """

    doing: Doing
    name: str
    demand: Demand | None
    began: datetime
    ended: datetime


@dataclass(frozen=True, slots=True)
class Happening:
    """An output change and its local time."""

    at: datetime
    change: OutputChange


@dataclass(frozen=True, slots=True)
class Call:
    """An alarm that was raised, and its local time."""

    at: datetime
    alarm: Alarm


@dataclass(slots=True)
class Raised:
    """How often an alarm was raised, and the first time."""

    first_at: datetime
    first: Alarm
    times: int = 1


_Lasting = dict[str, tuple["Demand | None", float]]  # by name: what for, and since how long after the start


@dataclass(slots=True)
class Journal:
    """Follows the ticks.

    Attributes:
        start: local time of the start.
        spans: what has lasted and ended so far.
        alarms: by code.
        calls: every time an alarm was raised.
    """

    start: datetime
    spans: list[Span] = field(default_factory=list)
    alarms: dict[str, Raised] = field(default_factory=dict)
    calls: list[Call] = field(default_factory=list)
    _firsts: dict[ReasonCode, Happening] = field(default_factory=dict)
    _fans: _Lasting = field(default_factory=dict)
    _pumps: _Lasting = field(default_factory=dict)
    _wet: _Lasting = field(default_factory=dict)

    def note(self, tick: TickRecord, passed_s: float) -> None:
        """Take note of a tick that came ``passed_s`` after the start."""
        for change in tick.decision.changes:
            self._firsts.setdefault(change.reason.code, Happening(self._at(passed_s), change))
        for event in tick.diagnosis.events:
            if event.raised:
                self._raised(event.alarm, self._at(passed_s))
        for name, fan in tick.state.fans.items():
            if fan.demand is not None or name in self._fans:
                self._follow(Doing.FAN, self._fans, name, fan.demand is not None, fan.demand, passed_s)
        for change in tick.decision.changes:
            if change.output.kind is Kind.PUMP:
                self._follow(Doing.PUMP, self._pumps, change.output.name, change.on, None, passed_s)
        for name, level in tick.snapshot.sumps.items():
            wet = isinstance(level, Good) and level.value is Level.WET
            if wet or name in self._wet:
                self._follow(Doing.WET, self._wet, name, wet, None, passed_s)

    def close(self, passed_s: float) -> None:
        """End what still lasts."""
        for doing, lasting in ((Doing.FAN, self._fans), (Doing.PUMP, self._pumps), (Doing.WET, self._wet)):
            for name in list(lasting):
                self._follow(doing, lasting, name, False, None, passed_s)

    def examples(self, most: int) -> tuple[Happening, ...]:
        """The first change for each kind of reason, earliest first; of the pumps no more than two."""
        pumps = [first for first in self._firsts.values() if first.change.output.kind is Kind.PUMP]
        chosen = [first for first in self._firsts.values() if first not in pumps[2:]]
        return tuple(chosen[:most])

    def _at(self, passed_s: float) -> datetime:
        return self.start + timedelta(seconds=passed_s)

    def _raised(self, alarm: Alarm, at: datetime) -> None:
        self.calls.append(Call(at, alarm))
        known = self.alarms.get(alarm.code.value)
        if known is None:
            self.alarms[alarm.code.value] = Raised(at, alarm)
        else:
            known.times += 1

    def _follow(
        self, doing: Doing, all_lasting: _Lasting, name: str, on: bool, demand: Demand | None, passed_s: float
    ) -> None:
        """Begin, go on with or end a span; a fan that runs for something else now begins a new one."""
        lasting = all_lasting.get(name)
        if lasting is not None and not (on and lasting[0] is demand):
            del all_lasting[name]
            began, ended = self._at(lasting[1]), self._at(passed_s)
            self.spans.append(Span(doing, name, lasting[0], began, ended))
            lasting = None
        if on and lasting is None:
            all_lasting[name] = (demand, passed_s)
