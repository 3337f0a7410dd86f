"""The lease: a command lives only as long as ticks keep coming; a program that hangs loses its outputs."""

from __future__ import annotations

import math
import threading
from typing import TYPE_CHECKING

import structlog

from controller.decision.driven import Lost
from controller.faults import HOUR_S, FaultCode, Finding
from controller.units import duration_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from controller.clock import Clock
    from controller.decision.driven import Pins
    from controller.equipment import OutputId
    from controller.outputs.bank import OutputBank

log = structlog.get_logger(__name__)

LONGEST_CHECK_PAUSE_S = 1.0
CHECKS_PER_LEASE = 10
# How long the end of the program waits for the guard's thread. [practice]
STOP_PATIENCE_S = 5.0
# The tick that ends a hang also ends the trip; the finding outlives it so that a person hears of it.
FINDING_LASTS_S = HOUR_S


def _nobody() -> None:
    """Does nothing: the default listener."""


class LeaseGuard:
    """Switches every output off when no tick has renewed the lease, and keeps them off until one does.

    A tick renews *before* it drives, both with the time at which it began. Outputs are held off from the
    making of the guard to the first renewal. The guard looks every tenth of the lease (at least every second)
    and trips one look early, so that outputs are off before the lease has run out, not after.

    The tick after a trip must hear of it, or it would command on what it believes to be on. A trip is
    therefore noted before anything is switched off, and noted again by a tick that comes too late to renew:
    what such a tick commands is not carried out either.
    """

    def __init__(
        self, bank: OutputBank, clock: Clock, lease_s: float, looked: Callable[[], object] = _nobody
    ) -> None:
        """Hold the outputs off; no thread runs yet.

        Args:
            bank: the outputs.
            clock: the clock whose monotonic time the ticks use.
            lease_s: longest time without a tick.
            looked: called by the guard's thread after each look that found the lease renewed in time.
        """
        self._bank = bank
        self._clock = clock
        self._lease_s = lease_s
        self._looked = looked
        self.check_every_s = min(lease_s / CHECKS_PER_LEASE, LONGEST_CHECK_PAUSE_S)
        self._renewed_mono_s = -math.inf
        self._held_since_mono_s: float | None = clock.monotonic_s()
        self._lost_lock = threading.Lock()
        self._lost_mono_s: float | None = None
        self._trips = 0
        self._last_trip_mono_s = -math.inf
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        bank.hold("no decision has been made yet", self._held_since_mono_s)

    @property
    def trips(self) -> int:
        """How often the lease has run out since the program started."""
        return self._trips

    def start(self) -> None:
        """Start the guard's own thread."""
        self._thread = threading.Thread(target=self._watch, name="lease-guard", daemon=True)
        self._thread.start()

    def renew(self, now_mono_s: float) -> None:
        """Renew the lease.

        Args:
            now_mono_s: when the tick began; a tick that began before the last trip, or so long ago that the
                lease it asks for has all but run out, does not count.
        """
        clock_s = self._clock.monotonic_s()
        held_since_s = self._held_since_mono_s
        if held_since_s is None and self._runs_out(clock_s, now_mono_s):
            self._trip(clock_s)
        elif held_since_s is not None and (now_mono_s < held_since_s or self._runs_out(clock_s, now_mono_s)):
            self._note_loss(clock_s)
        else:
            self._renewed_mono_s = max(self._renewed_mono_s, now_mono_s)
            self._held_since_mono_s = None
            self._bank.release()  # in any case: a hold that came late must not last for ever

    def check(self, now_mono_s: float) -> bool:
        """Trip if the lease would run out before the next check; return whether outputs are held off."""
        if self._held_since_mono_s is None and self._runs_out(now_mono_s, self._renewed_mono_s):
            self._trip(now_mono_s)
        return self._held_since_mono_s is not None

    def lost(self) -> Lost | None:
        """What went off without a decision since this was last asked: everything, or single outputs."""
        with self._lost_lock:
            at_mono_s, self._lost_mono_s = self._lost_mono_s, None
        lost = self._bank.lost()
        if at_mono_s is None:
            return lost
        return Lost(frozenset() if lost is None else lost.cut, self._lease_s, at_mono_s)

    def _runs_out(self, now_mono_s: float, renewed_mono_s: float) -> bool:
        return now_mono_s - renewed_mono_s >= self._lease_s - self.check_every_s

    def _trip(self, now_mono_s: float) -> None:
        """The lease has run out."""
        self._note_loss(now_mono_s)
        self._trips += 1
        self._last_trip_mono_s = self._held_since_mono_s = now_mono_s
        self._bank.hold("the lease ran out", now_mono_s)
        log.error("lease_ran_out", lease_s=self._lease_s, trips=self._trips)

    def _note_loss(self, now_mono_s: float) -> None:
        with self._lost_lock:
            if self._lost_mono_s is None:
                self._lost_mono_s = now_mono_s

    def findings(self) -> tuple[Finding, ...]:
        """A finding for an hour after the last trip."""
        if self._clock.monotonic_s() - self._last_trip_mono_s > FINDING_LASTS_S:
            return ()
        lease = duration_text(self._lease_s)
        detail = f"no decision for {lease}: all outputs were switched off ({self._trips} times so far)"
        return (Finding(FaultCode.OUTPUT, "lease", detail),)

    def stop(self) -> None:
        """End the thread; the outputs are the caller's to close."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout=STOP_PATIENCE_S)

    def _watch(self) -> None:
        """Look again and again until asked to stop; the guard's thread."""
        while not self._clock.wait(self._stop, self.check_every_s):
            if not self.check(self._clock.monotonic_s()):
                self._report_look()

    def _report_look(self) -> None:
        try:
            self._looked()
        except Exception:
            log.exception("guard_listener_failed")


class LeasedOutputs:
    """The outputs as the loop drives them: each tick first renews the lease, then drives."""

    def __init__(self, outputs: OutputBank, guard: LeaseGuard) -> None:
        self._outputs = outputs
        self._guard = guard

    def lost(self) -> Lost | None:
        """What went off without a decision since the last tick."""
        return self._guard.lost()

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> Pins:
        """Renew, then drive."""
        self._guard.renew(now_mono_s)
        return self._outputs.drive(commands, now_mono_s)

    def all_off(self) -> None:
        """Everything off, now."""
        self._outputs.all_off("a tick failed")
