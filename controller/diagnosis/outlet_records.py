"""What is remembered of the outlets; ``outlets.py`` says how it is found."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


class OutletRecord(NamedTuple):
    """What one outlet has shown so far.

    Attributes:
        moving_while_on_s: time in which it looked moving with its fan on, up to what is needed.
        still_while_off_s: time in which it looked still with its fan off, up to what is needed.
        moving_while_off_s: time in which it looked moving with its fan off, since it last looked still.
        other_moved_s: time in which another outlet moved in its place, since it last moved with its own fan.
        other_loop: the loop whose outlet moved then, empty if none.
    """

    moving_while_on_s: float = 0.0
    still_while_off_s: float = 0.0
    moving_while_off_s: float = 0.0
    other_moved_s: float = 0.0
    other_loop: str = ""


class OutletWatch(NamedTuple):
    """All outlets.

    Attributes:
        looked_s: when they were last looked at.
        records: by loop.
        known: whether any of them has shown that it looks different with its fan on and off; tubes and
            outlets of one house are much alike.
    """

    looked_s: float
    records: Mapping[str, OutletRecord]
    known: bool = False


NO_OUTLET_RECORD = OutletRecord()


def unknown_outlets(loops: Iterable[str], now_s: float) -> OutletWatch:
    """Nothing seen yet."""
    return OutletWatch(now_s, dict.fromkeys(loops, NO_OUTLET_RECORD))
