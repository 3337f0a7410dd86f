"""A switch that never holds up its caller: a thread of its own does the work and is waited for only so long.

A pin behind a slow bus can hang in its driver. Each output has its own thread, so that one that hangs keeps
neither the tick, nor the lease guard, nor the other outputs waiting for longer than its own deadline, and
once it is known to hang, not at all.

This helps as far as a driver that waits lets other threads run. lgpio 0.2.2 keeps Python's interpreter
locked in every call (its library never releases it), so a call of it that hung would stop the whole process;
then the service manager's watchdog ends the process and ``safe`` switches off.
"""

from __future__ import annotations

import contextlib
import threading
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.outputs.ports import Switch

# A pin answers in microseconds; this is for a board that is busy elsewhere. With a first output that hangs,
# the others are still off within the second that a float edge has (0.2 s of it until it counts). [practice]
DEADLINE_S = 0.5


class _Job:
    """One call to the driver, and whether somebody still waits for it."""

    __slots__ = ("call", "done", "error", "given_up", "result")

    def __init__(self, call: Callable[[], Any]) -> None:
        self.call = call
        self.done = threading.Event()
        self.error: Exception | None = None
        self.given_up = False
        self.result: Any = None

    def run(self) -> None:
        """Call the driver."""
        try:
            self.result = self.call()
        except Exception as problem:  # noqa: BLE001 - raised again where somebody waits for it
            self.error = problem


class DeadlineSwitch:
    """A :class:`controller.outputs.ports.Switch` around another one whose driver may hang.

    What a call that nobody waits for any more was meant to do does not count: as soon as the driver answers
    again, the output is driven OFF.
    """

    def __init__(self, make: Callable[[], Switch], name: str, deadline_s: float = DEADLINE_S) -> None:
        """Open the switch behind this one, with the same deadline.

        Args:
            make: opens it.
            name: for messages.
            deadline_s: longest wait for one call.

        Raises:
            TimeoutError: opening it took too long; an :class:`OSError`, as from every call.
        """
        self._name = name
        self._deadline_s = deadline_s
        self._switch: Switch | None = None
        self._jobs: SimpleQueue[_Job | None] = SimpleQueue()
        self._lock = threading.Lock()
        self._hangs = False
        threading.Thread(target=self._work, name=f"output-{name}", daemon=True).start()
        try:
            self._ask(lambda: setattr(self, "_switch", make()))
        except BaseException:
            self._jobs.put(None)
            raise

    def set(self, on: bool) -> None:
        """Drive the output.

        Raises:
            OSError: it could not be driven, or did not answer in time.
        """
        self._ask(lambda: self._opened().set(on))

    def is_on(self) -> bool:
        """What the output is driven to now.

        Raises:
            OSError: it could not be read, or did not answer in time.
        """
        return bool(self._ask(lambda: self._opened().is_on()))

    def close(self) -> None:
        """Drive the output off and release it; ends the thread.

        Raises:
            OSError: it could not be driven off, or did not answer in time.
        """
        try:
            self._ask(lambda: self._opened().close())
        finally:
            self._jobs.put(None)

    def _opened(self) -> Switch:
        if self._switch is None:
            raise OSError(f"{self._name} is not open")
        return self._switch

    def _ask(self, call: Callable[[], Any]) -> Any:
        """Let the thread do it and wait for the result until the deadline; not at all if it hangs."""
        if self._hangs:
            raise TimeoutError(f"{self._name} has not answered since a call before")
        job = _Job(call)
        self._jobs.put(job)
        if not job.done.wait(self._deadline_s) and self._gives_up(job):
            raise TimeoutError(f"{self._name} has not answered within {self._deadline_s:g} s")
        if job.error is not None:
            raise job.error
        return job.result

    def _gives_up(self, job: _Job) -> bool:
        """Stop waiting for a call, unless it has been answered at the last moment."""
        with self._lock:
            if job.done.is_set():
                return False
            self._hangs = job.given_up = True
            return True

    def _work(self) -> None:
        """Do one call after the other until asked to stop; the output's own thread."""
        while (job := self._jobs.get()) is not None:
            if not job.given_up:
                job.run()
            with self._lock:
                if not job.given_up:
                    job.done.set()
                    continue
            self._end_off()
            self._hangs = False

    def _end_off(self) -> None:
        """After a call that nobody waits for any more; what fails now shows when the output is next read."""
        with contextlib.suppress(Exception):
            self._opened().set(False)
