"""``hypocaust log``: what happened, read from the history."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import time
from datetime import UTC, datetime, timedelta

import jsonschema
import pytest

from controller.cli.local_time import NotATimeError, moment_of
from controller.cli.log import SCHEMA, Request, log
from controller.decision.command import OutputChange
from controller.diagnosis.alarms import AlarmEvent
from controller.diagnosis.attendance import Note
from controller.faults import FaultCode
from controller.history.writer import HistoryWriter
from controller.readings.said import Act
from tests.telemetry import ticks

NOON = datetime(2026, 3, 7, 12, tzinfo=UTC)
EMPTY = Note(Act.EMPTY, "somebody says that the house is empty: alarms about a crop call nobody")
SEEN = Note(Act.SEEN, "frost: seen by somebody")
DONE = Note(Act.DONE, "floats: done by somebody")


class Clock:
    """Stands at noon, or is not set."""

    def __init__(self, wall=NOON):
        self.wall = wall

    def monotonic_s(self):
        """Any."""
        return 1000.0

    def wall_utc(self):
        """Noon."""
        return self.wall


def written(path, hours=(-30.0, -3.0, -2.0, -1.0)):
    """A history of a fan, a frost, what people said, and a start, at these hours before noon."""
    writer = HistoryWriter(path, Clock(), "a-boot")
    frost = ticks.alarm(FaultCode.FROST, "", "air 0.4 °C, limit 2.0 °C")
    weak = ticks.alarm(FaultCode.LOOP_WEAK, "south")
    rounds = (
        {"decision": ticks.decision(changes=(OutputChange(ticks.NORTH, True, ticks.BANKING),))},
        {"diagnosis": ticks.diagnosis(events=(AlarmEvent(frost, True), AlarmEvent(weak, True)))},
        {"diagnosis": ticks.diagnosis()._replace(notes=(SEEN, DONE))},
        {"diagnosis": ticks.diagnosis(events=(AlarmEvent(frost, False),))._replace(notes=(EMPTY,))},
    )
    for hour, changed in zip(hours, rounds, strict=True):
        at = NOON + timedelta(hours=hour)
        seen = ticks.snapshot(1000.0 + hour * 3600.0 + 200_000.0, wall_utc=at)
        writer.observe(ticks.tick(1, seen.ceiling.at_mono_s + 3.0, snapshot=seen, **changed))
    assert writer.close()
    return path


@pytest.fixture
def path(tmp_path, monkeypatch):
    """A history where the settings say it is."""
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    return written(tmp_path / "history.sqlite3")


def asked(clock=None, **changed):
    """Exit code and what was printed."""
    request = {
        "file": None,
        "history": None,
        "since": "yesterday",
        "until": None,
        "alarms": False,
        "loop": None,
        "form": "text",
    }
    out = io.StringIO()
    return log(Request(**request | changed), out, clock or Clock()), out.getvalue()


@pytest.mark.usefixtures("path")
def test_what_happened_is_told_in_sentences_under_the_days_of_the_place(zone):
    """Two hours east of Greenwich: each day once, local hours, oldest first, nothing wider than 80."""
    zone("XST-2")
    code, text = asked()
    lines = text.splitlines()
    assert code == 0
    assert [line for line in lines if "March" in line] == ["Friday 6 March 2026", "Saturday 7 March 2026"]
    assert all(len(line) <= 80 for line in lines)
    flat = " ".join(text.split())
    told = (
        "08:00:00 the controller started",
        "08:00:00 fan north on: banking heat while the ceiling is at least 1.0 K warmer",
        "11:00:00 ALARM, act now: frost: air 0.4 °C, limit 2.0 °C",
        "11:00:00 ALARM, this week: loop-weak: south: Less air than before",
        "12:00:00 frost: seen by somebody",
        "13:00:00 alarm over: frost",
        "13:00:00 somebody says that the house is empty",
        "14:00:00 the controller stopped",
    )
    places = [flat.index(words) for words in told]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("asked_for", "present", "absent"),
    [
        ({"since": "today"}, ["alarm over"], ["fan north on"]),
        ({"since": "2 hours ago"}, ["seen by somebody"], ["ALARM"]),
        ({"since": "2026-03-07 10:30"}, ["alarm over"], ["seen by somebody"]),
        ({"until": "today"}, ["fan north on"], ["ALARM"]),
        (
            {"alarms": True},
            ["ALARM", "seen by somebody", "house is empty"],
            ["fan north", "floats", "started"],
        ),
        ({"loop": "north"}, ["fan north on"], ["ALARM", "started"]),
        ({"loop": "south"}, ["loop-weak: south"], ["frost", "fan north"]),
    ],
)
@pytest.mark.usefixtures("path")
def test_only_what_was_asked_for_is_told(asked_for, present, absent):
    """By time, alarms alone, one loop alone."""
    code, text = asked(**asked_for)
    assert code == 0
    assert all(words in text for words in present), text
    assert not any(words in text for words in absent), text


@pytest.mark.usefixtures("path")
def test_programs_get_json_and_csv():
    """The same entries, in UTC, as the schema says; the numbers behind a switching come along."""
    entries = json.loads(asked(form="json")[1])
    jsonschema.validate(entries, SCHEMA)
    fan = next(entry for entry in entries if entry["kind"] == "output")
    assert (fan["at"], fan["about"], fan["on"]) == ("2026-03-06T06:00:00Z", "fan north", True)
    assert fan["numbers"]["ceiling_c"] == 31.2
    rows = list(csv.DictReader(io.StringIO(asked(form="csv")[1])))
    assert [row["sentence"] for row in rows] == [entry["sentence"] for entry in entries]
    assert json.loads(asked(form="json", since="today", loop="gone")[1]) == []


def test_no_cell_is_taken_for_a_formula(tmp_path):
    """Words that begin like a formula, as a broker may choose them, reach a spreadsheet as text."""
    path = written(tmp_path / "h.sqlite3")
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE events SET detail = '=1+1' WHERE code = 'seen'")
    assert ",'=1+1" in asked(history=str(path), form="csv")[1]


@pytest.mark.usefixtures("path")
def test_nothing_in_that_time_says_when_something_was():
    """As in a simulated house, whose days are others than ours."""
    code, text = asked(Clock(NOON + timedelta(days=400)), since="today")
    assert (code, text) == (0, "Nothing since 2027-04-11 00:00. The last entry is of 2026-03-07 12:00.\n")


def test_a_history_that_cannot_be_read_is_said_in_one_sentence(path, tmp_path, capsys):
    """Missing, damaged, held by another program, no file at all, no time: what is wrong, exit code 2."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("BEGIN EXCLUSIVE")
    (tmp_path / "damaged").write_bytes(b"SQLite format 3\x00" + b"x" * 5000)
    (tmp_path / "other").write_bytes(b"")
    for history, words in (
        (path, "is held by another program"),
        (tmp_path / "gone", "there is no history at"),
        (tmp_path / "damaged", "is damaged"),
        (tmp_path / "other", "does not have the tables of this release"),
        (tmp_path, "cannot be read"),
    ):
        code, _ = asked(history=str(history))
        said = " ".join(capsys.readouterr().err.split())
        assert (code, words in said) == (2, True), (history, said)
    connection.close()
    assert asked(since="whenever")[0] == 2
    assert '"whenever" is not a time; expected "today"' in " ".join(capsys.readouterr().err.split())
    assert asked(file=str(tmp_path / "huose.toml"))[0] == 2


