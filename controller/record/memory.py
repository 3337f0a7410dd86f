"""What must outlive a restart, as plain data: motor limits, drain-down, latches, what has been learned.

Every state that ``decide`` can reach is kept: no range here is narrower than what the readings may be.
Should one part be refused all the same, it alone is put aside, which after a restart is unknown history.

Times are kept as ages, because a monotonic time means nothing in another boot. After a restart within the
same boot the ages have grown by the time in between; after a reboot nobody knows how long the power was off,
so they are taken not to have grown at all. What the card has may besides be older than the stop, if the card
had failed: after a reboot every motor rests first and every tube counts as just drained, whatever was kept.
Every limit then holds at least as long as promised.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, ValidationError

from controller.decision.state import (
    PumpPhase,
)
from controller.diagnosis.heat_share import LEAST_SHARE, MOST_SHARE
from controller.diagnosis.tonight import NIGHTS_KEPT
from controller.equipment import Kind
from controller.faults import DAY_S
from controller.readings.judge import RANGE_C
from controller.record.memory_nights import NightsKept, kept_nights

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import ControllerState, SumpState
    from controller.diagnosis.attendance import Attendance, Deadline
    from controller.diagnosis.evidence import Evidence
    from controller.diagnosis.tonight import Night


TEN_YEARS_S = 3653.0 * DAY_S  # no controller remembers longer
COLDEST_C = min(low_c for low_c, _ in RANGE_C.values())
HOTTEST_C = max(high_c for _, high_c in RANGE_C.values())
WIDEST_K = HOTTEST_C - COLDEST_C
LONGEST_DETAIL = 300
LATEST_UTC_S = 4_102_444_800.0  # the year 2100; no clock that is right shows more

Age = Annotated[float, Field(ge=0.0, le=TEN_YEARS_S, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=1_000_000)]
UtcSeconds = Annotated[float, Field(ge=0.0, le=LATEST_UTC_S, allow_inf_nan=False)]
Temperature = Annotated[float, Field(ge=COLDEST_C, le=HOTTEST_C)]
Hour = Annotated[float, Field(ge=0.0, le=24.0)]
Doubtful = Literal["start", "blind"] | None  # the values of Doubt
# What stands in for a number that is refused: not known, or for the stagger between motors a start just now.
UNKNOWN: Mapping[str, float | list[Any] | None] = {
    "coldest_c": None,
    "passed_k": 0.0,
    "fire_age_s": None,
    "last_start_age_s": 0.0,
    "empty_until": None,
    "nights": [],
    "night": None,
    "forecast": None,
}


class _Record(BaseModel):
    """Damaged numbers refuse the whole memory: starting with unknown history is the safe side."""

    model_config = ConfigDict(strict=True, extra="forbid")


class OutputKept(_Record):
    """One motor: whether it ran, since when, and its starts within the last hour."""

    on: bool
    age_s: Age
    start_ages_s: Annotated[list[Age], Field(max_length=100)]


class FanKept(_Record):
    """What a loop's fan has failed and learned."""

    failed_runs: Count
    back_off_left_s: Annotated[float, Field(ge=-TEN_YEARS_S, le=2.0 * DAY_S)] | None
    heat_share: Annotated[float, Field(ge=LEAST_SHARE, le=MOST_SHARE)] = 1.0
    heat_share_judged_s: Age = 0.0


class DryBeforeKept(_Record):
    """What was known of a float that was dry before it was lost."""

    age_s: Age
    water_age_s: Age
    doubt: Doubtful


class SumpKept(_Record):
    """One pit: its water, its pump's rest and what emptying usually takes."""

    wet_or_unknown: bool
    resting: bool
    water_age_s: Age
    unreadable_age_s: Age | None
    tries: Annotated[Count, Field(exclude=True)] = 0  # written by earlier versions, read by nothing
    usual_s: Age | None
    last_s: Age | None
    cycles: Count
    doubt: Doubtful = None
    dry_before: DryBeforeKept | None = None


class OutletKept(_Record):
    """What one outlet has shown."""

    moving_while_on_s: Age
    still_while_off_s: Age
    moving_while_off_s: Age
    other_moved_s: Age
    other_loop: Annotated[str, Field(max_length=100)]


class StartsKept(_Record):
    """What the starts of one fan have shown."""

    shown_age_s: Age
    moved_age_s: Age
    tried_age_s: Age
    still: Count
    other: Count
    other_loop: Annotated[str, Field(max_length=100)]


class ComparedKept(_Record):
    """What days of comparing have shown of one probe or loop."""

    usual: Annotated[float, Field(ge=-WIDEST_K, le=WIDEST_K)]
    lately: Annotated[float, Field(ge=-WIDEST_K, le=WIDEST_K)]
    days: Count
    off_days: Count
    sunny_days: Annotated[float, Field(ge=0.0, le=100.0)]


class WarmthKept(_Record):
    """What days of banking have shown of one loop's soil."""

    usual: Annotated[float, Field(ge=0.0, le=WIDEST_K)]
    days: Count
    idle_age_s: Age | None


