"""``hypocaust export``: tables for other programs."""

from __future__ import annotations

import csv
import io
import sys
import threading
from datetime import UTC, datetime, timedelta

import pytest

from controller.cli.export import Request, export
from controller.history.backups import make
from controller.history.rows import At, ChangeRow, EventCode, EventRow, ReadingRow
from controller.history.tables import TABLES
from controller.history.writer import HistoryWriter

NOON = datetime(2026, 3, 7, 12, tzinfo=UTC)
NAMES = {f"{table.name}.csv" for table in TABLES}


class Clock:
    """Stands at noon."""

    def monotonic_s(self):
        """Any."""
        return 1000.0

    def wall_utc(self):
        """Noon."""
        return NOON


def at(hours):
    """A moment so many hours before noon."""
    wall = NOON - timedelta(hours=hours)
    return At(round(1e9 - hours * 3_600_000), round(wall.timestamp() * 1000))


def writing(path):
    """A writer that has written readings of two days, one value missing, and one switching."""
    writer = HistoryWriter(path, Clock(), "boot")
    rows = [ReadingRow(at(hour), ("roof", "=bed"), '[4500,"SILENT"]') for hour in range(48, 0, -1)]
    reason = '{"air_c":3.5}'
    rows.append(ChangeRow(at(0.5), "fan", "north", True, "heat", reason, "warming, \x1b[2J as asked"))
    writer._backlog.put([*rows, EventRow(At(5, None), EventCode.START)])
    assert writer.write_now()
    return writer


@pytest.fixture
def path(tmp_path):
    """A history."""
    found = tmp_path / "history.sqlite3"
    writing(found)._close_connection()
    return found


def asked(path, out, **changed):
    """The exit code and what was printed."""
    request = {
        "file": None,
        "history": str(path),
        "since": None,
        "until": None,
        "out": out,
        "form": "csv",
        "force": False,
    }
    said = io.StringIO()
    return export(Request(**request | changed), said, Clock()), said.getvalue()


def rows(file):
    """What a program reads from a CSV file."""
    with file.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_every_table_is_a_file_with_utc_times_and_units_in_its_names(path, tmp_path, capsys):
    """Missing values are empty cells with their cause; no text is a formula; what is left out is said."""
    out = tmp_path / "new" / "tables"
    assert asked(path, out)[0] == 0
    assert {file.name for file in out.iterdir()} == NAMES
    read = rows(out / "temperatures.csv")
    assert len(read) == 96
    first = {"at_utc": "2026-03-05T12:00:00Z", "averaged_over_s": "0"}
    assert read[:2] == [
        first | {"probe": "roof", "temperature_c": "4.5", "missing_because": ""},
        first | {"probe": "'=bed", "temperature_c": "", "missing_because": "does not answer"},
    ]
    (change,) = rows(out / "switchings.csv")
    assert (change["is_on"], change["numbers"]) == ("1", '{"air_c":3.5}')
    assert change["sentence"] == "warming, ?[2J as asked"
    assert "1 rows are left out: the clock was never set" in capsys.readouterr().err


def test_only_the_range_asked_for_is_written(path, tmp_path):
    """From one moment up to, but not including, another."""
    asked(path, tmp_path / "out", since="2026-03-06 00:00", until="2026-03-06 06:00")
    times = [row["at_utc"] for row in rows(tmp_path / "out" / "temperatures.csv")]
    assert (times[0], times[-1], len(times)) == ("2026-03-06T00:00:00Z", "2026-03-06T05:00:00Z", 12)


def test_what_is_there_is_never_replaced_without_consent(path, tmp_path, capsys):
    """It says which files are there and writes none; with consent all are replaced."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "daily.csv").write_text("mine")
    assert asked(path, out)[0] == 2
    assert "daily.csv" in capsys.readouterr().err
    assert [file.name for file in out.iterdir()] == ["daily.csv"]
    assert (out / "daily.csv").read_text() == "mine"
    assert asked(path, out, force=True)[0] == 0
    assert {file.name for file in out.iterdir()} == NAMES


def test_a_backup_and_a_history_in_use_can_be_exported(tmp_path):
    """The controller goes on writing while its history is read, and a backup gives the same tables."""
    path = tmp_path / "history.sqlite3"
    writer = writing(path)
    writer._close_connection()  # a connection belongs to the thread that opened it
    copy = make(path, tmp_path / "backup", NOON.date())
    stop = threading.Event()

    def write():
        while not stop.is_set():
            writer._backlog.put([EventRow(At(7, at(-1).wall_ms), EventCode.SETTINGS)])
            assert writer.write_now()
        writer._close_connection()

    thread = threading.Thread(target=write)
    thread.start()
    try:
        assert asked(path, tmp_path / "live")[0] == 0
    finally:
        stop.set()
        thread.join()
    assert asked(copy, tmp_path / "kept")[0] == 0
    for name in ("temperatures.csv", "switchings.csv"):
        assert (tmp_path / "live" / name).read_bytes() == (tmp_path / "kept" / name).read_bytes()


def test_parquet_without_its_library_says_what_to_install(path, tmp_path, monkeypatch, capsys):
    """And writes nothing."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert asked(path, tmp_path / "out", form="parquet")[0] == 2
    assert 'pip install "hypocaust[export]"' in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


def test_parquet_holds_the_same_with_types(path, tmp_path):
    """Moments are moments, numbers numbers, and what is missing is null."""
    parquet = pytest.importorskip("pyarrow.parquet")
    assert asked(path, tmp_path / "out", form="parquet")[0] == 0
    table = parquet.read_table(tmp_path / "out" / "temperatures.parquet").to_pylist()
    assert len(table) == 96
    assert table[0]["at_utc"] == datetime(2026, 3, 5, 12, tzinfo=UTC)
    assert [row["temperature_c"] for row in table[:2]] == [4.5, None]
    assert parquet.read_table(tmp_path / "out" / "daily.parquet").num_rows == 0


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"file": "/no/house.toml", "history": None}, "no settings file"),
        ({"history": "/no/history"}, "there is no history at"),
        ({"since": "soonish"}, "is not a time"),
        ({"since": "2026-03-02", "until": "2026-03-01"}, "no time between"),
    ],
)
def test_what_cannot_be_used_is_said(path, tmp_path, capsys, changed, words):
    """And nothing is written."""
    assert asked(path, tmp_path / "out", **changed)[0] == 2
    assert words in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


def test_a_directory_that_cannot_be_made_is_named(path, tmp_path, capsys):
    """A file where the directory should be, for example."""
    (tmp_path / "file").write_text("")
    assert asked(path, tmp_path / "file" / "out")[0] == 2
    assert "cannot be written" in " ".join(capsys.readouterr().err.split())
