"""``hypocaust verify``: is what is installed whole, and can it work on this machine?"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, TextIO

from controller.service.installed import Look, State, looks_at_program

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

WHOLE, BROKEN, NOT_READY = 0, 1, 3
WIDTH = 80
COLUMN = 23  # where the words begin: behind the state and the longest name


def verify(settings: Path, out: TextIO) -> int:
    """Look at the installation and at the machine, and report each look on a line.

    Args:
        settings: the settings file of the house.
        out: where the lines go.

    Returns:
        0 if all is well, 1 if something is broken, 3 if nothing is but something a house needs is not here.
    """
    states = set()
    for look in _looks(settings):
        states.add(look.state)
        head = f"{look.state.value:<9} {look.what}"
        print(
            textwrap.fill(
                look.words,
                WIDTH,
                initial_indent=f"{head:<{COLUMN}}",
                subsequent_indent=" " * COLUMN,
                break_on_hyphens=False,
                break_long_words=False,
            ),
            file=out,
        )
    if State.FAIL in states:
        print("Not ready: mend what failed, then run this again.", file=out)
        return BROKEN
    if State.NOT_HERE in states:
        print("Whole. It cannot control a house until what is not here is.", file=out)
        return NOT_READY
    print("Whole, and ready to control this house.", file=out)
    return WHOLE


def _looks(settings: Path) -> Iterator[Look]:
    """First at what every other look needs."""
    yield from looks_at_program()
    try:
        from controller.service.machine import looks_at_machine  # noqa: PLC0415 - loads what may be damaged
    except Exception as problem:  # noqa: BLE001 - a damaged file can raise anything at all
        yield Look("machine", State.FAIL, f"not looked at, because the program is damaged ({problem})")
        return
    yield from looks_at_machine(settings)
