"""Reports to systemd: ready, busy, alive, stopping. Does nothing without a listener.

Source: sd_notify(3), systemd.service(5), sd_watchdog_enabled(3).
"""

from __future__ import annotations

import os
import socket
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

MICROSECONDS = 1e6
# sd_watchdog_enabled(3) asks for pings at half the interval; a third leaves room for one late tick.
PINGS_PER_INTERVAL = 3
# After the watchdog has ended the program, its outputs are off within this: a start of `safe` takes 0.3 s on
# a desk (measured, other work beside it) and ten times that on a small board with a slow card (an estimate).
SAFE_WITHIN_S = 10.0


class Notifier:
    """The notification socket of the service manager; a message that cannot be sent is dropped."""

    def __init__(self, environ: Mapping[str, str] | None = None) -> None:
        """Find the socket in NOTIFY_SOCKET (``@``: the abstract namespace); without it, stay silent."""
        address = (os.environ if environ is None else environ).get("NOTIFY_SOCKET", "")
        self._address = "\0" + address[1:] if address.startswith("@") else address

    def ready(self, status: str = "") -> bool:
        """Report that start-up, or a reload, is over."""
        return self._send(["READY=1"], status)

    def status(self, status: str) -> bool:
        """Report one line for ``systemctl status``."""
        return self._send([], status)

    def reloading(self, now_mono_s: float) -> bool:
        """Report that settings are being read again; :meth:`ready` must follow even if they are rejected."""
        return self._send(["RELOADING=1", f"MONOTONIC_USEC={round(now_mono_s * MICROSECONDS)}"])

    def stopping(self, status: str = "") -> bool:
        """Report that the daemon is on its way out."""
        return self._send(["STOPPING=1"], status)

    def watchdog(self) -> bool:
        """Report that the daemon works; only :class:`Watchdog` decides when that is true."""
        return self._send(["WATCHDOG=1"])

    def _send(self, lines: list[str], status: str = "") -> bool:
        """Send one datagram without ever waiting; return whether it was taken."""
        if not self._address:
            return False
        if status:
            lines = [*lines, "STATUS=" + " ".join(status.split())]
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
                sender.setblocking(False)
                sender.sendto("\n".join(lines).encode(), self._address)
        except OSError:
            return False
        return True


class Watchdog:
    """Keeps systemd's watchdog quiet for as long as ticks come and every worker is alive."""

    def __init__(
        self, notifier: Notifier, environ: Mapping[str, str] | None = None, pid: int | None = None
    ) -> None:
        """Read the interval from WATCHDOG_USEC, unless WATCHDOG_PID says it is meant for another process."""
        source = os.environ if environ is None else environ
        self._notifier = notifier
        self.interval_s = _interval_s(source, os.getpid() if pid is None else pid)
        self._pinged_mono_s: float | None = None

    def too_slow_for(self, lease_s: float) -> bool:
        """Whether a program that stands still would be switched off later than ``lease_s`` after that."""
        return self.interval_s is not None and self.interval_s + SAFE_WITHIN_S > lease_s

    def beat(self, all_alive: bool, now_mono_s: float) -> bool:
        """Ping at most every third of the interval, and only if all is well; return whether a ping was sent.

        Args:
            all_alive: the lease is renewed and every worker has answered.
            now_mono_s: the monotonic time.
        """
        if self.interval_s is None or not all_alive:
            return False
        pause_s = self.interval_s / PINGS_PER_INTERVAL
        if self._pinged_mono_s is not None and now_mono_s - self._pinged_mono_s < pause_s:
            return False
        if not self._notifier.watchdog():
            return False
        self._pinged_mono_s = now_mono_s
        return True


def _interval_s(environ: Mapping[str, str], pid: int) -> float | None:
    """The watchdog interval meant for this process, None without a watchdog."""
    interval_us = environ.get("WATCHDOG_USEC", "")
    meant_for = environ.get("WATCHDOG_PID", str(pid))
    if not interval_us.isdecimal() or int(interval_us) == 0 or meant_for != str(pid):
        return None
    return int(interval_us) / MICROSECONDS
