"""How a person asks the running controller something on the machine itself: one file asks, one answers.

Nothing here can be reached over the network; who may write into the runtime directory is the file system's
business. A request names the run of the controller it is meant for, so that one left behind asks nothing
later, and it must come from root, the service's user or the person who runs the controller.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import threading
from typing import TYPE_CHECKING

from controller.errors import HypocaustError
from controller.service.running import running
from controller.settings.ownership import NotOursError, open_directory, read_file, write_new

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock

LONGEST_BYTES = 200
# The longest tick the settings allow is 15 s; the rest is for a busy board.
PATIENCE_S = 25.0
LOOK_EVERY_S = 0.2


class NobodyRunsError(HypocaustError):
    """No controller runs there, so none can be asked."""


def answer_file(name: str) -> str:
    """The name of the file that answers a request of this name."""
    return f"{name}-answer"


def ask(runtime_dir: Path, name: str, words: str, clock: Clock, patience_s: float) -> str | None:
    """Ask the running controller and wait for what it says; a request it does not take is taken back.

    Args:
        runtime_dir: where the controller looks.
        name: which request.
        words: what is asked; empty where the name says it all.
        clock: time.
        patience_s: how long to wait.

    Returns:
        The words of the answer, None if there was none.

    Raises:
        NobodyRunsError: no controller runs there.
        NotOursError: a stranger may have made the directory or a file in it.
        OSError: the request could not be left in the runtime directory.
    """
    with open_directory(runtime_dir) as directory:
        run = running(directory)
        if run is None:
            raise NobodyRunsError
        return _answered(directory, name, leave(directory, name, run, words), clock, patience_s)


def leave(directory: int, name: str, run: str, words: str = "") -> str:
    """Leave a request for one run of the controller in its open runtime directory; returns what it is called.

    Raises:
        OSError: the directory does not allow it.
    """
    called = secrets.token_hex(8)
    write_new(directory, name, f"{run} {called} {words}".rstrip().encode() + b"\n")
    return called


def _answered(directory: int, name: str, called: str, clock: Clock, patience_s: float) -> str | None:
    """Wait for the answer to one request and take it away."""
    never = threading.Event()
    until_s = clock.monotonic_s() + patience_s
    while True:
        last_look = clock.monotonic_s() >= until_s
        with contextlib.suppress(FileNotFoundError):
            content = read_file(directory, answer_file(name), LONGEST_BYTES)
            about, _, said = content.decode("ascii").strip().partition(" ")
            if about == called:
                _remove(directory, answer_file(name))
                return said
        if last_look:
            _remove(directory, name)
            return None
        clock.wait(never, LOOK_EVERY_S)


class Mailbox:
    """The controller's side of one request: takes it before a tick and answers it after. Never raises."""

    def __init__(self, runtime_dir: Path, name: str, run: str) -> None:
        """Begin with nothing asked; what an earlier run has left is removed.

        Args:
            runtime_dir: where requests are left.
            name: which request.
            run: the word that names this run.
        """
        self._path = runtime_dir
        self._name = name
        self._run = run
        self._open: str | None = None
        with contextlib.suppress(OSError, NotOursError), open_directory(runtime_dir) as directory:
            for left in (name, answer_file(name)):
                _remove(directory, left)

    @property
    def waits(self) -> bool:
        """Whether somebody waits for an answer."""
        return self._open is not None

    def take(self) -> list[str] | None:
        """The words of a waiting request, None without one.

        It counts once, and one that cannot be removed does not count.
        """
        with contextlib.suppress(OSError, NotOursError, ValueError), open_directory(self._path) as directory:
            run, called, *words = self._waiting(directory)
            if run == self._run:
                self._open = called
                return words
        return None

    def answer(self, said: str) -> None:
        """Answer what was taken."""
        with contextlib.suppress(OSError, NotOursError), open_directory(self._path) as directory:
            write_new(directory, answer_file(self._name), f"{self._open} {said}\n".encode())
        self._open = None

    def _waiting(self, directory: int) -> list[str]:
        """The words of a waiting request, which is removed in any case; empty without a request."""
        try:
            words = read_file(directory, self._name, LONGEST_BYTES).decode("ascii").split()
        except FileNotFoundError:
            return []
        except (NotOursError, ValueError):
            words = []
        return words if _remove(directory, self._name) else []


def _remove(directory: int, name: str) -> bool:
    """Remove a file; returns whether it is gone by our hand."""
    try:
        os.unlink(name, dir_fd=directory)
    except OSError:
        return False
    return True