class UsualNightKept(_Record):
    """How the house keeps its warmth with one number of running fans."""

    share: Annotated[float, Field(ge=-WIDEST_K, le=WIDEST_K)]
    roof_k: Annotated[float, Field(ge=-WIDEST_K, le=WIDEST_K)]
    looks: Count


class EndKept(_Record):
    """When something that was said ends: what is left of it, and the time of day in seconds since 1970."""

    left_s: Annotated[float, Field(ge=-TEN_YEARS_S, le=TEN_YEARS_S, allow_inf_nan=False)]
    utc_s: UtcSeconds | None


class SeenKept(_Record):
    """One alarm that somebody has seen."""

    level: Count
    age_s: Age
    at_utc_s: UtcSeconds | None
    until: EndKept | None


class PastNightKept(_Record):
    """What one night has shown."""

    low_c: Temperature
    evening_c: Temperature | None
    fall_k: Annotated[float, Field(ge=-WIDEST_K, le=WIDEST_K)] | None
    share: Annotated[float, Field(ge=0.0, le=1.0)] | None


class NightKept(_Record):
    """The night in progress; times as ages."""

    age_s: Age
    evening_c: Temperature | None
    soil_c: Temperature | None
    low_c: Temperature | None
    low_age_s: Age
    low_h: Hour | None
    outdoor_low_c: Temperature | None
    frozen_s: Age
    cold_s: Age
    announced_c: Annotated[float, Field(ge=COLDEST_C - WIDEST_K, le=HOTTEST_C)] | None
    limit_at_h: Hour
    by_clock: bool
    news: Count
    called: bool
    over: bool


class Memory(_Record):
    """Everything that outlives a restart."""

    version: Literal[1]
    saved_mono_s: FiniteFloat
    outputs: dict[str, OutputKept]
    fans: dict[str, FanKept]
    sumps: dict[str, SumpKept]
    fire: Annotated[str, Field(min_length=1, max_length=LONGEST_DETAIL)] | None
    fire_age_s: Age | None
    coldest_c: Annotated[float, Field(ge=COLDEST_C, le=HOTTEST_C)] | None
    passed_k: Annotated[float, Field(ge=0.0, le=WIDEST_K)] = 0.0
    last_start_age_s: Age
    outlets: dict[str, OutletKept] = {}
    probes: dict[str, ComparedKept] = {}
    shares: dict[str, ComparedKept] = {}
    starts: dict[str, StartsKept] = {}
    rests: dict[str, ComparedKept] = {}
    swings: dict[str, ComparedKept] = {}
    warmths: dict[str, WarmthKept] = {}
    house: dict[str, UsualNightKept] = {}
    seen: dict[str, SeenKept] = {}
    empty_until: EndKept | None = None
    done: dict[str, UtcSeconds] = {}
    nights: Annotated[list[PastNightKept], Field(max_length=NIGHTS_KEPT)] = []
    night: NightKept | None = None
    forecast: NightsKept | None = None


TABLES = (
    "outputs", "fans", "sumps", "outlets", "probes", "shares", "starts", "rests", "swings", "warmths",
    "house", "seen", "done",
)  # fmt: skip


class Kept(NamedTuple):
    """What can be written down of a state.

    Attributes:
        data: ready for JSON.
        refused: what had to be put aside, as people look for it, normally nothing.
    """

    data: dict[str, Any]
    refused: tuple[str, ...]


def to_memory(state: ControllerState, evidence: Evidence, now_mono_s: float) -> Kept:
    """The part of state and evidence that outlives a restart.

    Raises:
        ValidationError: not even the rest can be kept.
    """
    written = _written(state, evidence, now_mono_s)
    try:
        return Kept(_as_json(written), ())
    except ValidationError as problem:
        parts = sorted({_part(error["loc"]) for error in problem.errors(include_url=False)})
    for table, name in parts:
        if name:
            del written[table][name]
        elif table in UNKNOWN:
            written[table] = UNKNOWN[table]
    return Kept(_as_json(written), tuple(f"{table} {name}".strip() for table, name in parts))


def _as_json(written: dict[str, Any]) -> dict[str, Any]:
    return Memory.model_validate(written).model_dump(mode="json")


def _part(where: tuple[int | str, ...]) -> tuple[str, str]:
    """Which part of the memory a refused value belongs to: a table and a name in it, or a number alone."""
    table = str(where[0])
    return table, str(where[1]) if table in TABLES else ""


