"""What is remembered of the outlets; ``outlets.py`` says how it is found."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


class OutletSigns(NamedTuple):
    """What one outlet has shown so far.

    Attributes:
        moving_s: time in which it looked moving with its fan on, up to what is needed.
        still_s: time in which it looked still with its fan off, up to what is needed.
        unasked_s: time in which it looked moving with its fan off, since it last looked still.
        swapped_s: time in which another outlet moved in its place, since it last answered its own fan.
        answers: the loop whose outlet moved then, empty if none.
    """

    moving_s: float = 0.0
    still_s: float = 0.0
    unasked_s: float = 0.0
    swapped_s: float = 0.0
    answers: str = ""


class OutletWatch(NamedTuple):
    """All outlets.

    Attributes:
        looked_s: when they were last looked at.
        signs: by loop.
        tells: whether any of them has shown that it looks different with its fan on and off; tubes and
            outlets of one house are much alike.
    """

    looked_s: float
    signs: Mapping[str, OutletSigns]
    tells: bool = False


NO_SIGNS = OutletSigns()


def unknown_outlets(loops: Iterable[str], now_s: float) -> OutletWatch:
    """Nothing seen yet."""
    return OutletWatch(now_s, dict.fromkeys(loops, NO_SIGNS))
