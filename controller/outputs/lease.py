"""The lease: a command lives only as long as ticks keep coming; a program that hangs loses its outputs."""

from __future__ import annotations

import math
import threading
from typing import TYPE_CHECKING

import structlog

from controller.faults import HOUR_S, FaultCode, Finding
from controller.units import duration_text

if TYPE_CHECKING:
    from controller.clock import Clock
    from controller.outputs.bank import OutputBank

log = structlog.get_logger(__name__)

LONGEST_CHECK_PAUSE_S = 1.0
CHECKS_PER_LEASE = 10
# A guard that has not looked for this many of its own pauses (and five seconds) counts as dead.
MISSED_CHECKS = 5
SHORTEST_SILENCE_S = 5.0
# The tick that ends a hang also ends the trip; the finding outlives it so that a person hears of it.
FINDING_LASTS_S = HOUR_S


class LeaseGuard:
    """Switches every output off when no tick has renewed the lease, and keeps them off until one does.

    A tick renews *before* it drives, both with the time at which it began. Outputs are held off from the
    making of the guard to the first renewal. The guard looks every tenth of the lease (at least every second)
    and trips one look early, so that outputs are off before the lease has run out, not after.
    """

    def __init__(self, bank: OutputBank, clock: Clock, lease_s: float) -> None:
        """Hold the outputs off; no thread runs yet.

        Args:
            bank: the outputs.
            clock: the clock whose monotonic time the ticks use.
            lease_s: longest time without a tick.
        """
        self._bank = bank
        self._clock = clock
        self._lease_s = lease_s
        self.check_every_s = min(lease_s / CHECKS_PER_LEASE, LONGEST_CHECK_PAUSE_S)
        self._renewed_mono_s = -math.inf
        self._held_since_mono_s: float | None = clock.monotonic_s()
        self._trips = 0
        self._last_trip_mono_s = -math.inf
        self._looked_mono_s = -math.inf
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        bank.hold("no decision has been made yet", self._held_since_mono_s)

    @property
    def trips(self) -> int:
        """How often the lease has run out since the program started."""
        return self._trips

    def start(self) -> None:
        """Start the guard's own thread."""
        self._looked_mono_s = self._clock.monotonic_s()
        self._thread = threading.Thread(target=self._watch, name="lease-guard", daemon=True)
        self._thread.start()

    def renew(self, now_mono_s: float) -> None:
        """Renew the lease.

        Args:
            now_mono_s: when the tick began; a tick that began before the last trip, or so long ago that the
                lease it asks for has all but run out, does not count.
        """
        held_since_s = self._held_since_mono_s
        if self._clock.monotonic_s() - now_mono_s >= self._lease_s - self.check_every_s:
            return
        if held_since_s is not None and now_mono_s < held_since_s:
            return
        self._renewed_mono_s = max(self._renewed_mono_s, now_mono_s)
        if held_since_s is not None:
            self._held_since_mono_s = None
            self._bank.release()

    def check(self, now_mono_s: float) -> bool:
        """Trip if the lease would run out before the next check; return whether outputs are held off."""
        self._looked_mono_s = now_mono_s
        if self._held_since_mono_s is not None:
            return True
        if now_mono_s - self._renewed_mono_s < self._lease_s - self.check_every_s:
            return False
        self._trips += 1
        self._last_trip_mono_s = self._held_since_mono_s = now_mono_s
        self._bank.hold("the lease ran out", now_mono_s)
        log.error("lease_ran_out", lease_s=self._lease_s, trips=self._trips)
        return True

    def findings(self) -> tuple[Finding, ...]:
        """A finding for an hour after the last trip."""
        if self._clock.monotonic_s() - self._last_trip_mono_s > FINDING_LASTS_S:
            return ()
        lease = duration_text(self._lease_s)
        detail = f"no decision for {lease}: all outputs were switched off ({self._trips} times so far)"
        return (Finding(FaultCode.OUTPUT, "lease", detail),)

    def alive(self) -> bool:
        """Whether the guard's thread is still looking."""
        silent_s = self._clock.monotonic_s() - self._looked_mono_s
        running = self._thread is not None and self._thread.is_alive()
        return running and silent_s <= max(MISSED_CHECKS * self.check_every_s, SHORTEST_SILENCE_S)

    def stop(self) -> None:
        """End the thread; the outputs are the caller's to close."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout=SHORTEST_SILENCE_S)

    def _watch(self) -> None:
        """Look again and again until told to stop; the guard's thread."""
        while not self._clock.wait(self._stop, self.check_every_s):
            self.check(self._clock.monotonic_s())
