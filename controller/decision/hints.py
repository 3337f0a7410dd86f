"""What earlier runs have taught about a loop, as far as its fan rule uses it; the diagnosis finds it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

# Below this difference two probes of ±0.5 K (DS18B20 data sheet) cannot distinguish moving from still air.
TESTABLE_DIFFERENCE_K = 5.0


class LoopHint(NamedTuple):
    """What is known of one loop.

    Nothing here can keep a fan running or start it against a lockout; at the most it asks for a trial run.

    Attributes:
        share: dry heat the loop moves as a share of what its settings promise, None until enough was seen.
        outlets_known: whether outlets of this house have shown that they look different with their fan on
            and off.
        looks_still: whether the outlet looks now as if the running fan stood still, None if nobody can say.
        trial_from_k: the least difference between ceiling and soil from which the fan needs a trial run,
            None while it needs none.
    """

    share: float | None = None
    outlets_known: bool = False
    looks_still: bool | None = None
    trial_from_k: float | None = None


NO_HINT: Final = LoopHint()
NO_HINTS: Final[Mapping[str, LoopHint]] = {}
