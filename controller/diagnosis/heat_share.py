"""How much of the heat that its settings promise each loop really moves, as its outlet has shown."""

from __future__ import annotations

import math
from typing import NamedTuple

# A share learned from less than this is not used: the first runs of a house may not be typical. [practice]
TRUSTED_FROM_S = 3.0 * 3600.0
# How slowly it follows: a few sunny days or cold nights. [practice]
FOLLOWS_IN_S = 10.0 * 3600.0
# Beyond these limits the probes are wrong rather than the tubes. [practice]
LEAST_SHARE, MOST_SHARE = 0.3, 1.5
# Ticks further apart than this do not belong to one run. A rehearsal's are up to 15 minutes apart; a stall of
# the board makes the fans rest, which ends a run anyway.
LONGEST_GAP_S = 1000.0


class HeatShare(NamedTuple):
    """A loop's dry heat as a share of what its settings promise.

    Attributes:
        share: learned so far.
        judged_s: running time it was learned from.
        at_mono_s: when the last sample was taken, None if the fan has stopped since.
    """

    share: float = 1.0
    judged_s: float = 0.0
    at_mono_s: float | None = None


UNKNOWN_SHARE = HeatShare()


def known_share(before: HeatShare) -> float | None:
    """The learned share, None until enough running has been judged."""
    return before.share if before.judged_s >= TRUSTED_FROM_S else None


def learned(before: HeatShare, moved_w: float, expected_w: float, now_mono_s: float) -> HeatShare:
    """The share after one more look at a running loop.

    Args:
        before: what was known until now.
        moved_w: dry heat between intake and outlet, positive in the direction the soil asks for.
        expected_w: what the settings promise at this difference, above 0.
        now_mono_s: now.
    """
    share = min(max(moved_w / expected_w, LEAST_SHARE), MOST_SHARE)
    passed_s = 0.0 if before.at_mono_s is None else now_mono_s - before.at_mono_s
    if not 0.0 < passed_s <= LONGEST_GAP_S:
        return before._replace(at_mono_s=now_mono_s)
    weight = -math.expm1(-passed_s / FOLLOWS_IN_S)
    return HeatShare(before.share + weight * (share - before.share), before.judged_s + passed_s, now_mono_s)


def paused(before: HeatShare) -> HeatShare:
    """The fan has stopped or cannot be judged: what comes next is another stretch."""
    return before if before.at_mono_s is None else before._replace(at_mono_s=None)
