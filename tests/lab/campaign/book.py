"""Who learned what, and when: detection of each fault, and alarms of houses in which nothing was wrong."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Any

from controller.faults import HOUR_S, FaultCode
from controller.simulator.plant.faults import ScriptedFault
from tests.lab.campaign.expected import EXPECTED

if TYPE_CHECKING:
    from controller.diagnosis.alarms import Alarm
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings
    from controller.simulator.plant.plant import SimulatedPlant
    from tests.lab.campaign.draw import Episode
    from tests.lab.campaign.troubles import Trouble

# An alarm that comes this long after a fault healed is still about it: on-delays end, runs are judged late.
LATE_S = 2 * HOUR_S
# A DS18B20 may be wrong by this much (data sheet), so an alarm this close to its limit is none too many.
PROBE_ERROR_K = 0.5
COLD = frozenset({FaultCode.FROST, FaultCode.FROST_IN_FLOOD})


class AlarmBook:
    """Follows the alarms of one episode."""

    def __init__(self, episode: Episode, settings: Settings, plant: SimulatedPlant) -> None:
        self._plant = plant
        self._healthy = episode.healthy
        self._entries = [_Entry(what, settings) for what in (*episode.faults, *episode.troubles)]
        self._standing: set[tuple[FaultCode, str]] = set()
        self._waiting = sorted(self._entries, key=lambda entry: entry.at_s)
        self.raised: Counter[str] = Counter()
        self.unfounded: Counter[str] = Counter()

    def restarted(self) -> None:
        """A new life begins without alarms."""
        self._standing.clear()

    def next_s(self) -> float:
        """When a fault begins next."""
        return self._waiting[0].at_s if self._waiting else math.inf

    def begin_due(self, now_s: float) -> None:
        """Faults that begin now; one whose alarm stands already looks like what raised it."""
        while self._waiting and self._waiting[0].at_s <= now_s:
            entry = self._waiting.pop(0)
            entry.begun = True
            entry.masked = any(entry.is_told_by(code, subject) for code, subject in self._standing)

    def observe(self, tick: TickRecord, now_s: float) -> None:
        """Take note of the alarms raised and cleared in a tick."""
        for event in tick.diagnosis.events:
            key = (event.alarm.code, event.alarm.subject)
            if not event.raised:
                self._standing.discard(key)
                continue
            self._standing.add(key)
            self.raised[key[0].value] += 1
            if self._healthy and not self._true(event.alarm, tick.settings):
                self.unfounded[key[0].value] += 1
            for entry in self._entries:
                entry.hear(key[0], key[1], now_s)

    def _true(self, alarm: Alarm, settings: Settings) -> bool:
        """Whether the house really is as cold or as hot as the alarm says."""
        house = self._plant.model.house
        if alarm.code in COLD:
            coldest_c = min(house.bench_c, house.ceiling_c)
            return bool(coldest_c <= settings.setpoints.frost_limit_c + PROBE_ERROR_K)
        if alarm.code is FaultCode.TOO_HOT:
            return bool(house.bench_c >= settings.setpoints.too_hot_c - PROBE_ERROR_K)
        return False

    def found(self, now_s: float) -> list[dict[str, Any]]:
        """Every fault that began: its kind, how long it lasted, and when an alarm reported it (s after)."""
        return [
            {
                "kind": entry.what.kind.value,
                "lasted_s": round(min(entry.until_s, now_s) - entry.at_s, 1),
                "masked": entry.masked,
                "told_s": None if entry.masked else entry.told_s,
            }
            for entry in self._entries
            if entry.begun
        ]


class _Entry:
    """One fault and whether it was told."""

    def __init__(self, what: ScriptedFault | Trouble, settings: Settings) -> None:
        self.what = what
        self.at_s, self.until_s = what.at_s, what.until_s
        self.begun = self.masked = False
        self.told_s: float | None = None
        self._codes = EXPECTED[what.kind]
        self._subjects = _subjects(what, settings)

    def is_told_by(self, code: FaultCode, subject: str) -> bool:
        """Whether such an alarm may be about this fault."""
        return code in self._codes and (self._subjects is None or subject in self._subjects)

    def hear(self, code: FaultCode, subject: str, now_s: float) -> None:
        """An alarm was raised."""
        if (
            self.told_s is None
            and self.at_s <= now_s <= self.until_s + LATE_S
            and self.is_told_by(code, subject)
        ):
            self.told_s = now_s - self.at_s


def _subjects(what: ScriptedFault | Trouble, settings: Settings) -> set[str] | None:
    """The alarms' subjects that fit a fault, None if any does."""
    if not isinstance(what, ScriptedFault) or not what.subject:
        return None
    names = {name for name in (what.subject, what.other) if name}
    probes = [settings.probes[name] for name in names if name in settings.probes]
    names |= {probe.loop for probe in probes if probe.loop is not None}
    places = {(probe.place, probe.loop) for probe in probes}  # the vote may blame a neighbour
    names |= {name for name, probe in settings.probes.items() if (probe.place, probe.loop) in places}
    return names | {""} | {f"{kind}:{name}" for name in names for kind in ("fan", "pump")}
