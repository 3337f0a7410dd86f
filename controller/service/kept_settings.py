"""Keeps a copy of settings that a finished tick has proven, for a start at which the file is refused."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from controller.faults import MINUTE_S, FaultCode, Finding
from controller.settings.last_good import FILE_NAME, write_copy

if TYPE_CHECKING:
    from pathlib import Path

TRY_AGAIN_S = 15 * MINUTE_S


class KeptSettings:
    """The copy in the state directory; written by a thread of its own, as a card may be slow."""

    def __init__(self, path: Path, state_directory: Path) -> None:
        """Name the copy; nothing is written yet.

        Args:
            path: the settings file it is a copy of.
            state_directory: where the copy is kept.
        """
        self._path = path
        self._copy = state_directory / FILE_NAME
        self._text: str | None = None
        self._tried_s = 0.0
        self._trouble: str | None = None
        self._thread: threading.Thread | None = None

    def prove(self, text: str | None, now_mono_s: float) -> None:
        """A tick has been finished with these settings; returns at once.

        Args:
            text: what the settings file holds, None if not all of it is in force.
            now_mono_s: now.
        """
        if text is None or (self._thread is not None and self._thread.is_alive()):
            return
        again = self._trouble is not None and now_mono_s - self._tried_s >= TRY_AGAIN_S
        if text is self._text and not again:
            return
        self._thread = threading.Thread(target=self._keep, args=(text,), name="kept-settings", daemon=True)
        self._thread.start()
        self._text, self._tried_s = text, now_mono_s

    def findings(self) -> tuple[Finding, ...]:
        """Why the settings in force have no copy, if it is missing."""
        if self._trouble is None:
            return ()
        return (Finding(FaultCode.STORAGE, str(self._copy), self._trouble),)

    def close(self, patience_s: float = 5.0) -> None:
        """Wait a few seconds for a copy that is being written."""
        if self._thread is not None:
            self._thread.join(patience_s)

    def _keep(self, text: str) -> None:
        try:
            write_copy(self._copy, self._path, text)
        except OSError as problem:
            self._trouble = f"no copy of the settings can be kept ({problem.strerror or problem})"
        else:
            self._trouble = None
