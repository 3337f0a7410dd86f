"""What the sensor tests share: a clock moved by hand and the kernel's files on a plain disk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    import threading
    from datetime import datetime
    from pathlib import Path

GOOD = "70 01 4b 46 7f ff 10 10 e1"


class HandClock:
    """A clock that moves only when a test, or a wait, moves it."""

    def __init__(self) -> None:
        self.now_s = 1000.0
        self.waits: list[float] = []

    def monotonic_s(self) -> float:
        """Seconds as the test has set them."""
        return self.now_s

    def wall_utc(self) -> datetime | None:
        """No date is known."""
        return None

    def wait(self, wake: threading.Event, timeout_s: float) -> bool:
        """Let the time pass at once."""
        self.waits.append(timeout_s)
        if not wake.is_set():
            self.now_s += timeout_s
        return wake.is_set()


class W1Files:
    """A directory like the kernel's, with probes that answer what the test says."""

    def __init__(self, directory: Path) -> None:
        self.directory = directory

    def probe(self, probe_id: str, frame: str = GOOD, *, verdict: str = "YES", t: int = 0) -> Path:
        """Write the two lines of ``w1_slave`` as the kernel prints them."""
        return self.text(
            probe_id,
            f"{frame} : crc={frame.rsplit(maxsplit=1)[-1]} {verdict}\n{frame} t={t}\n".encode("ascii"),
        )

    def text(self, probe_id: str, text: bytes) -> Path:
        """Write any bytes into a probe's ``w1_slave``."""
        folder = self.directory / probe_id
        folder.mkdir(exist_ok=True)
        (folder / "w1_slave").write_bytes(text)
        return folder / "w1_slave"

    def bulk(self, answer: str) -> Path:
        """Offer a conversion of all probes at once; the file answers the same before and after a trigger."""
        master = self.directory / "w1_bus_master1"
        master.mkdir(exist_ok=True)
        file = master / "therm_bulk_read"
        file.write_text(answer, encoding="ascii")
        return file


@pytest.fixture
def clock() -> HandClock:
    """A clock moved by hand."""
    return HandClock()


@pytest.fixture
def w1(tmp_path: Path) -> W1Files:
    """An empty 1-wire directory."""
    directory = tmp_path / "devices"
    directory.mkdir()
    return W1Files(directory)
