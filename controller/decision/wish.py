"""What a demand rule may look at, and what it answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from controller.decision.reasons import Reason
    from controller.decision.state import Demand, Need
    from controller.decision.trial_run import TrialView
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop


class LoopView(NamedTuple):
    """What the demand rule may look at.

    Attributes:
        settings: the settings in force.
        loop: what follows from them for this loop.
        ceiling_c: air at the riser intake.
        soil_c: soil at tube depth.
        air_c: air at the crop (ceiling where no bench probe can be read).
        need: how much stored heat the house has lately needed.
        running_for: what the fan runs for now, None while it is off.
        rank: where the loop stands in the order in which loops return warmth, 0 (first) to 1 (last).
        heat_w_per_k: dry heat the loop should move per kelvin between ceiling and soil, as its settings say
            and its outlet has taught.
        air_probe: what gave ``air_c``, the bench or the ceiling.
        trial: the trial run that the fan is due for or in, None if there is none.
    """

    settings: Settings
    loop: DerivedLoop
    ceiling_c: float
    soil_c: float
    air_c: float
    need: Need
    running_for: Demand | None
    rank: float
    heat_w_per_k: float
    air_probe: str = "bench"
    trial: TrialView | None = None


class Wish(NamedTuple):
    """What is wanted of the loop; ``demand`` None means the fan should be off, and ``reason`` why."""

    demand: Demand | None
    reason: Reason


DemandRule = Callable[[LoopView], Wish]
