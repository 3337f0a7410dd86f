"""The whole model behind one pointer, for calls from plain Python.

To hand some fifty arrays to compiled code, one by one, takes longer than a minute of the house; a struct that
compiled code has filled once goes over in no time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from numba.core import types
from numba.experimental import structref

from controller.simulator.house import step

if TYPE_CHECKING:
    from controller.simulator.house.state import Whole


@structref.register
class HeldType(types.StructRef):
    """What the compiler takes a held model for."""


class Held(structref.StructRefProxy):
    """A held model, as plain Python sees it."""

    whole: Whole


structref.define_proxy(Held, HeldType, ["whole"])  # type: ignore[no-untyped-call]


def hold(whole: Whole) -> Held:
    """Take the arrays of a model once; they are shared, not copied."""
    held: Held = Held(whole)  # type: ignore[no-untyped-call]
    return held


def advance(held: Held, weather_s: float, longest_s: float) -> float:
    """As ``step.advance``."""
    return step.advance(held.whole, weather_s, longest_s)