def test_damaged_rows_are_counted_and_the_rest_is_told(path, capsys):
    """One row that nobody can understand costs that row only."""
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alarms SET priority = 'x' WHERE code = 'frost' AND raised = 1")
    code, text = asked()
    assert (code, "alarm over: frost" in text) == (0, True)
    assert "1 damaged rows" in capsys.readouterr().err


def test_it_reads_while_the_controller_writes(path):
    """An open transaction of the writer holds nobody up and shows nothing half done."""
    writer = sqlite3.connect(path, isolation_level=None)
    writer.execute("BEGIN IMMEDIATE")
    writer.execute("UPDATE alarms SET detail = 'half done'")
    code, text = asked()
    writer.close()
    assert code == 0
    assert "air 0.4 °C" in text
    assert "half done" not in text


def test_a_day_of_a_long_history_is_found_by_its_index(path):
    """Whatever years lie before it: no table is walked through for the rows of a day."""
    steps = []
    with sqlite3.connect(path) as connection:
        for table in ("changes", "alarms", "events"):
            rows = f"{table} WHERE wall_ms >= 0 AND wall_ms < 9 ORDER BY wall_ms, run_id, mono_ms"
            query = f"SELECT * FROM {rows}"  # noqa: S608 - fixed text
            steps += [row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {query}")]
    assert sum("USING INDEX" in step for step in steps) == 3, steps
    assert not any(step.startswith("SCAN") for step in steps), steps


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("today", "2026-03-07 00:00"),
        ("Yesterday", "2026-03-06 00:00"),
        ("2 days ago", "2026-03-05 00:00"),
        ("1 week ago", "2026-02-28 00:00"),
        ("90 minutes ago", "2026-03-07 12:30"),
        ("2026-03-01", "2026-03-01 00:00"),
        ("2026-03-01T06:30", "2026-03-01 06:30"),
    ],
)
def test_times_are_read_as_people_write_them(zone, text, expected):
    """In local time; a day begins at its midnight."""
    zone("XST-2")
    assert f"{moment_of(text, NOON).astimezone():%Y-%m-%d %H:%M}" == expected
    assert time.tzname[0] == "XST"


@pytest.mark.parametrize(
    "text", ["", "now", "2026-02-30", "99999 weeks ago", "-1 days ago", "0000-01-01", "7/3/2026"]
)
def test_other_words_are_refused(text):
    """With what was expected, and never with a traceback."""
    with pytest.raises(NotATimeError):
        moment_of(text, NOON)


def test_without_a_time_of_day_the_newest_entry_is_now(path):
    """A board that does not know the time yet still tells what happened."""
    assert path.exists()
    assert "alarm over" in asked(Clock(None), since="today")[1]
