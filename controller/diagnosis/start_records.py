"""What is remembered of the starts of fans; ``starts.py`` says how they are judged."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


class StartRecord(NamedTuple):
    """What the starts of one fan have shown.

    Attributes:
        shown_s: when a start last moved the air of its own outlet, all other fans at rest.
        moved_s: when one last did so, whatever the others did.
        tried_s: when a start was last looked at, whatever it showed.
        still: starts in a row that moved nothing at its own outlet.
        other: how many of the last of them moved the air of another outlet instead.
        other_loop: the loop of that outlet, empty if none.
    """

    shown_s: float
    moved_s: float
    tried_s: float
    still: int = 0
    other: int = 0
    other_loop: str = ""


class StartLook(NamedTuple):
    """A start that waits to be judged.

    Attributes:
        began_s: when.
        rests_k: by loop at rest then, how far its outlet was from halfway between soil and house.
    """

    began_s: float
    rests_k: Mapping[str, float]


class StartWatch(NamedTuple):
    """All loops.

    Attributes:
        records: by loop.
        looks: by loop, starts that wait to be judged.
    """

    records: dict[str, StartRecord]
    looks: Mapping[str, StartLook]


def no_starts(loops: Iterable[str], now_s: float) -> StartWatch:
    """Nothing seen yet; a test of each fan comes a week from now."""
    return StartWatch({name: StartRecord(now_s, now_s, now_s) for name in loops}, {})
