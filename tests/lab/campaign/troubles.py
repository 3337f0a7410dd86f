"""What goes wrong around the house rather than in it: power, clock, memory, settings, disk and broker."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class TroubleKind(Enum):
    """What the rehearsal cannot script; the value is the word in results."""

    POWER_CUT = "power-cut"
    CRASH = "crash"
    CRASH_LOOP = "crash-loop"
    CLOCK_STEP = "clock-step"
    CLOCK_UNSET = "clock-unset"
    MEMORY_DAMAGED = "memory-damaged"
    MEMORY_LOST = "memory-lost"
    CARD_UNWRITABLE = "card-unwritable"
    RUNTIME_UNWRITABLE = "runtime-unwritable"
    SETTINGS_CHANGED = "settings-changed"
    SETTINGS_BAD = "settings-bad"
    SETTINGS_CONTRADICTORY = "settings-contradictory"
    SETTINGS_GONE = "settings-gone"
    WATCHER_RAISES = "watcher-raises"
    HISTORY_UNWRITABLE = "history-unwritable"
    HISTORY_HANGS = "history-hangs"
    BROKER_DOWN = "broker-down"
    FIRE = "fire"
    STALL = "stall"


class Moment(Enum):
    """Where in a tick the process ends, or stalls."""

    WAITING = "between two ticks"
    BEFORE_DRIVE = "after the memory was written and before the outputs are driven"
    BEFORE_CARD = "after the outputs were driven and before the card has the memory"


# Every one of these ends the process, and with it what it knew.
ENDINGS = frozenset(
    {
        TroubleKind.POWER_CUT,
        TroubleKind.CRASH,
        TroubleKind.CRASH_LOOP,
        TroubleKind.MEMORY_DAMAGED,
        TroubleKind.MEMORY_LOST,
    }
)

SAME_BOOT = frozenset({TroubleKind.CRASH, TroubleKind.CRASH_LOOP})


@dataclass(frozen=True, slots=True)
class Trouble:
    """One of them.

    Attributes:
        kind: what.
        at_s: when, after the start.
        until_s: until when; for an ending: when the machine has power, or the service starts anew.
        moment: where in a tick the process ends or stalls.
        hunts: whether an ending waits (up to half a day) for a tick that switches a motor, a stall for a
            motor that runs.
        times: how many times it ends, in a crash loop; how many times it stalls.
        by_s: how far the wall clock is stepped.
        text: what is written instead: settings or damaged memory.
    """

    kind: TroubleKind
    at_s: float
    until_s: float
    moment: Moment = Moment.WAITING
    hunts: bool = False
    times: int = 1
    by_s: float = 0.0
    text: str = ""

    @property
    def same_boot(self) -> bool:
        """Whether an ending leaves the board running."""
        return self.kind in SAME_BOOT
