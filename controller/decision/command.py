"""What a decision is made of: commands, their reasons, and what running loops have shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.reasons import Reason
    from controller.decision.state import Proof
    from controller.equipment import OutputId


class Command(NamedTuple):
    """What an output shall be, and why."""

    on: bool
    reason: Reason


@dataclass(frozen=True, slots=True)
class OutputChange:
    """An output that is commanded differently from the tick before."""

    output: OutputId
    on: bool
    reason: Reason


class Confirmation(NamedTuple):
    """What the outlet of a loop that ran showed in this tick.

    Attributes:
        proof: whether heat really moves.
        moved_w: dry heat between intake and outlet in W, positive in the direction the soil asks for; None if
            it cannot be read.
        difference_k: between ceiling and soil, in K, without its sign.
    """

    proof: Proof
    moved_w: float | None
    difference_k: float


NOTHING_CONFIRMED: Final[Mapping[str, Confirmation]] = {}


class Decision(NamedTuple):
    """Everything one tick decided.

    Attributes:
        commands: for every output of the settings.
        changes: those that differ from the tick before, with reasons.
        look_again_s: a tick is needed this soon even if nothing happens, or None.
        confirmations: of every loop whose fan ran until this tick and was not locked out in it.
    """

    commands: Mapping[OutputId, Command]
    changes: tuple[OutputChange, ...]
    look_again_s: float | None = None
    confirmations: Mapping[str, Confirmation] = NOTHING_CONFIRMED
