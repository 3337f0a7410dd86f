"""What the evidence so far says about loops that run, for the decision of this tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.hints import LoopHint
from controller.diagnosis.heat_share import known_share
from controller.diagnosis.outlets import LOOKS_STILL, SETTLED_ON_S, air_moves
from controller.diagnosis.starts import trial_from_k

if TYPE_CHECKING:
    from controller.decision.state import ControllerState, OutputState
    from controller.diagnosis.evidence import Evidence
    from controller.diagnosis.heat_share import HeatShare
    from controller.readings.reading import Reading
    from controller.readings.snapshot import LoopReadings, Snapshot
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop

# Below this share of the promised heat moving air can look like still air under a warm roof (2 K apart at
# least, bench two thirds as far above the soil as the roof). [practice]
LEAST_SHARE_TO_JUDGE = 0.78


def hints(
    evidence: Evidence, snapshot: Snapshot, state: ControllerState, settings: Settings, now_mono_s: float
) -> dict[str, LoopHint]:
    """What is known of each loop.

    Args:
        evidence: what the ticks before have left.
        snapshot: judged readings of this tick.
        state: what the decision before has left.
        settings: the settings in force.
        now_mono_s: monotonic time of this tick in s.
    """
    known = evidence.outlets.known
    rests = evidence.comparisons.rests
    doubted = {name for name, rest in rests.items() if rest.off_days and rest.lately < rest.usual}
    return {
        loop.name: loop_hint(
            loop,
            evidence.heat_shares[loop.name],
            known,
            snapshot.ceiling,
            snapshot.bench,
            snapshot.loops[loop.name],
            state.outputs[loop.fan],
            now_mono_s,
        )._replace(
            trial_from_k=trial_from_k(evidence.starts.records[loop.name], loop.name in doubted, now_mono_s)
        )
        for loop in settings.derived.loops
    }


def loop_hint(
    loop: DerivedLoop,
    heat_share: HeatShare,
    outlets_known: bool,
    ceiling: Reading,
    bench: Reading,
    readings: LoopReadings,
    output: OutputState,
    now_mono_s: float,
) -> LoopHint:
    """What is known of one loop.

    Args:
        loop: what follows from its settings.
        heat_share: how much of its promised heat it has been seen to move.
        outlets_known: whether outlets of this house have shown both looks.
        ceiling: air at the riser intake.
        bench: air the outlet opens to.
        readings: the loop's own probes.
        output: its fan, before this decision.
        now_mono_s: now.
    """
    share = known_share(heat_share)
    if not output.on or now_mono_s - output.since_mono_s < SETTLED_ON_S:
        return LoopHint(share, outlets_known)
    # A loop that never moved much heat cannot be judged: its moving air looks much like still air.
    testable = outlets_known and share is not None and share >= LEAST_SHARE_TO_JUDGE
    moving = air_moves(loop, ceiling, bench, readings) if testable else None
    return LoopHint(share, outlets_known, None if moving is None else moving <= LOOKS_STILL)
