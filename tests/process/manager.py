"""Stands in for the service manager where systemd is not process 1: the unit's watchdog and what follows.

Source: systemd.service(5) on WatchdogSec, TimeoutAbortSec, ExecStopPost; systemd.kill(5) on WatchdogSignal.
"""

from __future__ import annotations

import signal
import subprocess
import time
from typing import TYPE_CHECKING

from tests.process.bench import ROOT

if TYPE_CHECKING:
    from tests.process.bench import Bench

UNIT = ROOT / "systemd" / "hypocaust.service"


class Manager:
    """Follows one program by its notices, as its unit says."""

    def __init__(self, bench: Bench) -> None:
        """Take over a bench whose program has not been started yet."""
        lines = UNIT.read_text(encoding="utf-8").splitlines()
        settings = dict(line.split("=", 1) for line in lines if "=" in line and not line.startswith("#"))
        self._bench = bench
        self._signal = signal.Signals[settings.get("WatchdogSignal", "SIGABRT")]
        self._abort_s = float(settings["TimeoutAbortSec"])
        bench.watchdog_s = self._watchdog_s = float(settings["WatchdogSec"])

    def follow(self) -> None:
        """Wait until the program has been silent for too long; end it, and run what follows its end."""
        process, notify = self._bench.process, self._bench.notify
        assert process is not None
        fed_s = time.monotonic()
        while (left_s := fed_s + self._watchdog_s - time.monotonic()) > 0.0:
            notify.settimeout(left_s)
            try:
                message = notify.recv(4096).decode()
            except TimeoutError:
                break
            if "WATCHDOG=1" in message:
                fed_s = time.monotonic()
        process.send_signal(self._signal)
        try:
            process.wait(self._abort_s)
        except subprocess.TimeoutExpired:
            self._bench.kill()
        done = self._bench.safe()
        assert done.returncode == 0, done.stderr
