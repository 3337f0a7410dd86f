"""What the evidence so far says about loops that run, for the decision of this tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.hints import LoopHint
from controller.diagnosis.heat_share import known_share
from controller.diagnosis.outlets import LOOKS_STILL, SETTLED_ON_S, air_moves

if TYPE_CHECKING:
    from controller.decision.state import ControllerState
    from controller.diagnosis.evidence import Evidence
    from controller.readings.snapshot import Snapshot
    from controller.settings.derived import DerivedLoop
    from controller.settings.schema import Settings

# Below this share of the promised heat moving air can look like still air under a warm roof (2 K apart at
# least, bench two thirds as far above the soil as the roof). Common practice, no source.
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
    found: dict[str, LoopHint] = {}
    for loop in settings.derived.loops:
        share = known_share(evidence.heat_shares[loop.name])
        output = state.outputs[loop.fan]
        settled = output.on and now_mono_s - output.since_mono_s >= SETTLED_ON_S
        # Of a loop that never moved much heat nobody can tell: its moving air is not far from still air.
        testable = known and share is not None and share >= LEAST_SHARE_TO_JUDGE
        found[loop.name] = LoopHint(
            share, known, _looks_still(loop, snapshot) if settled and testable else None
        )
    return found


def _looks_still(loop: DerivedLoop, snapshot: Snapshot) -> bool | None:
    """Whether the outlet looks as if its fan stood still, None where moving and still air look alike."""
    moving = air_moves(loop, snapshot.ceiling, snapshot.bench, snapshot.loops[loop.name])
    return None if moving is None else moving <= LOOKS_STILL
