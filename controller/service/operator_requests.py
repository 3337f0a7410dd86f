"""What a person asks for on the machine itself: clearing a latched fault. A file is the whole interface.

Nothing here can be reached over the network; who may write into the runtime directory is the file system's
business.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from controller.faults import FaultCode

if TYPE_CHECKING:
    from pathlib import Path

PREFIX = "clear-"
CODES = {code.value: code for code in FaultCode}


def request_clear(runtime_dir: Path, code: FaultCode) -> None:
    """Ask the running daemon to clear a latched fault at its next tick.

    Raises:
        OSError: the request could not be left in the runtime directory.
    """
    (runtime_dir / f"{PREFIX}{code.value}").touch()


class OperatorRequests:
    """Requests waiting in the runtime directory."""

    def __init__(self, runtime_dir: Path) -> None:
        self._directory = runtime_dir

    def take(self) -> frozenset[FaultCode]:
        """Take every waiting request; each counts once, and one that cannot be removed does not count."""
        try:
            with os.scandir(self._directory) as entries:
                waiting = [entry.name for entry in entries if entry.name.startswith(PREFIX)]
        except OSError:
            return frozenset()
        taken = (CODES.get(name.removeprefix(PREFIX)) for name in waiting if self._remove(name))
        return frozenset(code for code in taken if code is not None)

    def _remove(self, name: str) -> bool:
        """Remove one request; return whether it is gone by our hand."""
        try:
            (self._directory / name).unlink()
        except OSError:
            return False
        return True
