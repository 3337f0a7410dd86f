"""From a finished tick to the messages about it. Pure: the same tick gives the same messages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from controller.decision.need import need_has_passed, nights_are_cold
from controller.diagnosis.heat_share import known_share
from controller.equipment import OutputId
from controller.faults import FAULTS, HOUR_S, FaultCode, Priority
from controller.physics.heat_index import heat_risk
from controller.readings.reading import Good, Missing, Why
from controller.record.summary_text import day_text, named
from controller.record.tally import LoopTally, PumpTally
from controller.telemetry import past, payloads
from controller.telemetry.blind_spots import not_monitored
from controller.telemetry.night_parts import tonight_parts
from controller.telemetry.said_parts import by_hand, emptiness, moment, rfc3339
from controller.units import temperature_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import tzinfo

    from controller.diagnosis.alarms import Alarm
    from controller.readings.reading import Reading
    from controller.record.tally import DayTally, MonthSummary
    from controller.record.tick import TickRecord

URGENCY: Mapping[Priority, payloads.Urgency] = {
    Priority.ACT_NOW: "act now",
    Priority.TODAY: "today",
    Priority.THIS_WEEK: "this week",
}
# No probe measures humidity. Among a crop that is watered it is about this in the heat. [practice]
ASSUMED_HUMIDITY = 70.0
TONIGHT_HOLDS_S = HOUR_S  # it is renewed four times as often
BELIEVED_FOR_PERIODS = 3  # a reader may miss two messages in a row before it calls the house silent


@dataclass(frozen=True, slots=True)
class Program:
    """What the messages say about the running program.

    Attributes:
        version: release, as people name it.
        boot_id: the kernel's name for this boot.
        started_mono_s: when the program started.
        settings_in_force: says which settings are in force, None if nobody knows.
        zone: in which people read the time of day, None for that of the board.
    """

    version: str
    boot_id: str
    started_mono_s: float
    settings_in_force: Callable[[], str] | None = None
    zone: tzinfo | None = None


def topic_root(site: str) -> str:
    """The first levels of every topic of a site."""
    return f"hypocaust/{site}"


def valid_for_s(tick: TickRecord) -> float:
    """How long a message that is repeated every ``publish_every_s`` may be taken for the present."""
    settings = tick.settings
    every_s = settings.service.tick_s
    if settings.mqtt is not None:
        every_s = max(every_s, settings.mqtt.publish_every_s)
    return BELIEVED_FOR_PERIODS * every_s


def build_status(
    tick: TickRecord, program: Program, *, valid_s: float, promises_broken: int | None = None
) -> payloads.Status:
    """Everything at a glance, true at this tick and for ``valid_s`` seconds after."""
    settings, seen = tick.settings, tick.snapshot
    alarms = tick.diagnosis.alarms
    return payloads.Status(
        at=rfc3339(seen.wall_utc),
        seq=tick.seq,
        valid_for_s=valid_s,
        site=settings.site.name,
        title=settings.site.title,
        unit=settings.site.show.value,
        clock_set=seen.wall_utc is not None,
        house=payloads.House(
            ceiling=_measured(seen.ceiling, tick),
            bench=_measured(seen.bench, tick),
            outdoor=_measured(seen.outdoor, tick),
            people=_heat_for_people(tick),
        ),
        learned=_learned(tick),
        advice=_advice(tick, program),
        loops=[payloads.LoopParts.model_validate(_loop(tick, name)) for name in settings.loops],
        sumps=[payloads.SumpParts.model_validate(_sump(tick, name)) for name in settings.sumps],
        signals=[_signal(tick, output) for output in settings.derived.signals],
        alarms=[_status_alarm(alarm, tick) for alarm in alarms[: payloads.MOST_ALARMS]],
        alarms_left_out=max(len(alarms) - payloads.MOST_ALARMS, 0),
        today=payloads.DaySums.model_validate(_day_sums(tick.today)),
        not_monitored=list(
            not_monitored(settings, tick.diagnosis.evidence.outlets)[: payloads.MOST_BLIND_SPOTS]
        ),
        by_hand=by_hand(tick),
        tonight=tonight_parts(tick),
        **emptiness(tick),
        promises_broken=promises_broken,
        settings=None if program.settings_in_force is None else program.settings_in_force(),
        version=program.version,
        uptime_s=_since(program.started_mono_s, tick),
        at_mono_s=round(tick.now_mono_s, 2),
        boot_id=program.boot_id,
    )


def build_temperature(tick: TickRecord, probe: str) -> payloads.Temperature:
    """The message about one probe."""
    fitted = tick.settings.probes[probe]
    reading = tick.snapshot.probes.get(probe, Missing(Why.NEVER_READ, tick.now_mono_s))
    return payloads.Temperature.model_validate(
        _head(tick)
        | _measured(reading, tick).model_dump()
        | {"probe": probe, "place": fitted.place, "loop": fitted.loop}
    )


def build_loop(tick: TickRecord, loop: str) -> payloads.LoopReport:
    """The message about one loop."""
    return payloads.LoopReport.model_validate(_head(tick) | _loop(tick, loop))


def build_sump(tick: TickRecord, sump: str) -> payloads.SumpReport:
    """The message about one sump."""
    return payloads.SumpReport.model_validate(_head(tick) | _sump(tick, sump))


def build_alarms(tick: TickRecord) -> dict[FaultCode, payloads.AlarmReport]:
    """One message for every fault that has an active alarm, all its subjects in it."""
    active: dict[FaultCode, list[Alarm]] = {}
    for alarm in tick.diagnosis.alarms:
        if not alarm.muted:  # whoever is called by these messages is not to be called
            active.setdefault(alarm.code, []).append(alarm)
    return {
        code: payloads.AlarmReport.model_validate(
            _head(tick)
            | {"valid_for_s": None}
            | _alarm(alarms[0])
            | {"subjects": [_subject(alarm, tick) for alarm in alarms[: payloads.MOST_ALARMS]]}
        )
        for code, alarms in active.items()
    }


def build_day(tick: TickRecord, day: DayTally) -> payloads.Day:
    """The message about a finished day."""
    text = day_text(day, tick.settings.site.show, [named(alarm) for alarm in tick.diagnosis.alarms])
    return payloads.Day.model_validate(_head(tick) | {"valid_for_s": None} | _day_sums(day) | {"text": text})


def build_month(tick: TickRecord, month: MonthSummary) -> payloads.Month:
    """The message about a finished month."""
    own = {"month": str(month.sums.date)[:7], "text": month.text}
    return payloads.Month.model_validate(_head(tick) | {"valid_for_s": None} | _sums(month.sums) | own)


def build_year(tick: TickRecord, months: tuple[past.MonthSums, ...]) -> past.Year:
    """The message about the heat of the year."""
    return past.Year.model_validate(_head(tick) | {"valid_for_s": None, "months": list(months)})


def build_tonight(tick: TickRecord) -> payloads.Tonight:
    """The message about the night that comes or is in progress."""
    return payloads.Tonight.model_validate(
        _head(tick) | {"valid_for_s": TONIGHT_HOLDS_S} | tonight_parts(tick).model_dump()
    )


def _head(tick: TickRecord) -> dict[str, object]:
    return {"at": rfc3339(tick.snapshot.wall_utc), "seq": tick.seq, "valid_for_s": valid_for_s(tick)}


def _since(then_mono_s: float, tick: TickRecord) -> float:
    return round(max(tick.now_mono_s - then_mono_s, 0.0), 1)


def _measured(reading: Reading, tick: TickRecord) -> payloads.Measured:
    if isinstance(reading, Good):
        age_s = _since(reading.at_mono_s, tick)
        return payloads.Measured(temperature_c=round(reading.value, 2), why=None, age_s=age_s)
    return payloads.Measured(
        temperature_c=None, why=reading.why.value, age_s=_since(reading.since_mono_s, tick)
    )


def _heat_for_people(tick: TickRecord) -> str | None:
    """A warning for people; no alarm, because it asks for nothing but to stay out."""
    air = tick.snapshot.bench if isinstance(tick.snapshot.bench, Good) else tick.snapshot.ceiling
    if not isinstance(air, Good) or (risk := heat_risk(air.value, ASSUMED_HUMIDITY)) is None:
        return None
    return (
        f"Do not work in there now: {risk} risk of heat illness at "
        f"{temperature_text(air.value, tick.settings.site.show)}, with the air taken to be "
        f"{ASSUMED_HUMIDITY:.0f} % humid, because no probe measures that."
    )


def _learned(tick: TickRecord) -> payloads.Learned:
    need = tick.state.need
    coldest_c = need.coldest_c
    return payloads.Learned(
        coldest_lately_c=None if coldest_c is None else round(coldest_c, 1),
        nights_are_cold=nights_are_cold(need, tick.settings),
        nights_rising_k=round(need.passed_k, 1),
        need_has_passed=need_has_passed(need),
    )


def _advice(tick: TickRecord, program: Program) -> str | None:
    """Advice in words, with a time of day to the last five minutes if the clock is set."""
    given, now_utc = tick.diagnosis.advice, tick.snapshot.wall_utc
    if given is None:
        return None
    by = None
    if now_utc is not None:
        ends = (now_utc + timedelta(seconds=given.left_s)).astimezone(program.zone)
        by = f"{ends.hour:02}:{ends.minute // 5 * 5:02}"
    return given.sentence(tick.settings.site.show, by)


def _loop(tick: TickRecord, name: str) -> dict[str, object]:
    fan, output = tick.state.fans[name], OutputId.fan(name)
    command, probes = tick.decision.commands[output], tick.snapshot.loops[name]
    heat_w = tick.heat_w.get(name)
    share = known_share(tick.diagnosis.evidence.heat_shares[name])
    sums = tick.today.loops.get(name, LoopTally())
    return {
        "name": name,
        "fan_on": command.on,
        "reason": command.reason.sentence(tick.settings.site.show),
        "since_s": _since(tick.state.outputs[output].since_mono_s, tick),
        "demand": fan.demand.value if command.on and fan.demand is not None else None,
        "soil": _measured(probes.soil, tick),
        "root_zone": _measured(probes.root_zone, tick),
        "outlet": _measured(probes.outlet, tick),
        "heat_w": None if heat_w is None else float(round(heat_w)),
        "heat_why": _heat_why(command.on, heat_w),
        "proof": fan.proof.value,
        "lockouts": [lockout.value for lockout in fan.lockouts],
        "starts_today": sums.starts,
        "run_today_s": round(sums.run_s, 1),
        "electricity_today_j": round(sums.electricity_j),
        "banked_today_j": round(sums.banked_j),
        "returned_today_j": round(sums.returned_j),
        "response": None if share is None else round(share, 2),
    }


def _heat_why(fan_on: bool, heat_w: float | None) -> str | None:
    if heat_w is not None:
        return None
    return "outlet or ceiling cannot be read" if fan_on else "fan is off"


def _sump(tick: TickRecord, name: str) -> dict[str, object]:
    sump, output = tick.state.sumps[name], OutputId.pump(name)
    command, water = tick.decision.commands[output], tick.snapshot.sumps[name]
    sums = tick.today.pumps.get(name, PumpTally())
    usual_s = sump.trend.usual_s
    return {
        "name": name,
        "water": water.value.value if isinstance(water, Good) else "unknown",
        "why": None if isinstance(water, Good) else water.why.value,
        "water_age_s": _since(water.at_mono_s if isinstance(water, Good) else water.since_mono_s, tick),
        "pump_on": command.on,
        "phase": sump.phase.value,
        "reason": command.reason.sentence(tick.settings.site.show),
        "since_s": _since(tick.state.outputs[output].since_mono_s, tick),
        "usual_empty_s": None if usual_s is None else round(usual_s, 1),
        "lockouts": [lockout.value for lockout in sump.lockouts],
        "starts_today": sums.starts,
        "run_today_s": round(sums.run_s, 1),
        "electricity_today_j": round(sums.electricity_j),
    }


def _signal(tick: TickRecord, output: OutputId) -> payloads.SignalParts:
    command = tick.signals.commands.get(output)
    if command is None:
        undecided = "it could not be decided on, so it is off"
        return payloads.SignalParts(name=output.name, on=False, reason=undecided)
    reason = command.reason.sentence(tick.settings.site.show)
    return payloads.SignalParts(name=output.name, on=command.on, reason=reason)


def _alarm(alarm: Alarm) -> dict[str, object]:
    row = FAULTS[alarm.code]
    return {
        "code": alarm.code.value,
        "priority": URGENCY[alarm.priority],
        "cause": row.cause,
        "consequence": row.consequence,
        "action": row.action,
        "time_to_act_s": row.time_to_act_at_s(alarm.priority),
    }


def _subject(alarm: Alarm, tick: TickRecord) -> dict[str, object]:
    since_s = _since(alarm.since_mono_s, tick)
    now_utc = tick.snapshot.wall_utc
    return {
        "subject": alarm.subject,
        "detail": alarm.detail,
        "since": rfc3339(None if now_utc is None else now_utc - timedelta(seconds=since_s)),
        "since_s": since_s,
        "seen": alarm.seen,
        "seen_at": moment(alarm.seen_utc_s),
        "muted": alarm.muted,
    }


def _status_alarm(alarm: Alarm, tick: TickRecord) -> payloads.StatusAlarm:
    return payloads.StatusAlarm.model_validate(_alarm(alarm) | _subject(alarm, tick))


def _day_sums(day: DayTally) -> dict[str, object]:
    return {"date": day.date} | _sums(day)


def _sums(day: DayTally) -> dict[str, object]:
    loops, pumps = day.loops.items(), day.pumps.items()
    return {
        "covered_s": round(day.covered_s, 1),
        "air_min_c": None if day.air_min_c is None else round(day.air_min_c, 2),
        "air_max_c": None if day.air_max_c is None else round(day.air_max_c, 2),
        "electricity_j": round(day.electricity_j),
        "banked_j": round(day.banked_j),
        "returned_j": round(day.returned_j),
        "loops": [_loop_sums(name, tally) for name, tally in loops],
        "pumps": [_pump_sums(name, tally) for name, tally in pumps],
    }


def _loop_sums(name: str, tally: LoopTally) -> payloads.LoopSums:
    return payloads.LoopSums(
        name=name,
        starts=tally.starts,
        run_s=round(tally.run_s, 1),
        electricity_j=round(tally.electricity_j),
        banked_j=round(tally.banked_j),
        returned_j=round(tally.returned_j),
    )


def _pump_sums(name: str, tally: PumpTally) -> payloads.PumpSums:
    return payloads.PumpSums(
        name=name,
        starts=tally.starts,
        run_s=round(tally.run_s, 1),
        electricity_j=round(tally.electricity_j),
    )
