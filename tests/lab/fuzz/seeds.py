"""What fuzzing begins with: our own files, small ones made here, and inputs that once did harm."""

from __future__ import annotations

import json
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from tests.process.bench import w1_slave

HERE = Path(__file__).parent
CONFIG = HERE.parents[2] / "config"
NAMES = (
    "settings",
    "faults",
    "weather",
    "w1_slave",
    "history",
    "memory",
    "status",
    "password",
    "command_line",
)


# What readers choke on: depth, length, and bytes that are no text.
HAZARDS = (
    *(b"", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\n\n", b"[" * 4000, b"{" * 4000),
    *(b"a = " + b"[" * 4000, b"a = 1" + b"0" * 5000, b'{"a":' * 2000, b'{"version":1' + b"0" * 5000 + b"}"),
    *(b"a = 1e999", b"a = nan", b"a" * 20_000, b'"' * 9000, b'a = "\\u0000"', b"a" + b".a" * 5000 + b" = 1"),
)


def seeds(name: str) -> list[bytes]:
    """Contents to begin with, the committed ones first."""
    kept = [path.read_bytes() for path in sorted((HERE / "corpus" / name).glob("*"))]
    match name:
        case "settings":
            made = [path.read_bytes() for path in sorted(CONFIG.glob("*.toml"))]
        case "w1_slave":
            made = [w1_slave(value_c).encode() for value_c in (-10.0625, 0.0, 21.5, 85.0)]
        case "history":
            made = [empty_history()]
        case "weather":
            made = beginnings_of_weather()
        case "password":
            made = [b"correct horse\n"]
        case _:
            made = []
    return [*kept, *made, *HAZARDS]


def empty_history() -> bytes:
    """A history file of this release, closed in good order."""
    from controller.history import database  # noqa: PLC0415 - the fuzzer instruments it first

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "history.sqlite3"
        with closing(database.open_for_writing(path)) as connection:
            connection.execute("INSERT INTO runs VALUES (1, 'boot', 1000)")
            connection.execute("INSERT INTO probe_sets VALUES (1, ?)", (json.dumps(["a", "b"]),))
            connection.execute("INSERT INTO readings VALUES (1, 1, 1000, 1000, 0, 1, '[1500,\"SILENT\"]')")
            connection.execute("PRAGMA journal_mode = DELETE")
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("VACUUM")
        return path.read_bytes()


def beginnings_of_weather() -> list[bytes]:
    """The first lines of each kind of file, after the byte that says which kind it is."""
    import pvlib  # noqa: PLC0415 - heavy

    from tests.simulator.weather.test_files import epw  # noqa: PLC0415

    shipped = Path(pvlib.__file__).parent / "data"
    with tempfile.TemporaryDirectory() as folder:
        made = epw(Path(folder)).read_bytes()
    kinds = ((shipped / "723170TYA.CSV").read_bytes(), made, (shipped / "12839.tm2").read_bytes())
    return [bytes([kind]) + content[:4000] for kind, content in enumerate(kinds)]
