"""DS18B20 probes through the files the Linux kernel offers for them.

The package w1thermsensor is used for what it knows best: which family codes on a 1-wire bus are
thermometers and what the parts are called. It does not do the reading. Its read hides the nine bytes on
failure, so that a shorted line, noise and a probe that is gone all look alike; it takes a true 85 °C for
the power-on value; and it can neither be pointed at another directory for one reader only nor start a
conversion of all probes at once.

Sources: Linux ``Documentation/w1/slaves/w1_therm.rst`` (files, bulk conversion), DS18B20 data sheet (times).
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass
from glob import glob
from pathlib import Path
from typing import TYPE_CHECKING, Final

from controller.readings.reading import RawFailure, RawTemperature, Why
from controller.readings.scratchpad import decode, scratchpad_from_text

if TYPE_CHECKING:
    from controller.clock import Clock
    from controller.readings.reading import RawSample

BULK_FILES: Final = "w1_bus_master*/therm_bulk_read"
BULK_PATIENCE_S: Final = 2.0  # the longest conversion is 0.75 s (data sheet); the rest is for slow clones
BULK_POLL_S: Final = 0.05
READS: Final = 2  # a noisy answer is asked for once more


@dataclass(frozen=True, slots=True)
class ListedProbe:
    """A thermometer the kernel has found.

    Attributes:
        probe_id: its identity on the bus, family code first.
        part: the name of the part, by its family code.
    """

    probe_id: str
    part: str


class OneWireBus:
    """All 1-wire probes of the board.

    Args:
        w1_devices: the kernel's directory of 1-wire devices.
        clock: dates each conversion and paces the wait for one.
    """

    def __init__(self, w1_devices: str | Path, clock: Clock) -> None:
        self._directory = Path(w1_devices)
        self._clock = clock
        self._never = threading.Event()
        self._bulk_files: dict[str, Path] = {}

    def listed(self) -> tuple[ListedProbe, ...]:
        """The thermometers the kernel lists now, by identity; unplugged ones stay listed for a while.

        Raises:
            OSError: there is no bus, or it may not be looked at.
        """
        names = sorted(entry.name for entry in self._directory.iterdir())
        parts = ((name, _part_name(name)) for name in names)
        return tuple(ListedProbe(name, part) for name, part in parts if part is not None)

    def convert_all(self) -> float | None:
        """Let all probes measure at once, where the kernel offers it and we may.

        Returns:
            When they measured (monotonic seconds), or None if each read has to start its own conversion.
        """
        try:
            # Path.glob interns every name it meets, and on Python 3.11 their table grows by a megabyte.
            found = glob(BULK_FILES, root_dir=self._directory)  # noqa: PTH207
            files = [self._bulk_file(name) for name in found]
            files = [file for file in files if os.access(file, os.W_OK)]
            for file in files:
                file.write_text("trigger\n", encoding="ascii")
            started_s = self._clock.monotonic_s()
            if files and all(self._ready(file, started_s + BULK_PATIENCE_S) for file in files):
                return started_s
        except OSError:
            return None
        return None

    def read(self, probe_id: str, converted_at_s: float | None = None) -> RawSample:
        """Read one probe; blocks for its conversion unless ``convert_all`` has made one.

        Args:
            probe_id: its identity on the bus.
            converted_at_s: what ``convert_all`` returned.
        """
        failure = RawFailure(Why.SILENT, self._clock.monotonic_s())
        for _ in range(READS):
            sample = self._read_once(probe_id, converted_at_s)
            if isinstance(sample, RawTemperature):
                return sample
            failure = sample
            if failure.why is not Why.NOISY:
                break
            converted_at_s = None  # the kernel hands out a shared conversion once; this read makes a new one
        return failure

    def _read_once(self, probe_id: str, converted_at_s: float | None) -> RawSample:
        """One look into the probe's file; opening it reads the probe."""
        try:
            text = (self._directory / probe_id / "w1_slave").read_text(encoding="ascii", errors="replace")
        except OSError:
            return RawFailure(Why.SILENT, self._clock.monotonic_s())
        now_s = self._clock.monotonic_s()
        scratchpad = scratchpad_from_text(text)
        if isinstance(scratchpad, Why):
            return RawFailure(scratchpad, now_s)
        value = decode(scratchpad)
        if isinstance(value, Why):
            return RawFailure(value, now_s)
        return RawTemperature(value, now_s if converted_at_s is None else converted_at_s, scratchpad)

    def _bulk_file(self, name: str) -> Path:
        """The path of a bus master's file, made once."""
        return self._bulk_files.get(name) or self._bulk_files.setdefault(name, self._directory / name)

    def _ready(self, file: Path, until_s: float) -> bool:
        """Wait until a bus says 1 (all probes have measured); −1 means busy, 0 that nothing was started."""
        while file.read_text(encoding="ascii", errors="replace").strip() == "-1":
            if self._clock.monotonic_s() >= until_s:
                return False
            self._clock.wait(self._never, BULK_POLL_S)
        return file.read_text(encoding="ascii", errors="replace").strip() == "1"


def _part_name(device: str) -> str | None:
    """What a device directory holds: the part's name, or None if it is no thermometer."""
    # Without this the import starts modprobe and fails on a machine that has no bus; only "1" is understood.
    os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] = "1"
    from w1thermsensor import Sensor  # noqa: PLC0415 - the setting above must come first

    code, dash, _serial = device.partition("-")
    try:
        return str(Sensor.from_id_string(code).name) if dash else None
    except ValueError:
        return None
