"""What must outlive a restart, as plain data: motor limits, drain-down, latches, what has been learned.

Times are kept as ages, because a monotonic time means nothing in another boot. After a restart within the
same boot the ages have grown by the time in between; after a reboot nobody knows how long the power was off,
so they are taken not to have grown at all: every limit then holds at least as long as promised.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, FiniteFloat, ValidationError

from controller.decision.state import EmptyingTrend, FireState, Need, OutputState

if TYPE_CHECKING:
    from controller.decision.state import ControllerState, SumpState


class _Record(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")


class _Output(_Record):
    on: bool
    age_s: FiniteFloat
    start_ages_s: list[FiniteFloat]


class _Fan(_Record):
    failed_runs: int
    back_off_left_s: FiniteFloat | None


class _Sump(_Record):
    water_age_s: FiniteFloat
    unreadable_age_s: FiniteFloat | None
    tries: int
    usual_s: FiniteFloat | None
    last_s: FiniteFloat | None
    cycles: int


class _Memory(_Record):
    version: int
    saved_mono_s: FiniteFloat
    outputs: dict[str, _Output]
    fans: dict[str, _Fan]
    sumps: dict[str, _Sump]
    fire: str | None
    coldest_c: FiniteFloat | None
    last_start_age_s: FiniteFloat


VERSION = 1


def to_memory(state: ControllerState, now_mono_s: float) -> dict[str, Any]:
    """The part of the state that outlives a restart, ready for JSON."""
    memory = _Memory(
        version=VERSION,
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
            )
            for name, fan in state.fans.items()
        },
        sumps={name: _sump_memory(sump, now_mono_s) for name, sump in state.sumps.items()},
        fire=state.fire.latched_detail,
        coldest_c=state.need.coldest_c,
        last_start_age_s=now_mono_s - state.last_start_s,
    )
    return memory.model_dump(mode="json")


def _sump_memory(sump: SumpState, now_mono_s: float) -> _Sump:
    since_s = sump.unreadable_since_s
    return _Sump(
        water_age_s=now_mono_s - sump.last_water_s,
        unreadable_age_s=None if since_s is None else now_mono_s - since_s,
        tries=sump.tries,
        usual_s=sump.trend.usual_s,
        last_s=sump.trend.last_s,
        cycles=sump.trend.cycles,
    )


def worth_saving(before: ControllerState, after: ControllerState) -> bool:
    """Whether a tick changed anything that must outlive a restart right now (motors, latches, water)."""
    if before.fire.latched_detail != after.fire.latched_detail:
        return True
    if any(after.outputs[output] is not old for output, old in before.outputs.items()):
        return True
    return any(
        (after.sumps[n].wet_since_s is None) != (old.wet_since_s is None) for n, old in before.sumps.items()
    )


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
            outputs[output] = _restored_output(kept, gap_s, now_mono_s)
    fans = dict(fresh.fans)
    for name, fan in fresh.fans.items():
        if kept_fan := memory.fans.get(name):
            left_s = kept_fan.back_off_left_s
            until_s = None if left_s is None else now_mono_s + left_s - gap_s
            fans[name] = replace(fan, failed_runs=kept_fan.failed_runs, back_off_until_s=until_s)
    sumps = dict(fresh.sumps)
    for name, sump in fresh.sumps.items():
        if kept_sump := memory.sumps.get(name):
            sumps[name] = _restored_sump(sump, kept_sump, gap_s, now_mono_s)
    fire = FireState(memory.fire, now_mono_s) if memory.fire is not None else fresh.fire
    return replace(
        fresh,
        outputs=outputs,
        fans=fans,
        sumps=sumps,
        fire=fire,
        need=Need(memory.coldest_c, now_mono_s),
        last_start_s=now_mono_s - memory.last_start_age_s - gap_s,
    )


def _restored_output(kept: _Output, gap_s: float, now_mono_s: float) -> OutputState:
    """A motor that ran was switched off by the stop; its rest begins now."""
    since_s = now_mono_s if kept.on else now_mono_s - kept.age_s - gap_s
    starts = tuple(now_mono_s - age - gap_s for age in kept.start_ages_s)
    return OutputState(on=False, since_mono_s=since_s, starts_mono_s=starts)


def _restored_sump(sump: SumpState, kept: _Sump, gap_s: float, now_mono_s: float) -> SumpState:
    since_s = None if kept.unreadable_age_s is None else now_mono_s - kept.unreadable_age_s - gap_s
    return replace(
        sump,
        last_water_s=now_mono_s - kept.water_age_s - gap_s,
        unreadable_since_s=since_s,
        tries=kept.tries,
        trend=EmptyingTrend(kept.usual_s, kept.last_s, kept.cycles),
    )
