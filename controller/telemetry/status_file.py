"""The status as a file in the runtime directory, so that it can be read with no broker at all."""

from __future__ import annotations

import contextlib
import json
import os
from typing import TYPE_CHECKING

from controller.faults import FaultCode, Finding
from controller.letters import visible_json
from controller.settings.places import STATUS_NAME
from controller.telemetry.build import BELIEVED_FOR_PERIODS, build_status
from controller.telemetry.said_parts import rfc3339

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from controller.record.tick import TickRecord
    from controller.telemetry.build import Program

FOR_ALL_TO_READ = 0o644


class StatusFile:
    """Watches ticks and keeps the status file fresh; asking it never fails.

    Args:
        runtime_directory: where the file lives; in memory, so that it wears no card.
        program: what to say about the program.
        promises_broken: how many safety rules were found broken so far, None if nobody counts.
    """

    def __init__(
        self, runtime_directory: Path, program: Program, promises_broken: Callable[[], int] | None = None
    ) -> None:
        self._path = runtime_directory / STATUS_NAME
        self._new = (
            runtime_directory / f".{STATUS_NAME}.new"
        )  # made once: pathlib interns every name it is given
        self._program = program
        self._promises_broken = promises_broken
        self._written_s: float | None = None
        self._trouble: str | None = None

    def observe(self, tick: TickRecord) -> None:
        """Write the file if it is due: once a control period, and at every change."""
        if not self._is_due(tick):
            return
        broken = None if self._promises_broken is None else self._promises_broken()
        valid_s = BELIEVED_FOR_PERIODS * tick.settings.service.tick_s
        status = build_status(tick, self._program, valid_s=valid_s, promises_broken=broken)
        try:
            _replace(self._path, self._new, visible_json(status.model_dump_json()).encode() + b"\n")
        except OSError as error:
            self._trouble = f"the status file {self._path} cannot be written: {error.strerror}"
        else:
            self._trouble = None
            self._written_s = tick.now_mono_s

    def close(self, wall_utc: datetime | None) -> None:
        """Add to the last status that the controller was stopped in order; never raises."""
        with contextlib.suppress(OSError, ValueError):
            status = json.loads(self._path.read_text(encoding="utf-8"))
            if self._written_s is not None and isinstance(status, dict):
                status |= {"stopped": True, "stopped_at": rfc3339(wall_utc)}
                text = json.dumps(status, ensure_ascii=False, separators=(",", ":"))
                _replace(self._path, self._new, visible_json(text).encode() + b"\n")

    def findings(self) -> tuple[Finding, ...]:
        """Why the status file is not fresh, if it is not."""
        if self._trouble is None:
            return ()
        return (Finding(FaultCode.STORAGE, STATUS_NAME, self._trouble),)

    def _is_due(self, tick: TickRecord) -> bool:
        if self._written_s is None or tick.decision.changes or tick.diagnosis.events or tick.diagnosis.notes:
            return True
        # Ticks between two periods (a float edge) are no reason to write; one that is a moment early is.
        return tick.now_mono_s - self._written_s >= tick.settings.service.tick_s / 2


def _replace(path: Path, new: Path, content: bytes) -> None:
    """Put ``content`` in place in one step: a reader sees the old file or the new one, never a part."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW | os.O_CLOEXEC
    handle = os.open(new, flags, FOR_ALL_TO_READ)
    with os.fdopen(handle, "wb") as file:
        os.fchmod(file.fileno(), FOR_ALL_TO_READ)
        file.write(content)
    new.replace(path)
