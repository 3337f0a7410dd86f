"""Promise P16: a float that reads wet keeps its pump running, and a person is called.

In figures, for every spell in which a float reads wet in each tick without a break (a dry or a missing
reading ends it, and so does a restart of the program, because the float was not read):

- In its first 12 hours the pump stands still for at most 15 % of the time, and one rest after a longest run.
  Not counted is what P3 and P4 owe before the pump first runs in the spell: its rest, and the even spacing of
  its starts over the hour; and at any time the stagger of P11, and an hour whose starts are all spent. Where
  the outputs went off by themselves, the count begins anew.
- After an hour ``sump-not-emptying`` is raised.
- Beyond the 12 hours the pump runs for at most a quarter of the time, and one longest run.

Shares no code with the rule it checks.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from controller.equipment import OutputId
from controller.faults import HOUR_S, FaultCode
from controller.readings.reading import Good, Level

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.record.tick import TickRecord

BELIEVED_S = 12.0 * HOUR_S
CALLED_WITHIN_S = HOUR_S
MOST_OFF = 0.15
MOST_DOUBTED = 0.25


class Standing(NamedTuple):
    """What has been seen of a pump, as far as it can owe a rest or a wait.

    Attributes:
        off_since_s: since when it stands, None if its stop was not seen.
        starts_s: its own starts that have been seen, oldest first.
        last_start_s: when any motor was last seen to start.
    """

    off_since_s: float | None
    starts_s: tuple[float, ...]
    last_start_s: float | None


class Owed(Enum):
    """What keeps a pump that stands from starting now."""

    NOTHING = "nothing"
    AT_FIRST = "its rest or its spacing, which count once it has run in this spell"
    ALWAYS = "another motor's start, or the starts of the hour"


class WetFloats:
    """Follows all floats."""

    def __init__(self) -> None:
        self._spells: dict[str, WetSpell] = {}
        self._began_s: float | None = None

    def wet(self, tick: TickRecord) -> list[str]:
        """The floats that read wet in a finished tick; ends the spells of the others."""
        if self._began_s is None:
            self._began_s = tick.now_mono_s
        wet = []
        for name, level in tick.snapshot.sumps.items():
            if isinstance(level, Good) and level.value is Level.WET:
                wet.append(name)
            elif self._spells:
                self._spells.pop(name, None)
        return wet

    def observe(self, tick: TickRecord, name: str, standing: Standing) -> list[str]:
        """Follow a float that reads wet in a finished tick; returns what is broken, in words."""
        began_s = tick.now_mono_s if self._began_s is None else self._began_s
        spell = self._spells.setdefault(name, WetSpell(tick.now_mono_s))
        return spell.observe(tick, name, _owed(tick, standing, began_s))

    def cut(self, name: str) -> None:
        """A pump's run was cut without a decision: its motor now owes what it owes at the beginning."""
        if spell := self._spells.get(name):
            spell.ran, spell.on_s, spell.off_s = False, 0.0, 0.0


def _owed(tick: TickRecord, standing: Standing, began_s: float) -> Owed:
    """What P3, P4 and P11 owe now; what lies before the first tick may have been just before it."""
    now_s, pump = tick.now_mono_s, tick.settings.pump
    lately = sum(now_s - at < HOUR_S for at in standing.starts_s)
    last_start_s = max(standing.last_start_s or began_s, began_s)
    if now_s - last_start_s < tick.settings.fans.stagger_s or lately >= pump.starts_per_hour:
        return Owed.ALWAYS
    off_since_s = max(standing.off_since_s or began_s, began_s)
    own_start_s = max((*standing.starts_s, began_s))
    rests = now_s - off_since_s < pump.rest_s or now_s - own_start_s < HOUR_S / pump.starts_per_hour
    return Owed.AT_FIRST if rests else Owed.NOTHING


@dataclass(slots=True)
class WetSpell:
    """A float that reads wet without a break.

    Attributes:
        since_s: when it rose.
        seen_s: when it was last looked at.
        on: whether the pump was commanded on then.
        counts: whether the time that it stands from then on counts.
        ran: whether the pump has run in this spell.
        on_s: how long the pump has run in it.
        off_s: how long it stood though it need not.
        doubted_on_s: how long it has run beyond the hours in which the float is believed.
        late_s: the longest time that may pass until the next look; the lease answers for what is later.
        rest_s: longest rest that was set in it.
        longest_run_s: longest run that was set in it.
    """

    since_s: float
    seen_s: float = 0.0
    on: bool = False
    counts: bool = False
    ran: bool = False
    on_s: float = 0.0
    off_s: float = 0.0
    doubted_on_s: float = 0.0
    late_s: float = 0.0
    rest_s: float = 0.0
    longest_run_s: float = 0.0

    def observe(self, tick: TickRecord, name: str, owed: Owed) -> list[str]:
        """Follow one more tick in which the float reads wet; returns what is broken, in words."""
        now_s, pump = tick.now_mono_s, tick.settings.pump
        self._pass(now_s)
        self.on = tick.decision.commands[OutputId.pump(name)].on
        self.ran = self.ran or self.on
        self.counts = owed is Owed.NOTHING or (owed is Owed.AT_FIRST and self.ran)
        self.late_s = max(tick.settings.service.lease_s, tick.decision.look_again_s or 0.0)
        self.rest_s = max(self.rest_s, pump.rest_s)
        self.longest_run_s = max(self.longest_run_s, pump.longest_run_s)
        return list(self._broken(tick, name))

    def _pass(self, now_s: float) -> None:
        """Count the time since the last look."""
        if self.on:
            self.on_s += now_s - self.seen_s
            self.doubted_on_s += max(now_s - max(self.seen_s, self.since_s + BELIEVED_S), 0.0)
        elif self.counts:
            self.off_s += min(now_s - self.seen_s, self.late_s)
        self.seen_s = now_s

    def _broken(self, tick: TickRecord, name: str) -> Iterator[str]:
        wet_s = tick.now_mono_s - self.since_s
        counted_s = self.on_s + self.off_s
        if wet_s <= BELIEVED_S:
            if self.off_s > MOST_OFF * counted_s + self.rest_s:
                yield f"P16: pump {name} stood for {self.off_s:.0f} s of {counted_s:.0f} s on a wet float"
        elif self.doubted_on_s > MOST_DOUBTED * (wet_s - BELIEVED_S) + self.longest_run_s:
            yield f"P3: pump {name} ran {self.doubted_on_s:.0f} s on a float wet for {wet_s:.0f} s"
        called = any(
            alarm.code is FaultCode.SUMP_NOT_EMPTYING and alarm.subject == name
            for alarm in tick.diagnosis.alarms
        )
        if wet_s >= CALLED_WITHIN_S and not called:
            yield f"P16: the float of {name} has been wet for {wet_s:.0f} s and nobody is called"
