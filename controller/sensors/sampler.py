"""Reads all probes, round after round, on a thread of its own: a slow or hanging bus never blocks a tick."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Protocol

from controller.readings.reading import RawFailure, Why

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.clock import Clock
    from controller.readings.reading import RawSample


class ProbeBus(Protocol):
    """A bus whose probes are read one after the other."""

    def convert_all(self) -> float | None:
        """Let all probes measure at once; when they did, or None where each read measures for itself."""

    def read(self, probe_id: str, converted_at_s: float | None = None) -> RawSample:
        """Read one probe; may block, even for ever."""


class Sampler:
    """The newest sample of every probe, kept by one daemon thread.

    A read that hangs cannot be broken off (the kernel may hold the thread where no signal reaches it),
    and starting more threads would only hang more of them on the same bus. So the thread is left where it
    is, and the reader of the samples sees by the clock that a read is overdue: after
    ``read_deadline_s`` its probe is reported silent, after one more pause between rounds every probe is,
    because one read holds the whole bus. The thread counts as alive all that time; floats and pumps must
    go on, and a restart would not free the bus.

    Args:
        bus: where the probes are.
        probe_ids: identity on the bus, by probe name.
        clock: the pace, and the time of failures.
        sample_every_s: pause between two rounds in seconds.
        read_deadline_s: longest time one read may take in seconds.
    """

    def __init__(
        self,
        bus: ProbeBus,
        probe_ids: Mapping[str, str],
        clock: Clock,
        sample_every_s: float,
        read_deadline_s: float,
    ) -> None:
        self._bus = bus
        self._probe_ids = dict(probe_ids)
        self._clock = clock
        self._sample_every_s = sample_every_s
        self._read_deadline_s = read_deadline_s
        self._stop = threading.Event()
        # One thread writes these two and replaces them whole, so that readers need no lock.
        self._latest: Mapping[str, RawSample] = {}
        self._busy: tuple[str, float] | None = None
        self._thread = threading.Thread(target=self._run, name="probes", daemon=True)

    def start(self) -> None:
        """Begin reading."""
        self._thread.start()

    def latest(self) -> Mapping[str, RawSample]:
        """The newest sample or failure by probe name; never waits."""
        busy = self._busy
        if busy is None:
            return self._latest
        name, started_s = busy
        overdue_s = self._clock.monotonic_s() - started_s - self._read_deadline_s
        if overdue_s <= 0.0:
            return self._latest
        # One failure per missed round, so that the count of failures is what a working bus would give.
        missed = int(overdue_s // self._sample_every_s)
        at_s = started_s + self._read_deadline_s + missed * self._sample_every_s
        silent = RawFailure(Why.SILENT, at_s)
        if missed == 0:
            return {**self._latest, name: silent}
        return dict.fromkeys(self._probe_ids, silent)

    def alive(self) -> bool:
        """Whether the thread still runs; a bus that hangs shows as silent probes, not here."""
        return self._thread.is_alive()

    def close(self) -> None:
        """Stop after the read in progress; a hanging one is left behind and ends with the process."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(self._read_deadline_s)

    def read_round(self) -> None:
        """Read every probe once."""
        # The first probe stands for the bus while all probes measure.
        for first in self._probe_ids:
            self._busy = (first, self._clock.monotonic_s())
            break
        converted_at_s = self._bus.convert_all()
        for name, probe_id in self._probe_ids.items():
            if self._stop.is_set():
                break
            started_s = self._clock.monotonic_s()
            self._busy = (name, started_s)
            sample = self._bus.read(probe_id, converted_at_s)
            now_s = self._clock.monotonic_s()
            if now_s - started_s > self._read_deadline_s:
                sample = RawFailure(Why.SILENT, now_s)
            self._latest = {**self._latest, name: sample}
        self._busy = None

    def _run(self) -> None:
        """The thread."""
        while not self._stop.is_set():
            self.read_round()
            self._clock.wait(self._stop, self._sample_every_s)
