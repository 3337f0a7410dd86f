"""What a person at the machine has said since the last tick. None of it is a reading; it rides with them."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from datetime import datetime


# No night outdoors is colder or warmer than that; a forecast low beyond is a mistake.
COLDEST_LOW_C, HOTTEST_LOW_C = -80.0, 40.0


class Act(Enum):
    """What it is about."""

    SEEN = "seen"
    EMPTY = "house-empty"
    PLANTED = "house-planted"
    DONE = "done"
    LOW = "low"


class Said(NamedTuple):
    """One thing that was said.

    Attributes:
        act: what it is about.
        about: the code of an alarm, the name of a check by hand, or the forecast low of the night in °C;
            empty for the house.
        until_utc: until when it holds, None if nothing was said of that.
    """

    act: Act
    about: str = ""
    until_utc: datetime | None = None
