"""Checks that the service got what its unit file asks for; the system leaves parts of it out silently.

Nothing here can stop control. What is missing is logged once and stands as a finding.
Sources: systemd.exec(5) (ReadWritePaths=, SYSTEMD_EXEC_PID), systemd.resource-control(5) (MemoryMax=), Linux
``admin-guide/cgroup-v1/memory`` and ``admin-guide/cgroup-v2``.
"""

from __future__ import annotations

import os
import pwd
from glob import glob
from pathlib import Path
from typing import TYPE_CHECKING

import structlog

from controller.faults import HOUR_S, FaultCode, Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from controller.clock import Clock

# A bus master can appear at any time: a kernel module that loads late, an adapter that is plugged in.
LOOK_AGAIN_S = HOUR_S
MASTERS = "w1_bus_master*/therm_bulk_read"
UNLIMITED_BYTES = 2**60  # cgroup v1 writes "no limit" as the largest number of whole pages


class UnitCheck:
    """Looks at start and every hour."""

    def __init__(
        self,
        clock: Clock,
        w1_devices: Path,
        directories: Sequence[Path],
        environ: Mapping[str, str] | None = None,
        root: Path = Path("/"),
    ) -> None:
        """Take note of what to look at.

        Args:
            clock: paces the looks.
            w1_devices: the kernel's directory of 1-wire devices.
            directories: the service's own directories.
            environ: the environment, the process's own if None.
            root: where /proc and /sys are.
        """
        self._clock = clock
        self._w1_devices = w1_devices
        self._directories = directories
        self._environ = os.environ if environ is None else environ
        self._root = root
        self._looked_s: float | None = None
        self._found: tuple[Finding, ...] = ()

    def findings(self) -> tuple[Finding, ...]:
        """What the service lacks."""
        now_s = self._clock.monotonic_s()
        if self._looked_s is None or now_s - self._looked_s >= LOOK_AGAIN_S:
            self._looked_s = now_s
            known, self._found = self._found, tuple(self._look())
            for finding in self._found:
                if finding not in known:
                    structlog.get_logger("service").warning(
                        "unit_incomplete", subject=finding.subject, detail=finding.detail
                    )
        return self._found

    def _look(self) -> Iterator[Finding]:
        for name in sorted(glob(MASTERS, root_dir=self._w1_devices)):  # noqa: PTH207 - see sensors.onewire
            file = self._w1_devices / name
            if not os.access(file, os.W_OK):
                yield Finding(FaultCode.UNIT, file.parent.name, _master_detail(file))
        for directory in self._directories:
            if detail := _owner_detail(directory):
                yield Finding(FaultCode.UNIT, str(directory), detail)
        if self._environ.get("SYSTEMD_EXEC_PID") == str(os.getpid()) and not _has_memory_limit(self._root):
            yield Finding(
                FaultCode.UNIT,
                "memory",
                "MemoryMax= in the unit has no effect: the kernel does not count the memory of services. Add "
                "cgroup_enable=memory to the kernel's command line (cmdline.txt on many boards) and restart "
                "the board",
            )


def _master_detail(file: Path) -> str:
    """Why a bus master cannot be written to, and what to do about it."""
    slow = "its probes are read one after the other instead of all at once"
    if _is_read_only(file):
        return (
            f"{slow}: it appeared after the service started, or the unit does not name it. Restart the "
            f"service; if that does not help, add ReadWritePaths=-/sys/devices/{file.parent.name} "
            "with systemctl edit hypocaust"
        )
    return f"{slow}: group gpio may not write to it. Install the udev rule, then restart the board"


def _is_read_only(file: Path) -> bool:
    """Whether the file lies where no user can write."""
    try:
        return bool(os.statvfs(file).f_flag & os.ST_RDONLY)
    except OSError:
        return False


def _owner_detail(directory: Path) -> str:
    """What is wrong with the owner of a directory, empty if it is ours (or we may do everything anyway)."""
    try:
        owner = directory.stat().st_uid
    except OSError:
        return ""
    ours = os.geteuid()
    if ours in (0, owner):
        return ""
    return (
        f"belongs to user {_name(owner)}, but the controller runs as {_name(ours)} and may be unable to open "
        f"files in it. Stop the service, then: chown -R {_name(ours)}: {directory}"
    )


def _name(user: int) -> str:
    """A user's name, or the number where there is no name."""
    try:
        return pwd.getpwuid(user).pw_name
    except KeyError:
        return str(user)


def _has_memory_limit(root: Path) -> bool:
    """Whether the kernel holds this process to a limit of memory."""
    try:
        lines = (root / "proc/self/cgroup").read_text(encoding="ascii").splitlines()
    except (OSError, ValueError):
        return False
    groups = root / "sys/fs/cgroup"
    for line in lines:
        number, controllers, path = line.split(":", 2)
        if "memory" in controllers.split(","):
            file = groups / "memory" / path.lstrip("/") / "memory.limit_in_bytes"
        elif number == "0":
            file = groups / path.lstrip("/") / "memory.max"
        else:
            continue
        try:
            limit = file.read_text(encoding="ascii").strip()
        except (OSError, ValueError):
            continue
        if limit.isdecimal() and int(limit) < UNLIMITED_BYTES:
            return True
    return False
