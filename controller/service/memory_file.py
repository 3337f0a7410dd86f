"""What the controller must remember across a restart, kept in two places.

The copy in the runtime directory (memory, gone with the boot) is written at every save; its monotonic times
hold for this boot. The copy in the state directory (card) is written rarely, by a thread, so that neither a
slow card nor its wear matters; it carries latches over a boot. What is urgent (motors, water, latches) goes
into a spare beside it as well, so that a damaged block does not cost a fire latch.
Write order for the card: temporary file, fsync, rename, fsync of the directory (rename(2), fsync(2)).
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import threading
import zlib
from typing import TYPE_CHECKING, Any

from controller.durable import sync_directory
from controller.faults import MINUTE_S, FaultCode, Finding

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock

FILE_NAME = "memory.json"
SPARE_NAME = "memory-spare.json"
VERSION = 2
KEEP_EVERY_S = 15 * MINUTE_S
CLOSE_PATIENCE_S = 5.0


class MemoryFile:
    """The controller's memory as JSON. Trouble with files never raises; it shows in :meth:`findings`."""

    def __init__(
        self,
        runtime_dir: Path,
        state_dir: Path,
        boot_id: str,
        clock: Clock,
        keep_every_s: float = KEEP_EVERY_S,
    ) -> None:
        """Name the two copies; nothing is touched yet.

        Args:
            runtime_dir: a directory in memory that lives as long as the boot.
            state_dir: a directory on the card.
            boot_id: the kernel's name for this boot; empty means unknown, and then no copy is of this boot.
            clock: paces the writes to the card.
            keep_every_s: shortest time between two writes to the card, urgent ones apart.
        """
        self._runtime = runtime_dir / FILE_NAME
        self._state = state_dir / FILE_NAME
        self._spare = state_dir / SPARE_NAME
        self._boot_id = boot_id
        self._clock = clock
        self._keep_every_s = keep_every_s
        self._kept_mono_s = -math.inf
        self._newest: str | None = None
        self._kept: str | None = None
        self._urgent = False
        self._trouble: dict[str, str] = {}
        self._wake = threading.Event()
        self._stopping = False
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Start the thread that writes to the card."""
        self._thread = threading.Thread(target=self._keep_on, name="memory-file", daemon=True)
        self._thread.start()

    def load(self) -> tuple[dict[str, Any], bool] | None:
        """Read what was remembered.

        Returns:
            The memory and whether it is from this boot (then its monotonic times hold), or None if there is
            none that can be read.
        """
        runtime = self._read(self._runtime)
        if runtime is not None and self._boot_id and runtime[1] == self._boot_id:
            return runtime[0], True
        kept = self._read(self._state) or self._read(self._spare)
        # A copy on the card may be minutes old even within a boot: starts since then are missing from it.
        return None if kept is None else (kept[0], False)

    def save(self, memory: dict[str, Any], *, urgent: bool = False) -> None:
        """Remember something new.

        Args:
            memory: what to remember, as JSON can hold it.
            urgent: write it to the card now rather than with the next regular write (a latch changed).
        """
        try:
            body = _body(memory)
        except (TypeError, ValueError) as problem:
            self._trouble["memory"] = f"the memory cannot be written as JSON ({problem})"
            return
        self._trouble.pop("memory", None)
        self._newest = (
            f'{{"version":{VERSION},"boot_id":{json.dumps(self._boot_id)},'
            f'"crc32":{_check(self._boot_id, body)},"memory":{body}}}'
        )
        if not self._write(self._runtime, self._newest, safely=False):
            # An old copy would be taken for the newest of this boot, without the starts since.
            with contextlib.suppress(OSError):
                self._runtime.unlink(missing_ok=True)
        if urgent:
            self._urgent = True
            self._wake.set()

    def keep(self, now_mono_s: float) -> bool:
        """Write the newest memory to the card if it is due and differs; return whether it was written."""
        text, urgent = self._newest, self._urgent
        if (
            text is None
            or text == self._kept
            or not (urgent or now_mono_s - self._kept_mono_s >= self._keep_every_s)
        ):
            return False
        self._urgent = False
        self._kept_mono_s = now_mono_s
        if not self._write(self._state, text, safely=True):
            return False
        if urgent:
            self._write(self._spare, text, safely=True)
        self._kept = text
        return True

    def alive(self) -> bool:
        """Whether the thread still runs."""
        return self._thread is not None and self._thread.is_alive()

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong with the files now."""
        return tuple(
            Finding(FaultCode.STORAGE, subject, detail) for subject, detail in sorted(self._trouble.items())
        )

    def close(self) -> None:
        """Write the newest memory to the card, waiting only a few seconds for a card that hangs."""
        self._stopping = True
        self._wake.set()
        if self._thread is None:
            self._keep_last()
        else:
            self._thread.join(timeout=CLOSE_PATIENCE_S)

    def _keep_on(self) -> None:
        """Write to the card when due or woken, and once more at the end; the thread."""
        while not self._stopping:
            self._clock.wait(self._wake, self._keep_every_s)
            self._wake.clear()
            self.keep(self._clock.monotonic_s())
        self._keep_last()

    def _keep_last(self) -> None:
        """Write the newest memory to the card, due or not."""
        self._urgent = True
        self.keep(self._clock.monotonic_s())

    def _read(self, path: Path) -> tuple[dict[str, Any], str] | None:
        """One copy as (memory, boot id), or None with a finding if it is damaged."""
        try:
            content = json.loads(path.read_text(encoding="utf-8"))
            memory, boot_id = content["memory"], content["boot_id"]
            if content["version"] != VERSION or not isinstance(memory, dict) or not isinstance(boot_id, str):
                raise ValueError("not a memory of this version")  # noqa: TRY301 - one place handles all damage
            if content["crc32"] != _check(boot_id, _body(memory)):
                raise ValueError("its check sum is wrong")  # noqa: TRY301
        except FileNotFoundError:
            return None
        except (OSError, ValueError, KeyError, TypeError, RecursionError) as problem:
            self._trouble[str(path)] = f"cannot be read and is ignored ({problem})"
            return None
        return memory, boot_id

    def _write(self, path: Path, text: str, *, safely: bool) -> bool:
        """Replace one copy as a whole; return whether that worked."""
        beside = path.with_suffix(".new")
        try:
            with beside.open("w", encoding="utf-8") as file:
                file.write(text)
                if safely:
                    file.flush()
                    os.fsync(file.fileno())
            beside.replace(path)
            if safely:
                sync_directory(path.parent)
        except OSError as problem:
            self._trouble[str(path)] = f"cannot be written ({problem.strerror or problem})"
            return False
        self._trouble.pop(str(path), None)
        return True


def _body(memory: dict[str, Any]) -> str:
    """The memory as JSON, the same text whenever the memory is the same."""
    return json.dumps(memory, allow_nan=False, separators=(",", ":"))


def _check(boot_id: str, body: str) -> int:
    """Distinguishes a memory as it was written from one in which a number has changed since."""
    return zlib.crc32(f"{boot_id} {body}".encode())
