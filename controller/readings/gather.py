"""Gathers all samples of one tick into one snapshot of judged readings."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Final

from controller.faults import FaultCode, Finding
from controller.readings.debounce import Debounce
from controller.readings.judge import KINDS, SOIL_PLACES, ProbeJudge, limits_for
from controller.readings.reading import Missing, Why
from controller.readings.snapshot import LoopReadings, Snapshot
from controller.readings.swapped import SwapWatch
from controller.readings.vote import Ballot

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from controller.readings.reading import LevelReading, RawLevel, RawSample, Reading
    from controller.settings.schema import Judging, Settings

NOT_FITTED: Final = Missing(Why.NOT_FITTED, 0.0)
HOUSE_PLACES: Final = ("ceiling", "bench", "outdoor")
LOOP_PLACES: Final = ("soil", "root-zone", "outlet")
SEVERAL: Final = 2
# Troubles that a bus can cause; the others belong to one probe alone.
BUS_CAUSES: Final = frozenset(
    {Why.SILENT, Why.NOISY, Why.POWER_ON, Why.NO_POWER, Why.ALL_ZERO, Why.STALE, Why.NEVER_READ}
)
BUS_SHORTED: Final = Finding(FaultCode.BUS, detail="several probes answer with nothing but zeros at once")
BUS_LOST: Final = Finding(FaultCode.BUS, detail="all probes failed together")
PROBE_WORDS: Final = {
    **{why: why.value for why in Why},
    Why.NOISY: "answers with damaged data, or not at all, too often",
}
SWAPPED: Final = "moves with the day more than the ceiling does (probes swapped?)"


class _Place:
    """The probes of one place (and loop) and their vote; a single probe speaks for its place."""

    __slots__ = ("_findings", "ballot", "changed", "judges", "names", "reading", "soil")

    def __init__(self, place: str, judges: Mapping[str, ProbeJudge]) -> None:
        self.names = tuple(judges)
        self.judges = tuple(judges.values())
        self.soil = place in SOIL_PLACES
        self.ballot = Ballot() if len(judges) > 1 else None
        self.reading: Reading = NOT_FITTED
        self.changed = True
        self._findings = tuple(
            Finding(FaultCode.PROBE, name, PROBE_WORDS[Why.OUTVOTED]) for name in self.names
        )

    def vote(self, ballot: Ballot, judging: Judging, now_mono_s: float) -> None:
        """Let the probes vote anew."""
        self.changed = False
        readings = [judge.reading or NOT_FITTED for judge in self.judges]
        hold_s = judging.soil_hold_s if self.soil else judging.air_hold_s
        self.reading = ballot.count(readings, judging.vote_spread_k, hold_s, now_mono_s)

    def outvoted(self) -> Sequence[Finding]:
        """One finding for every probe that the vote does not agree with."""
        return [self._findings[position] for position in self.ballot.dropped] if self.ballot else ()


class Gatherer:
    """Remembers what judging needs from tick to tick and makes each tick's snapshot.

    It is called twice a minute or more for years, and half a million times in a rehearsed year, so it
    works only on what changed: readings, votes and mappings of the last snapshot are used again where
    they still hold.

    Args:
        settings: which probes, loops and sumps there are.
    """

    def __init__(self, settings: Settings) -> None:
        self._judging = settings.judging
        self._kinds_of_place = {name: probe.place for name, probe in settings.probes.items()}
        self._judges = {
            name: ProbeJudge(limits_for(probe.place, settings.judging), probe.offset_k)
            for name, probe in settings.probes.items()
        }
        for name, judge in self._judges.items():
            kind = KINDS[settings.probes[name].place]
            judge.kin = tuple(
                other
                for other_name, other in self._judges.items()
                if other is not judge and KINDS[settings.probes[other_name].place] == kind
            )
        self._house = {place: self._place(settings, place, None) for place in HOUSE_PLACES}
        self._loops = {
            loop: tuple(self._place(settings, place, loop) for place in LOOP_PLACES)
            for loop in settings.loops
        }
        places = [*self._house.values(), *(place for three in self._loops.values() for place in three)]
        self._places = tuple(place for place in places if place is not None)
        self._votes = tuple((place, place.ballot) for place in self._places if place.ballot is not None)
        home = {name: place for place in self._places for name in place.names}
        self._rows = tuple((name, judge, home.get(name)) for name, judge in self._judges.items())
        self._last_samples: list[RawSample | None] = [None] * len(self._rows)
        self._floats = {
            name: Debounce(sump.wet_after_s, sump.dry_after_s) for name, sump in settings.sumps.items()
        }
        self._soils = {loop: three[0] for loop, three in self._loops.items() if three[0] is not None}
        self._swaps = SwapWatch(tuple(self._soils))
        self._probe_readings: Mapping[str, Reading] = {}
        self._loop_readings: Mapping[str, LoopReadings] = {}
        self._probe_findings: tuple[Finding, ...] = ()

    def _place(self, settings: Settings, place: str, loop: str | None) -> _Place | None:
        """The probes of a place, None without any."""
        names = settings.probe_names(place, loop)
        return _Place(place, {name: self._judges[name] for name in names}) if names else None

    @property
    def settles_at_mono_s(self) -> float | None:
        """When the next float level will count if nothing more happens, so that a tick can be made then."""
        due_s = None
        for one in self._floats.values():
            settles_s = one.settles_at_mono_s
            if settles_s is not None and (due_s is None or settles_s < due_s):
                due_s = settles_s
        return due_s

    def gather(
        self,
        raw: Mapping[str, RawSample],
        levels: Mapping[str, list[RawLevel]],
        now_mono_s: float,
        judging: Judging,
        *,
        findings: tuple[Finding, ...] = (),
        cleared: frozenset[FaultCode] = frozenset(),
        wall_utc: datetime | None = None,
        hour: float | None = None,
    ) -> Snapshot:
        """Judge everything that was seen and put it together.

        Args:
            raw: newest sample of every probe, by name.
            levels: looks at every float since the last call, by sump name, oldest first.
            now_mono_s: now.
            judging: what to judge by; may differ from tick to tick.
            findings: what others found wrong, handed on.
            cleared: faults a person has cleared, handed on.
            wall_utc: date and time for people, handed on.
            hour: of the day at the place of the house, handed on.
        """
        if judging is not self._judging:
            self._judge_by(judging)
        changed = self._judge_probes(raw, now_mono_s)
        if changed:
            self._probe_readings = {name: judge.reading or NOT_FITTED for name, judge in self._judges.items()}
        if self._vote(now_mono_s) or changed:
            self._loop_readings = {
                loop: LoopReadings(*[place.reading if place else NOT_FITTED for place in three])
                for loop, three in self._loops.items()
            }
            self._watch_for_swaps(now_mono_s)
        sumps = {name: one.judge(levels.get(name, ()), now_mono_s) for name, one in self._floats.items()}
        ceiling, bench, outdoor = self._house.values()
        return Snapshot(
            ceiling.reading if ceiling else NOT_FITTED,
            bench.reading if bench else NOT_FITTED,
            outdoor.reading if outdoor else NOT_FITTED,
            self._loop_readings,
            sumps,
            self._probe_readings,
            (*self._probe_findings, *self._float_findings(sumps), *findings),
            cleared,
            wall_utc,
            hour,
        )

    def _judge_by(self, judging: Judging) -> None:
        """Judge by new settings from now on, samples that are already there as well."""
        self._judging = judging
        for name, judge in self._judges.items():
            judge.limits = limits_for(self._kinds_of_place[name], judging)
            judge.settled_until_s = -inf
        for place in self._places:
            place.changed = True

    def _judge_probes(self, raw: Mapping[str, RawSample], now_mono_s: float) -> bool:
        """Judge what has news; return whether any reading changed."""
        changed = False
        troubled = False
        samples = self._last_samples
        for position, (name, judge, place) in enumerate(self._rows):
            sample = raw.get(name)
            if sample is samples[position] and now_mono_s <= judge.settled_until_s:
                continue
            samples[position] = sample
            before, trouble, last_why = judge.reading, judge.trouble, judge.last_why
            reading = judge.judge(sample, now_mono_s)
            if reading is not before:
                changed = True
                if place is not None:
                    place.reading = reading
                    place.changed = True
            if judge.trouble is not trouble or judge.last_why is not last_why:
                troubled = True
        if troubled:
            self._probe_findings = self._find()
        return changed

    def _vote(self, now_mono_s: float) -> bool:
        """Vote where a probe's reading changed; return whether any place did."""
        changed = False
        for place, ballot in self._votes:
            if place.changed or now_mono_s > ballot.settled_until_s:
                dropped = ballot.dropped
                place.vote(ballot, self._judging, now_mono_s)
                changed = True
                if ballot.dropped != dropped:
                    self._probe_findings = self._find()
        return changed

    def _watch_for_swaps(self, now_mono_s: float) -> None:
        """Compare soils and ceiling, where there is one."""
        ceiling = self._house["ceiling"]
        if ceiling is not None:
            soils = {loop: place.reading for loop, place in self._soils.items()}
            if self._swaps.watch(ceiling.reading, soils, now_mono_s):
                self._probe_findings = self._find()

    def _find(self) -> tuple[Finding, ...]:
        """What is wrong with the probes and their bus; a fault of the bus hides what it explains."""
        judges = self._judges
        zeros = sum(judge.last_why is Why.ALL_ZERO for judge in judges.values())
        lost = sum(judge.trouble in BUS_CAUSES for judge in judges.values())
        bus: tuple[Finding, ...] = ()
        if zeros >= SEVERAL:
            bus = (BUS_SHORTED,)
        elif lost == len(judges) >= SEVERAL:
            bus = (BUS_LOST,)
        own = [
            Finding(FaultCode.PROBE, name, PROBE_WORDS[judge.trouble])
            for name, judge in judges.items()
            if judge.trouble is not None and not (bus and judge.trouble in BUS_CAUSES)
        ]
        outvoted = [finding for place in self._places for finding in place.outvoted()]
        swapped = [
            Finding(FaultCode.PROBE, self._soils[loop].names[0], SWAPPED) for loop in self._swaps.suspects
        ]
        # One finding a probe, the plainest: what it does itself, then what the others say about it.
        by_probe = {finding.subject: finding for finding in (*swapped, *outvoted, *own)}
        return (*bus, *by_probe.values())

    def _float_findings(self, sumps: Mapping[str, LevelReading]) -> list[Finding]:
        """Floats that cannot be read or that bounce."""
        found = []
        for name, one in self._floats.items():
            level = sumps[name]
            if isinstance(level, Missing) and level.why is not Why.NEVER_READ:
                found.append(Finding(FaultCode.FLOAT, name, level.why.value))
            elif one.chatters:
                found.append(Finding(FaultCode.FLOAT_CHATTER, name, "bounces between wet and dry"))
        return found
