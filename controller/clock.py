"""The only file that reads time or waits."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import threading

# A board without a battery-backed clock wakes up in the past; no true reading can be older than this release.
RELEASED = datetime(2026, 1, 1, tzinfo=UTC)
TIMESYNC_DIRECTORY = Path("/run/systemd/timesync")


class Clock(Protocol):
    """What the rest of the program may know about time."""

    def monotonic_s(self) -> float:
        """Seconds that only ever move forward; every duration is measured with these."""

    def wall_utc(self) -> datetime | None:
        """The date and time for people, or None until the clock is known to be set."""

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Wait until ``wake`` is set or ``timeout_s`` has passed; return whether it was set."""


class SystemClock:
    """The board's own clock."""

    def monotonic_s(self) -> float:
        """Seconds since boot, as Linux counts them (shared by all processes until the next boot)."""
        return time.monotonic()

    def wall_utc(self) -> datetime | None:
        """The time of day in UTC, or None while it is plainly wrong or not yet synchronised."""
        now = datetime.now(UTC)
        if now < RELEASED:
            return None
        if TIMESYNC_DIRECTORY.is_dir() and not (TIMESYNC_DIRECTORY / "synchronized").exists():
            return None
        return now

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Wait for an event without holding up other threads."""
        return wake.wait(max(timeout_s, 0.0))


def boot_id() -> str:
    """The kernel's name for this boot, empty where unknown; monotonic time means nothing beyond it."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return ""
