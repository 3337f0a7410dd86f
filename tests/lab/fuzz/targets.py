"""What reads things that may be damaged, each as a function of bytes that raises only if it breaks its word.

The word is the same everywhere: good input is used, bad input gets one clear error of our own, and nothing
else ever comes out. How long an input took and how much memory it cost is checked by the caller.
"""

from __future__ import annotations

import contextlib
import io
import re
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.cli import main
from controller.cli.status import look
from controller.clock import SystemClock
from controller.decision.decide import initial_state
from controller.diagnosis.evidence import no_evidence
from controller.history import database
from controller.history.queries import History
from controller.history.writer import HistoryWriter
from controller.outputs.safe_state import read_pins
from controller.readings.reading import Why
from controller.readings.scratchpad import decode, scratchpad_from_text
from controller.record.memory import to_memory
from controller.record.restoring import restored, restored_evidence
from controller.service.memory_file import MemoryFile
from controller.service.restarts import RestartCount
from controller.settings.load import SettingsError, load
from controller.telemetry.secret import read_password
from controller.telemetry.trouble import LinkError

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.settings.schema import Settings

ROOT = Path(__file__).parents[3]
LONGEST_ERROR = 700  # of one line; the longest names every kind of fault that a script may hold
BEGIN, END = datetime(1970, 1, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC)
BOOT = "00000000-0000-0000-0000-000000000000"


@cache
def one_loop() -> Settings:
    """The smallest house."""
    return load(ROOT / "config" / "one-loop.toml")


def clear(text: str, path: Path) -> None:
    """An error a person can use: a few plain lines, each naming the file, and a line that exists if any."""
    lines = text.split("\n")
    assert lines
    for line in lines:
        assert line.startswith(str(path)), line
        assert line.isprintable(), ascii(line)
        assert len(str(path)) + 10 < len(line) <= len(str(path)) + LONGEST_ERROR, line
        named = re.match(r":(\d+): ", line[len(str(path)) :])
        if named is not None:
            assert (
                1 <= int(named[1]) <= path.read_bytes().count(b"\n") + path.read_bytes().count(b"\r") + 1
            ), line


def settings(path: Path) -> None:
    """A settings file, and what else looks into one: the pins for ``safe``."""
    read_pins(path)
    try:
        load(path)
    except SettingsError as refusal:
        clear(str(refusal), path)


def faults(path: Path) -> None:
    """A script of faults for a rehearsal."""
    from controller.simulator.plant.faults import load_faults  # noqa: PLC0415 - pulls the numerics

    try:
        load_faults(path, one_loop())
    except SettingsError as refusal:
        clear(str(refusal), path)


def weather(path: Path) -> None:
    """A weather file; the first byte says which kind it claims to be."""
    from controller.simulator.weather.formats import WeatherError  # noqa: PLC0415 - pulls the numerics
    from controller.simulator.weather.load import load_weather  # noqa: PLC0415 - pulls the numerics

    content = path.read_bytes()
    kind = path.with_suffix((".csv", ".epw", ".tm2")[content[0] % 3 if content else 0])
    kind.write_bytes(content[1:])
    try:
        load_weather(kind)
    except WeatherError as refusal:
        clear(str(refusal), kind)


def w1_slave(path: Path) -> None:
    """The kernel's two lines of a probe."""
    read = scratchpad_from_text(path.read_text(encoding="ascii", errors="replace"))
    if not isinstance(read, Why):
        value = decode(read)
        assert isinstance(value, Why) or -4100.0 < value < 4100.0


def history(path: Path) -> None:
    """A history file: written to, or set aside, or refused; and read by anybody who asks."""
    with contextlib.suppress(database.StorageError), History(path) as read:
        for ask in (read.samples, read.changes, read.alarms, read.events):
            list(ask(BEGIN, END))
        read.days(BEGIN.date(), END.date())
    writer = HistoryWriter(path, SystemClock(), BOOT)
    writer.close()
    for finding in writer.findings():
        assert finding.detail.isprintable()
    for aside in database.aside_files(path):
        aside.unlink()


def memory(path: Path) -> None:
    """The controller's memory, of this boot and of another."""
    settings = one_loop()
    fresh, nothing = initial_state(settings, 1000.0), no_evidence(settings.loops, 1000.0)
    for boot in (BOOT, "another"):
        file = MemoryFile(path.parent, path.parent, boot, SystemClock())
        path.replace(path.parent / "memory.json")
        found = RestartCount(file.load(), SystemClock()).remembered
        (path.parent / "memory.json").replace(path)
        if found is not None:
            state = restored(fresh, found[0], found[1], 1000.0)
            to_memory(state, restored_evidence(nothing, *found, 1000.0), 1000.0)
        for finding in file.findings():
            assert len(finding.detail) < LONGEST_ERROR


def status(path: Path) -> None:
    """The status file, as ``hypocaust status`` shows it."""
    lines, code = look(path, SystemClock())
    assert lines
    assert code in {0, 2, 3}


def password(path: Path) -> None:
    """The file with the broker's password."""
    path.chmod(0o600)
    with contextlib.suppress(LinkError):
        assert read_password(str(path))


def command_line(path: Path) -> None:
    """Words on the command line: a number for the shell, no traceback, and something said if it is not 0.

    The words name no file that is good, so that nothing is started for real; ``--watch`` would never end.
    """
    words = path.read_bytes().decode("utf-8", "surrogateescape").replace("\0", "").split("\n")
    words = [word for word in words if "/" not in word and not word.startswith("--w")]
    said, complained = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(path.parent),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(complained),
    ):
        try:
            code: Any = main(words)
        except SystemExit as left:
            code = left.code
    assert code in {0, 1, 2, 3}, code
    assert said.getvalue() or complained.getvalue()
    assert "Traceback" not in said.getvalue() + complained.getvalue()


TARGETS: dict[str, Callable[[Path], None]] = {
    "settings": settings,
    "faults": faults,
    "weather": weather,
    "w1_slave": w1_slave,
    "history": history,
    "memory": memory,
    "status": status,
    "password": password,
    "command_line": command_line,
}


def feed(name: str, content: bytes, folder: Path) -> None:
    """Put this content into a file and hand it to a target."""
    path = folder / f"{name}.in"
    path.write_bytes(content)
    TARGETS[name](path)
