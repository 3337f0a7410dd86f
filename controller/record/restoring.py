"""What is known again after a restart: a fresh state and fresh evidence with the memory laid over them.

Within the same boot ages have grown by the time in between. After a reboot nobody knows how long the power
was off, so they are taken not to have grown, every motor rests first and every tube counts as just drained.
Every limit then holds at least as long as promised.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from controller.decision.state import (
    Doubt,
    DryBefore,
    EmptyingTrend,
    FireState,
    Need,
    OutputState,
    PumpPhase,
)
from controller.diagnosis.attendance import Attendance, Deadline, Seen
from controller.diagnosis.heat_share import HeatShare
from controller.diagnosis.house_shut import UsualNight
from controller.diagnosis.outlet_records import OutletRecord, OutletWatch
from controller.diagnosis.outlets import is_known
from controller.diagnosis.probe_records import Record, Warmth
from controller.diagnosis.start_records import StartRecord
from controller.diagnosis.tonight import Night, PastNight
from controller.equipment import OutputId
from controller.faults import MAY_BE_SEEN, FaultCode
from controller.record.memory import Memory
from controller.record.memory_nights import restored_nights

if TYPE_CHECKING:
    from collections.abc import Container

    from controller.decision.state import ControllerState, SumpState
    from controller.diagnosis.evening import Evening
    from controller.diagnosis.evidence import Evidence
    from controller.diagnosis.tonight import Tonight
    from controller.record.memory import (
        ComparedKept,
        EndKept,
        OutletKept,
        OutputKept,
        StartsKept,
        SumpKept,
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
        memory = Memory.model_validate(data)
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
            fans[name] = fan._replace(failed_runs=kept_fan.failed_runs, back_off_until_s=until_s)
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
        need=Need(memory.coldest_c, now_mono_s, memory.passed_k),
        last_start_s=now_mono_s - memory.last_start_age_s - gap_s if same_boot else now_mono_s,
    )


def restored_evidence(fresh: Evidence, data: dict[str, Any], same_boot: bool, now_mono_s: float) -> Evidence:
    """Fresh evidence with what was remembered laid over it; unreadable memory leaves it fresh.

    Args:
        fresh: no evidence, made for the settings now in force.
        data: what ``to_memory`` gave.
        same_boot: whether the machine has not been restarted in between.
        now_mono_s: now.
    """
    try:
        memory = Memory.model_validate(data)
    except ValidationError:
        return fresh
    shares = dict(fresh.heat_shares)
    for name in shares:
        if kept := memory.fans.get(name):
            shares[name] = HeatShare(kept.heat_share, kept.heat_share_judged_s)
    return fresh._replace(
        heat_shares=shares,
        outlets=_restored_outlets(fresh.outlets, memory.outlets),
        starts=fresh.starts._replace(
            records={
                name: _restored_starts(memory.starts[name], new) if name in memory.starts else new
                for name, new in fresh.starts.records.items()
            }
        ),
        comparisons=fresh.comparisons._replace(
            records=_restored_records(memory.probes, memory.probes),
            shares=_restored_records(memory.shares, shares),
            rests=_restored_records(memory.rests, shares),
            swings=_restored_records(memory.swings, shares),
            warmths={
                name: Warmth(
                    kept.usual, kept.days, None if kept.idle_age_s is None else now_mono_s - kept.idle_age_s
                )
                for name, kept in memory.warmths.items()
                if name in shares
            },
            suspicious=True,
        ),
        tonight=_restored_nights(fresh.tonight, memory, same_boot, now_mono_s),
        evening=_restored_evening(fresh.evening, memory, same_boot, now_mono_s),
        attendance=_restored_attendance(memory, same_boot, now_mono_s),
        house=fresh.house._replace(
            usual={
                int(fans): UsualNight(**kept.model_dump())
                for fans, kept in memory.house.items()
                if fans.isdecimal() and int(fans) <= len(shares)
            }
        ),
    )


def _restored_evening(fresh: Evening, memory: Memory, same_boot: bool, now_s: float) -> Evening:
    """What nights have taught the forecast."""
    if memory.forecast is None:
        return fresh
    gap_s = max(now_s - memory.saved_mono_s, 0.0) if same_boot else 0.0
    return fresh._replace(nights=restored_nights(memory.forecast, same_boot, gap_s, now_s))


def _restored_attendance(memory: Memory, same_boot: bool, now_s: float) -> Attendance:
    """What people have said; the alarms they have seen must first come back."""
    gap_s = max(now_s - memory.saved_mono_s, 0.0) if same_boot else 0.0

    def end(kept: EndKept | None) -> Deadline | None:
        return None if kept is None else Deadline(now_s + kept.left_s - gap_s, kept.utc_s)

    known = {code.value: code for code in MAY_BE_SEEN}
    seen: dict[tuple[FaultCode, str], Seen] = {}
    for name, one in memory.seen.items():
        word, _, subject = name.partition(" ")
        if (code := known.get(word)) is not None:
            at_s = now_s - one.age_s - gap_s
            seen[code, subject] = Seen(one.level, at_s, one.at_utc_s, end(one.until), missed_since_s=now_s)
    return Attendance(seen, end(memory.empty_until), dict(memory.done))


def _restored_nights(fresh: Tonight, memory: Memory, same_boot: bool, now_s: float) -> Tonight:
    """What nights have shown. After a reboot an announced one may be over: it does not count, frost calls."""
    nights = tuple(PastNight(**one.model_dump()) for one in memory.nights)
    if memory.night is None or not same_boot:
        return fresh._replace(nights=nights)
    kept = memory.night.model_dump()
    gap_s = max(now_s - memory.saved_mono_s, 0.0)
    began_s, low_at_s = now_s - kept.pop("age_s") - gap_s, now_s - kept.pop("low_age_s") - gap_s
    return fresh._replace(nights=nights, night=Night(began_s=began_s, low_at_s=low_at_s, **kept))


def _restored_output(kept: OutputKept, same_boot: bool, gap_s: float, now_mono_s: float) -> OutputState:
    """A motor that ran, or may have run, was switched off by the stop; its rest begins now."""
    since_s = now_mono_s if kept.on or not same_boot else now_mono_s - kept.age_s - gap_s
    starts = tuple(now_mono_s - age - gap_s for age in kept.start_ages_s)
    return OutputState(on=False, since_mono_s=since_s, starts_mono_s=starts)


def _restored_outlets(fresh: OutletWatch, kept: dict[str, OutletKept]) -> OutletWatch:
    records = {
        name: OutletRecord(**kept[name].model_dump()) if name in kept else unknown
        for name, unknown in fresh.records.items()
    }
    return OutletWatch(fresh.looked_s, records, any(is_known(record) for record in records.values()))


def _restored_records(kept: dict[str, ComparedKept], names: Container[str]) -> dict[str, Record]:
    return {name: Record(**one.model_dump()) for name, one in kept.items() if name in names}


def _restored_starts(kept: StartsKept, fresh: StartRecord) -> StartRecord:
    return StartRecord(
        fresh.shown_s - kept.shown_age_s,
        fresh.moved_s - kept.moved_age_s,
        fresh.tried_s - kept.tried_age_s,
        kept.still,
        kept.other,
        kept.other_loop,
    )


def _restored_sump(
    sump: SumpState, kept: SumpKept, pumping: bool, same_boot: bool, gap_s: float, now_mono_s: float
) -> SumpState:
    """A stop is a spell in which the float was not read; after a reboot its length is not known."""
    since_s = now_mono_s if kept.unreadable_age_s is None else now_mono_s - kept.unreadable_age_s - gap_s
    # How long the pump had run at the stop is not known; it may have been its longest run.
    resting = kept.resting or pumping
    known = _dry_before(kept, now_mono_s - gap_s) if same_boot and not pumping else None
    seen_wet = same_boot and known is None  # or it could not be read since it was
    return sump._replace(
        phase=PumpPhase.RESTING if resting else PumpPhase.IDLE,
        last_water_s=now_mono_s,
        unreadable_since_s=since_s,
        trend=EmptyingTrend(kept.usual_s, kept.last_s, kept.cycles),
        doubt=_doubt(kept.doubt) if seen_wet else Doubt.STARTED,
        dry_before=known,
    )


def _dry_before(kept: SumpKept, saved_s: float) -> DryBefore | None:
    """What was known at the stop of a float that was dry then, or had been before it was lost."""
    if (dry := kept.dry_before) is not None:
        return DryBefore(saved_s - dry.age_s, saved_s - dry.water_age_s, _doubt(dry.doubt))
    if kept.wet_or_unknown:
        return None
    return DryBefore(saved_s, saved_s - kept.water_age_s, _doubt(kept.doubt))


def _doubt(word: str | None) -> Doubt | None:
    return None if word is None else Doubt(word)