def _written(state: ControllerState, evidence: Evidence, now_mono_s: float) -> dict[str, Any]:
    fire = state.fire.latched_detail
    return {
        "version": 1,
        "saved_mono_s": now_mono_s,
        "outputs": {
            str(output): {
                "on": o.on,
                "age_s": now_mono_s - o.since_mono_s,
                "start_ages_s": [now_mono_s - at for at in o.starts_mono_s],
            }
            for output, o in state.outputs.items()
        },
        "fans": {
            name: {
                "failed_runs": fan.failed_runs,
                "back_off_left_s": None
                if fan.back_off_until_s is None
                else fan.back_off_until_s - now_mono_s,
                "heat_share": evidence.heat_shares[name].share,
                "heat_share_judged_s": evidence.heat_shares[name].judged_s,
            }
            for name, fan in state.fans.items()
        },
        "sumps": {name: _sump_memory(sump, now_mono_s) for name, sump in state.sumps.items()},
        "fire": None if fire is None else fire[:LONGEST_DETAIL],
        "fire_age_s": None if fire is None else now_mono_s - state.fire.latched_since_s,
        "coldest_c": state.need.coldest_c,
        "passed_k": state.need.passed_k,
        "last_start_age_s": now_mono_s - state.last_start_s,
        "outlets": {name: record._asdict() for name, record in evidence.outlets.records.items()},
        "probes": {name: record._asdict() for name, record in evidence.comparisons.records.items()},
        "shares": {name: record._asdict() for name, record in evidence.comparisons.shares.items()},
        "nights": [night._asdict() for night in evidence.tonight.nights],
        "night": _night_memory(evidence.tonight.night, now_mono_s),
        "forecast": kept_nights(evidence.evening.nights, now_mono_s),
        **_attendance_memory(evidence.attendance, now_mono_s),
        "rests": {name: record._asdict() for name, record in evidence.comparisons.rests.items()},
        "swings": {name: record._asdict() for name, record in evidence.comparisons.swings.items()},
        "warmths": {
            name: {
                "usual": warmth.usual,
                "days": warmth.days,
                "idle_age_s": None if warmth.idle_at_s is None else now_mono_s - warmth.idle_at_s,
            }
            for name, warmth in evidence.comparisons.warmths.items()
        },
        "house": {str(fans): usual._asdict() for fans, usual in evidence.house.usual.items()},
        "starts": {
            name: {
                "shown_age_s": now_mono_s - starts.shown_s,
                "moved_age_s": now_mono_s - starts.moved_s,
                "tried_age_s": now_mono_s - starts.tried_s,
                "still": starts.still,
                "other": starts.other,
                "other_loop": starts.other_loop,
            }
            for name, starts in evidence.starts.records.items()
        },
    }


def _attendance_memory(attendance: Attendance, now_mono_s: float) -> dict[str, Any]:
    def end(deadline: Deadline | None) -> dict[str, Any] | None:
        if deadline is None:
            return None
        return {"left_s": deadline.mono_s - now_mono_s, "utc_s": deadline.utc_s}

    return {
        "seen": {
            f"{code.value} {subject}": {
                "level": seen.level,
                "age_s": now_mono_s - seen.at_s,
                "at_utc_s": seen.at_utc_s,
                "until": end(seen.until),
            }
            for (code, subject), seen in attendance.seen.items()
        },
        "empty_until": end(attendance.empty_until),
        "done": dict(attendance.done),
    }


def _night_memory(night: Night | None, now_mono_s: float) -> dict[str, Any] | None:
    if night is None:
        return None
    kept = night._asdict()
    began_s, low_at_s = kept.pop("began_s"), kept.pop("low_at_s")
    return {**kept, "age_s": now_mono_s - began_s, "low_age_s": max(now_mono_s - low_at_s, 0.0)}


def _sump_memory(sump: SumpState, now_mono_s: float) -> dict[str, Any]:
    since_s, dry = sump.unreadable_since_s, sump.dry_before
    return {
        "wet_or_unknown": sump.wet_since_s is not None or since_s is not None,
        "resting": sump.phase is PumpPhase.RESTING,
        "water_age_s": now_mono_s - sump.last_water_s,
        "unreadable_age_s": None if since_s is None else now_mono_s - since_s,
        "usual_s": sump.trend.usual_s,
        "last_s": sump.trend.last_s,
        "cycles": sump.trend.cycles,
        "doubt": None if sump.doubt is None else sump.doubt.value,
        "dry_before": None
        if dry is None
        else {
            "age_s": now_mono_s - dry.at_s,
            "water_age_s": now_mono_s - dry.last_water_s,
            "doubt": None if dry.doubt is None else dry.doubt.value,
        },
    }


def worth_saving(before: ControllerState, after: ControllerState) -> bool:
    """Whether a tick changed anything that must outlive a restart right now (motors, latches, water)."""
    return worth_the_card(before, after) or any(
        after.outputs[output] is not old for output, old in before.outputs.items()
    )


def worth_the_card(before: ControllerState, after: ControllerState) -> bool:
    """Whether a tick changed anything that must outlive a power cut right now; each write wears the card.

    The stop of a fan can wait for the next regular write: after a reboot every motor rests first anyway, and
    a fan that the card still has running is only taken to have stopped with the power. The stop of a pump
    cannot: one that seems to have been cut is owed the long rest, while water may be waiting.
    """
    if before.fire.latched_detail != after.fire.latched_detail:
        return True
    for output, old in before.outputs.items():
        new = after.outputs[output]
        if new is not old and (new.on or output.kind is Kind.PUMP):
            return True
    return any(_water(after.sumps[name]) != _water(old) for name, old in before.sumps.items())


def _water(sump: SumpState) -> tuple[bool, bool]:
    return sump.wet_since_s is None, sump.unreadable_since_s is None
