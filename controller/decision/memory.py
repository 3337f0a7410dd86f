"""What must outlive a restart, as plain data: motor limits, drain-down, latches, what has been learned.

Times are kept as ages, because a monotonic time means nothing in another boot. After a restart within the
same boot the ages have grown by the time in between; after a reboot nobody knows how long the power was off,
so they are taken not to have grown at all. What the card has may besides be older than the stop, if the card
had failed: after a reboot every motor rests first and every tube counts as just drained, whatever was kept.
Every limit then holds at least as long as promised.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, ValidationError

from controller.decision.command import PUMP, OutputId
from controller.decision.outlet_signs import OutletSigns, OutletWatch
from controller.decision.outlets import tells
from controller.decision.probe_records import Record
from controller.decision.response import LEAST_SHARE, MOST_SHARE, Response
from controller.decision.state import EmptyingTrend, FireState, Need, OutputState, PumpPhase
from controller.faults import DAY_S

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import ControllerState, SumpState


TEN_YEARS_S = 3653.0 * DAY_S  # no controller remembers longer

Age = Annotated[float, Field(ge=0.0, le=TEN_YEARS_S, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=1_000_000)]


class _Record(BaseModel):
    """Damaged numbers refuse the whole memory: starting with unknown history is the safe side."""

    model_config = ConfigDict(strict=True, extra="forbid")


class _Output(_Record):
    on: bool
    age_s: Age
    start_ages_s: Annotated[list[Age], Field(max_length=100)]


class _Fan(_Record):
    failed_runs: Count
    back_off_left_s: Annotated[float, Field(ge=-TEN_YEARS_S, le=2.0 * DAY_S)] | None
    response_share: Annotated[float, Field(ge=LEAST_SHARE, le=MOST_SHARE)] = 1.0
    response_judged_s: Age = 0.0


class _Sump(_Record):
    wet_or_unknown: bool
    resting: bool
    water_age_s: Age
    unreadable_age_s: Age | None
    tries: Count
    usual_s: Age | None
    last_s: Age | None
    cycles: Count


class _Outlet(_Record):
    moving_s: Age
    still_s: Age
    unasked_s: Age
    swapped_s: Age
    answers: Annotated[str, Field(max_length=100)]


class _Compared(_Record):
    usual: Annotated[float, Field(ge=-300.0, le=300.0)]
    lately: Annotated[float, Field(ge=-300.0, le=300.0)]
    days: Count
    off_days: Count
    sunny_days: Annotated[float, Field(ge=0.0, le=100.0)]


class _Memory(_Record):
    version: Literal[1]
    saved_mono_s: FiniteFloat
    outputs: dict[str, _Output]
    fans: dict[str, _Fan]
    sumps: dict[str, _Sump]
    fire: Annotated[str, Field(min_length=1, max_length=300)] | None
    fire_age_s: Age | None
    coldest_c: Annotated[float, Field(ge=-90.0, le=90.0)] | None
    last_start_age_s: Age
    outlets: dict[str, _Outlet] = {}
    probes: dict[str, _Compared] = {}
    shares: dict[str, _Compared] = {}


def to_memory(state: ControllerState, now_mono_s: float) -> dict[str, Any]:
    """The part of the state that outlives a restart, ready for JSON."""
    memory = _Memory(
        version=1,
        saved_mono_s=now_mono_s,
        outputs={
            str(output): _Output(
                on=o.on,
                age_s=now_mono_s - o.since_mono_s,
                start_ages_s=[now_mono_s - at for at in o.starts_mono_s],
            )
            for output, o in state.outputs.items()
        },
        fans={
            name: _Fan(
                failed_runs=fan.failed_runs,
                back_off_left_s=None if fan.back_off_until_s is None else fan.back_off_until_s - now_mono_s,
                response_share=fan.response.share,
                response_judged_s=fan.response.judged_s,
            )
            for name, fan in state.fans.items()
        },
        sumps={name: _sump_memory(sump, now_mono_s) for name, sump in state.sumps.items()},
        fire=state.fire.latched_detail,
        fire_age_s=None if state.fire.latched_detail is None else now_mono_s - state.fire.latched_since_s,
        coldest_c=state.need.coldest_c,
        last_start_age_s=now_mono_s - state.last_start_s,
        outlets={name: _Outlet(**signs._asdict()) for name, signs in state.outlets.signs.items()},
        probes=_compared(state.comparisons.records),
        shares=_compared(state.comparisons.shares),
    )
    return memory.model_dump(mode="json")


def _compared(records: Mapping[str, Record]) -> dict[str, _Compared]:
    return {name: _Compared(**record._asdict()) for name, record in records.items()}


def _sump_memory(sump: SumpState, now_mono_s: float) -> _Sump:
    since_s = sump.unreadable_since_s
    return _Sump(
        wet_or_unknown=sump.wet_since_s is not None or since_s is not None,
        resting=sump.phase is PumpPhase.RESTING,
        water_age_s=now_mono_s - sump.last_water_s,
        unreadable_age_s=None if since_s is None else now_mono_s - since_s,
        tries=sump.tries,
        usual_s=sump.trend.usual_s,
        last_s=sump.trend.last_s,
        cycles=sump.trend.cycles,
    )


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
        if new is not old and (new.on or output.kind == PUMP):
            return True
    return any(_water(after.sumps[name]) != _water(old) for name, old in before.sumps.items())


def _water(sump: SumpState) -> tuple[bool, bool]:
    return sump.wet_since_s is None, sump.unreadable_since_s is None


def restored(
    fresh: ControllerState, data: dict[str, Any], same_boot: bool, now_mono_s: float
) -> ControllerState:
    """A fresh state with what was remembered laid over it; unreadable memory leaves it fresh.

    Args:
        fresh: the state of unknown history, made for the settings now in force.
        data: what ``to_memory`` gave.
        same_boot: whether the machine has not been restarted in between.
        now_mono_s: now.
    """
    try:
        memory = _Memory.model_validate(data)
    except ValidationError:
        return fresh
    gap_s = max(now_mono_s - memory.saved_mono_s, 0.0) if same_boot else 0.0
    outputs = dict(fresh.outputs)
    for output in fresh.outputs:
        if kept := memory.outputs.get(str(output)):
            outputs[output] = _restored_output(kept, same_boot, gap_s, now_mono_s)
    fans = dict(fresh.fans)
    for name, fan in fresh.fans.items():
        if kept_fan := memory.fans.get(name):
            left_s = kept_fan.back_off_left_s
            until_s = None if left_s is None else now_mono_s + left_s - gap_s
            fans[name] = fan._replace(
                failed_runs=kept_fan.failed_runs,
                back_off_until_s=until_s,
                response=Response(kept_fan.response_share, kept_fan.response_judged_s),
            )
    sumps = dict(fresh.sumps)
    for name, sump in fresh.sumps.items():
        if kept_sump := memory.sumps.get(name):
            pump = memory.outputs.get(str(OutputId.pump(name)))
            pumping = pump is not None and pump.on
            sumps[name] = _restored_sump(sump, kept_sump, pumping, same_boot, gap_s, now_mono_s)
    fire = fresh.fire
    if memory.fire is not None:
        fire = FireState(memory.fire, now_mono_s - (memory.fire_age_s or 0.0) - gap_s)
    return fresh._replace(
        outputs=outputs,
        fans=fans,
        sumps=sumps,
        fire=fire,
        need=Need(memory.coldest_c, now_mono_s),
        last_start_s=now_mono_s - memory.last_start_age_s - gap_s if same_boot else now_mono_s,
        outlets=_restored_outlets(fresh.outlets, memory.outlets),
        comparisons=fresh.comparisons._replace(
            records={name: Record(**one.model_dump()) for name, one in memory.probes.items()},
            shares={
                name: Record(**one.model_dump()) for name, one in memory.shares.items() if name in fresh.fans
            },
            suspicious=True,
        ),
    )


def _restored_output(kept: _Output, same_boot: bool, gap_s: float, now_mono_s: float) -> OutputState:
    """A motor that ran, or may have run, was switched off by the stop; its rest begins now."""
    since_s = now_mono_s if kept.on or not same_boot else now_mono_s - kept.age_s - gap_s
    starts = tuple(now_mono_s - age - gap_s for age in kept.start_ages_s)
    return OutputState(on=False, since_mono_s=since_s, starts_mono_s=starts)


def _restored_outlets(fresh: OutletWatch, kept: dict[str, _Outlet]) -> OutletWatch:
    signs = {
        name: OutletSigns(**kept[name].model_dump()) if name in kept else unknown
        for name, unknown in fresh.signs.items()
    }
    return OutletWatch(fresh.looked_s, signs, any(tells(sign) for sign in signs.values()))


def _restored_sump(
    sump: SumpState, kept: _Sump, pumping: bool, same_boot: bool, gap_s: float, now_mono_s: float
) -> SumpState:
    since_s = None if kept.unreadable_age_s is None else now_mono_s - kept.unreadable_age_s - gap_s
    # Water that stood at the stop may have stood ever since: nobody saw it fall.
    wet = kept.wet_or_unknown or not same_boot
    last_water_s = now_mono_s if wet else now_mono_s - kept.water_age_s - gap_s
    # How long the pump had run at the stop is not known; it may have been its longest run.
    resting = kept.resting or pumping
    return sump._replace(
        phase=PumpPhase.RESTING if resting else PumpPhase.IDLE,
        last_water_s=last_water_s,
        unreadable_since_s=since_s,
        tries=kept.tries,
        trend=EmptyingTrend(kept.usual_s, kept.last_s, kept.cycles),
    )
