"""Decides after each tick which messages are due: changes at once, the rest from time to time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from controller.equipment import Kind
from controller.faults import ABOUT_THE_CROP, FaultCode
from controller.letters import visible_json
from controller.readings.said import Act
from controller.telemetry import build
from controller.telemetry.curves import TwoDays
from controller.telemetry.outbox import Letter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from controller.faults import Priority
    from controller.readings.reading import Level
    from controller.record.tally import MonthSummary
    from controller.record.tick import TickRecord
    from controller.telemetry.past import MonthSums
    from controller.telemetry.payloads import Message

TONIGHT_EVERY_S = 900.0
SOME, SURE = 0, 1  # MQTT quality of service: at most once, at least once


def _no_month() -> None:
    return None


class Post(Protocol):
    """Where letters go."""

    def put(self, letter: Letter) -> None:
        """Take a letter; returns at once."""

    def connections(self) -> int:
        """How many connections to the broker there have been so far."""


class Publisher:
    """Watches ticks and posts what is due; asking it never blocks.

    Args:
        post: where letters go.
        program: what to say about the program.
        promises_broken: how many safety rules were found broken so far, None if nobody counts.
        month: gives the last finished month, None until it is known.
    """

    def __init__(
        self,
        post: Post,
        program: build.Program,
        promises_broken: Callable[[], int] | None = None,
        month: Callable[[], MonthSummary | None] = _no_month,
    ) -> None:
        self._post = post
        self._program = program
        self._promises_broken = promises_broken
        self._month = month
        self._month_posted: MonthSummary | None = None
        self._connections_seen = -1
        self._last_all_s: float | None = None
        self._levels: dict[str, Level | None] = {}
        self._tonight: tuple[object, ...] = ()
        self._tonight_s: float | None = None
        self._posted: dict[tuple[FaultCode, str], tuple[Priority, bool, str]] = {}
        self._year: tuple[MonthSums, ...] = ()
        self._year_is_new = False
        self.two_days = TwoDays()

    def remember_year(self, months: tuple[MonthSums, ...]) -> None:
        """Post these sums with the next tick and at every new connection; may be called from any thread."""
        self._year, self._year_is_new = months, True

    def observe(self, tick: TickRecord) -> None:
        """Post what this tick makes due."""
        if tick.settings.mqtt is None:
            return
        for letter in self._due(tick):
            self._post.put(letter)

    def _due(self, tick: TickRecord) -> Iterator[Letter]:
        connections = self._post.connections()
        fresh, self._connections_seen = connections != self._connections_seen, connections
        everything = fresh or self._period_is_over(tick)
        if everything:
            self._last_all_s = tick.now_mono_s
        fans = {c.output.name for c in tick.decision.changes if c.output.kind is Kind.FAN}
        pumps = {c.output.name for c in tick.decision.changes if c.output.kind is Kind.PUMP}
        sumps = pumps | self._moved_levels(tick)
        altered = self._altered(tick, everything)
        yield from self._alarms(tick, altered, all_of_them=fresh and connections > 0)
        if tick.finished_day is not None:
            day = build.build_day(tick, tick.finished_day)
            yield _letter(tick, "day", day, qos=SURE, in_order=True)
        month = self._month()
        if month is not None and (fresh or month is not self._month_posted):
            self._month_posted = month
            yield _letter(tick, "month", build.build_month(tick, month), qos=SURE, retain=True, in_order=True)
        if everything or fans or sumps or tick.diagnosis.events or tick.diagnosis.notes or altered:
            yield self._status(tick)
        yield from self._outlook(tick, fresh)
        for name in tick.settings.loops if everything else fans:
            yield _letter(tick, f"loop/{name}", build.build_loop(tick, name))
        for name in tick.settings.sumps if everything else sumps:
            yield _letter(tick, f"sump/{name}", build.build_sump(tick, name))
        for name in tick.settings.probes if everything else ():
            yield _letter(tick, f"temperature/{name}", build.build_temperature(tick, name))
        yield from self._look_back(tick, fresh=fresh)

    def _look_back(self, tick: TickRecord, *, fresh: bool) -> Iterator[Letter]:
        """The last two days and the year: when there is news, and for a broker that may have lost them."""
        news = self.two_days.note(tick)
        if (news or fresh) and (curves := self.two_days.message(tick)) is not None:
            yield _letter(tick, "curves", curves, qos=SURE, retain=True)
        if self._year and (self._year_is_new or fresh):
            self._year_is_new = False
            yield _letter(tick, "year", build.build_year(tick, self._year), qos=SURE, retain=True)

    def _altered(self, tick: TickRecord, words_too: bool) -> set[FaultCode]:
        """Alarms that say something else than what was posted last.

        One that is over or urgent now counts at once; new words alone wait for the period, and are no news of
        an alarm that somebody has seen.
        """
        altered = set()
        posted = {}
        for alarm in tick.diagnosis.alarms:
            key, says = (alarm.code, alarm.subject), (alarm.priority, alarm.over, alarm.detail)
            before = posted[key] = self._posted.get(key, says)
            if says[:2] != before[:2] or (words_too and says != before and not alarm.quiet):
                altered.add(alarm.code)
                posted[key] = says
        self._posted = posted
        return altered

    def _period_is_over(self, tick: TickRecord) -> bool:
        if self._last_all_s is None or tick.settings.mqtt is None:
            return True
        # A tick that comes a moment early must not push everything back by a whole tick.
        slack_s = tick.settings.service.tick_s / 2
        return tick.now_mono_s - self._last_all_s >= tick.settings.mqtt.publish_every_s - slack_s

    def _moved_levels(self, tick: TickRecord) -> set[str]:
        levels = {name: getattr(reading, "value", None) for name, reading in tick.snapshot.sumps.items()}
        moved = {name for name, level in levels.items() if level is not self._levels.get(name)}
        self._levels = levels
        return moved

    def _status(self, tick: TickRecord) -> Letter:
        broken = None if self._promises_broken is None else self._promises_broken()
        valid_s = build.valid_for_s(tick)
        status = build.build_status(tick, self._program, valid_s=valid_s, promises_broken=broken)
        return _letter(tick, "status", status, qos=SURE, retain=True)

    def _outlook(self, tick: TickRecord, fresh: bool) -> Iterator[Letter]:
        """The outlook on the night: from time to time, and when it says something else."""
        evening = tick.diagnosis.evidence.evening
        given = evening.nights.given
        says = (getattr(evening.expected, "heater", evening.expected), given and given.low_c)
        waited_s = None if self._tonight_s is None else tick.now_mono_s - self._tonight_s
        if fresh or waited_s is None or waited_s >= TONIGHT_EVERY_S or says != self._tonight:
            self._tonight, self._tonight_s = says, tick.now_mono_s
            yield _letter(tick, "tonight", build.build_tonight(tick), qos=SURE, retain=True)

    def _alarms(self, tick: TickRecord, altered: set[FaultCode], *, all_of_them: bool) -> Iterator[Letter]:
        """Alarms that changed; after a new connection all, so that the broker forgets those long gone.

        Deletions come first and the most urgent alarm last: an outbox too small for all drops the oldest.
        """
        codes = {event.alarm.code for event in tick.diagnosis.events} | altered
        if any(note.act is Act.EMPTY for note in tick.diagnosis.notes):
            codes |= ABOUT_THE_CROP  # muted from now on, so the broker is to forget them
        if all_of_them:
            codes = set(FaultCode)
        if not codes:
            return
        active = build.build_alarms(tick)
        for code in codes - active.keys():
            yield _letter(tick, f"alarm/{code.value}", None, qos=SURE, retain=True, in_order=True)
        for code in reversed([code for code in active if code in codes]):
            yield _letter(tick, f"alarm/{code.value}", active[code], qos=SURE, retain=True, in_order=True)


def _letter(
    tick: TickRecord,
    ending: str,
    message: Message | None,
    *,
    qos: int = SOME,
    retain: bool = False,
    in_order: bool = False,
) -> Letter:
    return Letter(
        topic=f"{build.topic_root(tick.settings.site.name)}/{ending}",
        payload=b"" if message is None else visible_json(message.model_dump_json()).encode(),
        qos=qos,
        retain=retain,
        expires_s=None if message is None else message.valid_for_s,
        in_order=in_order,
        seq=tick.seq,
    )
