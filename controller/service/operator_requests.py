"""What a person asks for on the machine itself: clearing a latched fire. Two files are the whole interface.

Nothing here can be reached over the network; who may write into the runtime directory is the file system's
business. A request names the run of the controller it is meant for, so that one left behind clears nothing
later, and it must come from root, the service's user or the person who runs the controller. The answer says
what happened.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import threading
from enum import Enum
from typing import TYPE_CHECKING

from controller.errors import HypocaustError
from controller.faults import FaultCode
from controller.service.running import running
from controller.settings.ownership import NotOursError, open_directory, read_file, write_new

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock
    from controller.record.tick import TickRecord

REQUEST, ANSWER = "clear-fire", "clear-fire-answer"
LONGEST_BYTES = 200
# The longest tick the settings allow is 15 s; the rest is for a busy board.
PATIENCE_S = 25.0
LOOK_EVERY_S = 0.2


class Answer(Enum):
    """What came of a request."""

    CLEARED = "cleared"
    STILL_THERE = "still-there"
    NOTHING_LATCHED = "nothing-latched"
    SILENCE = "silence"


class NobodyRunsError(HypocaustError):
    """No controller runs there, so none can be asked."""


def ask_to_clear_fire(runtime_dir: Path, clock: Clock, patience_s: float = PATIENCE_S) -> Answer:
    """Ask the running controller and wait for what it says; a request it does not take is taken back.

    Raises:
        NobodyRunsError: no controller runs there.
        NotOursError: a stranger may have made the directory or a file in it.
        OSError: the request could not be left in the runtime directory.
    """
    with open_directory(runtime_dir) as directory:
        run = running(directory)
        if run is None:
            raise NobodyRunsError
        return _answered(directory, leave_request(directory, run), clock, patience_s)


def leave_request(directory: int, run: str) -> str:
    """Leave a request for one run of the controller in its open runtime directory; returns what it is called.

    Raises:
        OSError: the directory does not allow it.
    """
    called = secrets.token_hex(8)
    write_new(directory, REQUEST, f"{run} {called}\n".encode())
    return called


def _answered(directory: int, called: str, clock: Clock, patience_s: float) -> Answer:
    """Wait for the answer to one request and take it away."""
    never = threading.Event()
    until_s = clock.monotonic_s() + patience_s
    while True:
        last_look = clock.monotonic_s() >= until_s
        with contextlib.suppress(FileNotFoundError):
            about, _, said = (
                read_file(directory, ANSWER, LONGEST_BYTES).decode("ascii").strip().partition(" ")
            )
            if about == called:
                _remove(directory, ANSWER)
                return Answer(said)
        if last_look:
            _remove(directory, REQUEST)
            return Answer.SILENCE
        clock.wait(never, LOOK_EVERY_S)


class OperatorRequests:
    """The controller's side: takes requests before a tick and answers them after it. Never raises."""

    def __init__(self, runtime_dir: Path, run: str) -> None:
        """Begin with nothing asked; what an earlier run has left is removed.

        Args:
            runtime_dir: where requests are left.
            run: the word that names this run.
        """
        self._path = runtime_dir
        self._run = run
        self._open: str | None = None
        self._was_latched = False
        with contextlib.suppress(OSError, NotOursError), open_directory(runtime_dir) as directory:
            for name in (REQUEST, ANSWER):
                _remove(directory, name)

    def take(self) -> frozenset[FaultCode]:
        """Take a waiting request; it counts once, and one that cannot be removed does not count."""
        with contextlib.suppress(OSError, NotOursError, ValueError), open_directory(self._path) as directory:
            run, called = self._waiting(directory)
            if run == self._run:
                self._open = called
                return frozenset({FaultCode.FIRE})
        return frozenset()

    def observe(self, tick: TickRecord) -> None:
        """Answer what was taken for this tick."""
        latched = tick.state.fire.latched_detail is not None
        if self._open is not None:
            said = Answer.STILL_THERE if latched else Answer.CLEARED
            if not latched and not self._was_latched:
                said = Answer.NOTHING_LATCHED
            with contextlib.suppress(OSError, NotOursError), open_directory(self._path) as directory:
                write_new(directory, ANSWER, f"{self._open} {said.value}\n".encode())
            self._open = None
        self._was_latched = latched

    def _waiting(self, directory: int) -> list[str]:
        """The words of a waiting request, which is removed in any case; empty without a request."""
        try:
            words = read_file(directory, REQUEST, LONGEST_BYTES).decode("ascii").split()
        except FileNotFoundError:
            return ["", ""]
        except (NotOursError, ValueError):
            words = ["", ""]
        return words if _remove(directory, REQUEST) else ["", ""]


def _remove(directory: int, name: str) -> bool:
    """Remove a file; returns whether it is gone by our hand."""
    try:
        os.unlink(name, dir_fd=directory)
    except OSError:
        return False
    return True
