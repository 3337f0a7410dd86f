"""One replay: recorded days through the controller's own loop, at most a minute a tick."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from controller.decision.decide import initial_state
from controller.decision.demand import heat_rule
from controller.decision.need import updated_need
from controller.decision.state import Need
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.heat_share import known_share
from controller.equipment import Kind, OutputId
from controller.errors import HypocaustError
from controller.loop import ControlLoop, Parts
from controller.readings.gather import Gatherer
from controller.record.accounting import day_of, hour_of
from controller.record.memory import to_memory
from controller.replay.parts import RecordedFloats, RecordedProbes, ReplayClock, Unswitched
from controller.replay.record import recorded, samples, with_switchings
from controller.service.logs import silenced

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from controller.decision.command import OutputChange
    from controller.history.queries import History, Sample
    from controller.record.tally import DayTally
    from controller.record.tick import TickRecord
    from controller.replay.record import Recorded
    from controller.settings.schema import Settings

TICK_S = 60.0
# What loops and outlets have shown settles in about this time; a tick at each reading is enough. [practice]
WARM_UP = timedelta(days=14)
# The season's coldest night counts for about this long (decision/need.py).
SEASON = timedelta(days=150)
BEFORE = "before"  # in place of a date, for days that only serve to warm up


class OtherHouseError(HypocaustError):
    """The settings are of a house that is wired otherwise; the text says what differs."""


@dataclass(frozen=True, slots=True)
class Happened:
    """A switching of the replay and its time."""

    at_utc: datetime
    change: OutputChange


@dataclass(slots=True)
class Agreement:
    """How far the fans did the same as in the record, in loop-seconds.

    Attributes:
        played_s: time that was compared, of all loops together.
        same_s: of that, with the fan in the same state.
        either_s: time in which the fan ran here or there.
        both_s: time in which it ran here and there.
    """

    played_s: float = 0.0
    same_s: float = 0.0
    either_s: float = 0.0
    both_s: float = 0.0

    @property
    def same(self) -> float:
        """Share of the time with the same state, 0 to 1."""
        return self.same_s / self.played_s if self.played_s else 1.0

    @property
    def of_running(self) -> float:
        """Of the time in which a fan ran here or there, the share in which it ran in both."""
        return self.both_s / self.either_s if self.either_s else 1.0


@dataclass(slots=True)
class Played:
    """A finished replay.

    Attributes:
        days: the sums of each day, as the controller keeps them; heat is that of the outlets.
        changes: every switching of a fan or pump.
        agreement: with the record.
        ran_s: how long each fan ran in the record, by date and loop.
        started: how often it started there, by date and loop.
        stops: how often the program stopped or started anew in the record.
    """

    days: list[DayTally] = field(default_factory=list)
    changes: list[Happened] = field(default_factory=list)
    agreement: Agreement = field(default_factory=Agreement)
    ran_s: dict[tuple[str, str], float] = field(default_factory=dict)
    started: dict[tuple[str, str], int] = field(default_factory=dict)
    stops: int = 0


def same_wiring(one: Settings, other: Settings) -> None:
    """Make sure that two settings are of one house.

    Raises:
        OtherHouseError: they name other loops, sumps or probes.
    """

    def probes(settings: Settings) -> dict[str, tuple[str, str | None]]:
        return {name: (probe.place, probe.loop) for name, probe in settings.probes.items()}

    def names(of_house: Iterable[object]) -> set[str]:
        return {str(name) for name in of_house}

    for what, first, second in (
        ("loops", names(one.loops), names(other.loops)),
        ("sumps", names(one.sumps), names(other.sumps)),
        ("probes", names(one.probes), names(other.probes)),
        ("places of probes", names(probes(one).items()), names(probes(other).items())),
    ):
        if differing := sorted(first ^ second):
            raise OtherHouseError(
                f"The two files differ in their {what}: {', '.join(differing)}. A replay compares setpoints "
                "and times of one house: start from a copy of its own file"
            )


def replay(
    history: History, settings: Settings, other: Settings | None, from_utc: datetime, to_utc: datetime
) -> Played:
    """Play recorded days.

    Args:
        history: the record.
        settings: in force while it warms up on the days before, and afterwards if there are no others.
        other: in force for the days that are shown, taken over as the daemon takes them over while it runs.
        from_utc: first moment that is shown.
        to_utc: first moment after.

    Raises:
        StorageError: the record cannot be read.
    """
    record = recorded(history, from_utc - WARM_UP, to_utc)
    with silenced():
        return _Player(history, record, settings, from_utc, to_utc).play(other)


class _Player:
    """Takes the loop through recorded time."""

    def __init__(
        self, history: History, record: Recorded, settings: Settings, from_utc: datetime, to_utc: datetime
    ) -> None:
        read = samples(history, from_utc - WARM_UP, to_utc)
        found = with_switchings(read, record.changes, settings)
        first = next(found, None)
        began_utc = from_utc if first is None else first.when.at_utc
        self._record = record
        self._from_utc = from_utc
        self._from_s, self._to_s = from_utc.timestamp(), to_utc.timestamp()
        self._settings = settings
        self._clock = ReplayClock(began_utc)
        self._outputs = Unswitched()
        self._probes = RecordedProbes(_with(first, found), record, self._clock, self._outputs, settings)
        self._floats = RecordedFloats(record, settings.sumps, self._clock)
        self._played = Played(stops=record.stops)
        self._ran_before = dict.fromkeys(settings.loops, False)
        need = _need_before(history, settings, began_utc)
        fresh = initial_state(settings, self._clock.at_s)._replace(need=need)
        kept = to_memory(fresh, no_evidence(settings.loops, self._clock.at_s), self._clock.at_s)
        self._loop = ControlLoop(
            Parts(
                self._clock,
                lambda: self._settings,
                Gatherer(settings),
                self._probes,
                self._floats,
                self._outputs,
                rule=heat_rule,
                date_of=self._date_of,
                hour_of=lambda wall_utc: None if wall_utc is None else hour_of(wall_utc.astimezone()),
                tick_s=TICK_S,
            ),
            (kept.data, True),
        )

    def play(self, other: Settings | None) -> Played:
        """Tick from the first reading to the end."""
        clock, loop = self._clock, self._loop
        tick = None
        while clock.at_s < self._to_s:
            if other is not None and clock.at_s >= self._from_s and self._settings is not other:
                self._settings = other
                self._probes.use(other)
            tick = loop.tick()
            pause_s = self._pause_s(tick)
            if clock.at_s >= self._from_s:
                self._note(tick, pause_s)
            clock.advance(pause_s)
        days = self._played.days
        if tick is not None and tick.today.date not in (BEFORE, None):
            days.append(tick.today)
        return self._played

    def _pause_s(self, tick: TickRecord) -> float:
        """Until the next tick is due: no reading and no turn of a float is passed over, but a gap is."""
        now_s = self._clock.at_s
        due_s = now_s + max(self._loop.pause_s(tick), 0.001)
        reading_s = self._probes.next_reading_s()
        if now_s < self._from_s and reading_s is not None:
            due_s = reading_s
        if self._probes.in_a_gap(now_s) and not any(self._outputs.on.values()):
            due_s = max(due_s, self._to_s if reading_s is None else reading_s)
        for moment_s in (reading_s, self._floats.next_turn_s(), self._from_s, self._to_s):
            if moment_s is not None and moment_s > now_s:
                due_s = min(due_s, moment_s)
        return due_s - now_s

    def _note(self, tick: TickRecord, pause_s: float) -> None:
        """Account for a tick and the time after it."""
        played, now_s = self._played, self._clock.at_s
        if tick.finished_day is not None and tick.finished_day.date != BEFORE:
            played.days.append(tick.finished_day)
        at_utc = self._clock.wall_utc()
        played.changes += [
            Happened(at_utc, change)
            for change in tick.decision.changes
            if change.output.kind is not Kind.SIGNAL
        ]
        in_gap = self._probes.in_a_gap(now_s)
        date = self._date_of(at_utc) or ""
        for name in self._settings.loops:
            share = known_share(tick.diagnosis.evidence.heat_shares[name])
            if share is not None:
                self._probes.shares[name] = share
            here = tick.decision.commands[OutputId.fan(name)].on
            line = self._record.outputs.get(str(OutputId.fan(name)))
            there = line is not None and line.at(now_s + pause_s / 2.0, otherwise=False) is True
            if there:
                played.ran_s[date, name] = played.ran_s.get((date, name), 0.0) + pause_s
                if not self._ran_before[name]:
                    played.started[date, name] = played.started.get((date, name), 0) + 1
            self._ran_before[name] = there
            if not in_gap:
                agreement = played.agreement
                agreement.played_s += pause_s
                agreement.same_s += pause_s if here is there else 0.0
                agreement.either_s += pause_s if here or there else 0.0
                agreement.both_s += pause_s if here and there else 0.0

    def _date_of(self, wall_utc: datetime | None) -> str | None:
        """The day at the place of this machine; the time that only warms up has none of its own."""
        if wall_utc is None or wall_utc < self._from_utc:
            return BEFORE
        return day_of(wall_utc.astimezone())


def _need_before(history: History, settings: Settings, until_utc: datetime) -> Need:
    """What the house had learned of its season by a moment, from the air among its crop."""
    names = settings.probe_names("bench") or settings.probe_names("ceiling")
    need = Need()
    for sample in samples(history, until_utc - SEASON, until_utc):
        read_c = [value for name in names if isinstance(value := sample.values.get(name), float)]
        if read_c:
            need = updated_need(need, sum(read_c) / len(read_c), sample.when.at_utc.timestamp())
    return need


def _with(first: Sample | None, rest: Iterator[Sample]) -> Iterator[Sample]:
    if first is not None:
        yield first
    yield from rest


def midnight_before(moment_utc: datetime) -> datetime:
    """The midnight of this machine that begins the day of a moment."""
    local = moment_utc.astimezone().replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    return local.astimezone(UTC)
