"""Recorded days through the same loop: the same settings repeat them, others differ as they must."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime, timedelta

import jsonschema
import pytest

from controller.cli.replay import Request, replay_days
from controller.equipment import OutputId
from controller.history.queries import History
from controller.history.rows import AlarmRow, At, ChangeRow, EventCode, EventRow, ReadingRow
from controller.history.writer import HistoryWriter
from controller.readings.reading import Level
from controller.rehearsal.run import Rehearsal, rehearse
from controller.replay.as_json import SCHEMA
from controller.replay.record import recorded
from controller.replay.run import OtherHouseError, replay, same_wiring
from controller.settings.load import load, parse
from tests.process.bench import ROOT

FILE = ROOT / "config" / "house.toml"
HOUSE = load(FILE)
TEXT = FILE.read_text(encoding="utf-8")
NOON = datetime(2026, 3, 7, 12, tzinfo=UTC)
FROSTY = datetime(2026, 1, 6)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory):
    """The history of two winter days of the simulated house."""
    path = tmp_path_factory.mktemp("replay") / "history.sqlite3"
    rehearse(Rehearsal(HOUSE, "carolina", FROSTY, 2.0, history=path))
    return path


def span(history):
    """All of a history."""
    return history.oldest_utc(), history.newest_utc()


def hours(played):
    """Fan hours of all loops and days."""
    return sum(loop.run_s for day in played.days for loop in day.loops.values()) / 3600.0


@pytest.mark.rehearsal
def test_the_same_settings_repeat_what_was_recorded(rehearsed):
    """The fans are in the recorded state for nine tenths of the time at least, and run as long."""
    with History(rehearsed) as history:
        played = replay(history, HOUSE, None, *span(history))
    recorded_h = sum(played.ran_s.values()) / 3600.0
    assert recorded_h > 40.0
    assert hours(played) == pytest.approx(recorded_h, rel=0.03)
    assert played.agreement.same > 0.9
    assert played.agreement.of_running > 0.9


@pytest.mark.rehearsal
def test_other_setpoints_switch_otherwise_and_the_same_ones_do_not(rehearsed):
    """A house that is to be warmer runs its fans longer; a copy of the file changes nothing."""
    warmer = parse(TEXT.replace('heat_below = "4.5 °C"', 'heat_below = "6 °C"'), "warmer.toml")
    with History(rehearsed) as history:
        began_utc, _ = span(history)
        now, copy, then = (
            replay(history, HOUSE, other, began_utc, began_utc + timedelta(days=1))
            for other in (None, load(FILE), warmer)
        )
    assert copy.days == now.days
    assert copy.changes == now.changes
    assert hours(then) > 1.05 * hours(now)


def test_settings_of_another_house_are_refused():
    """It says what differs."""
    other = parse(TEXT.replace("[probes.bench]", "[probes.table]"), "other.toml")
    same_wiring(HOUSE, load(FILE))
    with pytest.raises(OtherHouseError, match="probes: bench, table"):
        same_wiring(HOUSE, other)


class Clock:
    """Stands at noon."""

    def monotonic_s(self):
        """Any."""
        return 1000.0

    def wall_utc(self):
        """Noon."""
        return NOON


def at(minutes):
    """A moment so many minutes after noon."""
    wall = NOON + timedelta(minutes=minutes)
    return At(round(1e9 + minutes * 60_000), round(wall.timestamp() * 1000))


def pump(minutes, on, code, numbers=""):
    """The pump of the sump switched."""
    return ChangeRow(at(minutes), "pump", "main", on, code, f"{{{numbers}}}", "a sentence")


def fan(minutes, on, code="heat", numbers=""):
    """The fan of the north loop switched."""
    return ChangeRow(at(minutes), "fan", "north", on, code, f"{{{numbers}}}", "a sentence")


def history_of(path, rows):
    """A history of these rows."""
    writer = HistoryWriter(path, Clock(), "boot")
    writer._backlog.put(rows)
    assert writer.write_now()
    writer._close_connection()
    return path


WET, DRY = Level.WET, Level.DRY
EMPTIED = '"run_s":60,"run_on_s":20'


@pytest.mark.parametrize(
    ("rows", "levels"),
    [
        ([], {0: DRY}),
        (
            [pump(10, True, "pump-wet"), pump(12, False, "pump-emptied", EMPTIED)],
            {9: DRY, 11: WET, 11.7: DRY, 13: DRY},
        ),
        (
            [
                pump(10, True, "pump-wet"),
                pump(40, False, "pump-longest-run"),
                pump(42, True, "pump-wet"),
                pump(50, False, "pump-emptied", EMPTIED),
            ],
            {41: WET, 49: WET, 50: DRY},
        ),
        ([fan(10, False, "flood", '"sump":"main","for_s":30')], {9: DRY, 9.6: WET, 30: WET}),
        ([pump(10, True, "pump-duty"), pump(11, False, "pump-duty-done")], {8: DRY, 10: None, 12: None}),
        (
            [pump(10, True, "pump-duty"), AlarmRow(at(30), "float", "main", 2, False, "")],
            {20: None, 31: DRY},
        ),
        ([pump(10, True, "pump-exercise")], {11: DRY}),
    ],
)
def test_floats_follow_from_what_was_switched(tmp_path, rows, levels):
    """Wet while the pump ran for water, not readable while it ran by the clock, else dry."""
    with History(history_of(tmp_path / "history.sqlite3", rows)) as history:
        record = recorded(history, NOON, NOON + timedelta(hours=1))
    line = record.floats.get("main")
    for minutes, level in levels.items():
        at_s = (NOON + timedelta(minutes=minutes)).timestamp()
        assert (DRY if line is None else line.at(at_s, DRY)) is level


def test_a_start_of_the_program_ends_what_ran_before(tmp_path):
    """After a crash nothing says that the fan went off, but that the program began anew."""
    rows = [fan(0, True), EventRow(at(30), EventCode.START)]
    with History(history_of(tmp_path / "history.sqlite3", rows)) as history:
        record = recorded(history, NOON, NOON + timedelta(hours=1))
    line = record.outputs["fan:north"]
    assert [line.at(at(minute).wall_ms / 1000, otherwise=False) for minute in (10, 31)] == [True, False]


def cold(minutes, air_c=3.0):
    """Readings of a cold house over warm soil, its outlets as warm as moving air."""
    warm = {"soil": 12.0, "root-zone": 11.0, "outlet": 10.0, "outdoor": -3.0}
    values = [round(1000 * warm.get(probe.place, air_c)) for probe in HOUSE.probes.values()]
    return ReadingRow(at(minutes), tuple(HOUSE.probes), json.dumps(values))


def test_water_in_the_record_locks_the_fans_here_too(tmp_path):
    """A cold house wants its fans; while its sump was wet and its tubes drained, none runs."""
    rows = [cold(minute, 3.0 + minute % 7 / 16) for minute in range(0, 300, 5)]
    rows += [pump(120, True, "pump-wet"), pump(150, False, "pump-emptied", EMPTIED)]
    with History(history_of(tmp_path / "history.sqlite3", rows)) as history:
        played = replay(history, HOUSE, None, NOON, NOON + timedelta(hours=5))
    fans = [one for one in played.changes if one.change.output == OutputId.fan("north")]
    passed = [((one.at_utc - NOON).total_seconds() / 60.0, one.change.on) for one in fans]
    assert passed[0][1]
    assert passed[0][0] < 60.0
    assert passed[1] == (pytest.approx(120.0, abs=0.1), False)
    assert min(minutes for minutes, on in passed if on and minutes > 120.0) >= 149.0 + 30.0


def test_a_gap_of_weeks_in_the_record_is_passed_over(tmp_path):
    """No fan runs where nothing was read, nothing is compared there, and it takes no time."""
    weeks = 21 * 24 * 60
    rows = [cold(minute) for start in (0, weeks) for minute in range(start, start + 120, 5)]
    with History(history_of(tmp_path / "history.sqlite3", rows)) as history:
        played = replay(history, HOUSE, None, NOON, NOON + timedelta(minutes=weeks + 120))
    assert played.agreement.played_s < 3 * (4 * 3600.0 + 1000.0)
    assert 0.0 < hours(played) < 3 * 4.0


def asked(small, **changed):
    """The exit code and what was printed."""
    request = {
        "file": FILE,
        "history": str(small),
        "since": None,
        "until": None,
        "other": None,
        "changes": False,
        "form": "text",
    }
    out = io.StringIO()
    return replay_days(Request(**request | changed), out, Clock()), out.getvalue()


@pytest.fixture
def small(tmp_path):
    """A history of two cold hours."""
    rows = [cold(minute, 3.0 + minute % 7 / 16) for minute in range(0, 120, 5)]
    return history_of(tmp_path / "history.sqlite3", [*rows, fan(20, True)])


def test_the_page_fits_a_screen_and_says_what_it_assumes(small, tmp_path):
    """Hours, electricity, starts and heat of each day, and that the house does not answer."""
    other = tmp_path / "other.toml"
    other.write_text(TEXT.replace('heat_below = "4.5 °C"', 'heat_below = "3.2 °C"'), encoding="utf-8")
    for tried in (None, other):
        code, said = asked(small, other=tried, changes=True)
        assert code == 0
        assert max(map(len, said.splitlines())) <= 80
        assert "2026-03-07" in said
        assert "does not answer" in " ".join(said.split())
    assert "now  fan:" in said


def test_json_is_as_its_schema_says(small):
    """With and without other settings and switchings."""
    for tried, changes in ((None, False), (FILE, True)):
        code, said = asked(small, other=tried, changes=changes, form="json")
        assert code == 0
        found = json.loads(said)
        jsonschema.validate(found, SCHEMA)
        assert (found["changes"] is None) is not changes
        ran_s = {loop["name"]: loop["run_s"] for loop in found["days"][0]["recorded"]["loops"]}
        assert ran_s["north"] > 0.0
        assert not any(ran_s[loop] for loop in ran_s.keys() - {"north"})


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"since": "soonish"}, "is not a time"),
        ({"history": "/no/history"}, "there is no history"),
        ({"file": ROOT / "none.toml"}, "none.toml"),
        ({"other": ROOT / "config" / "one-loop.toml"}, "differ in their loops"),
        ({"since": "2027-01-01"}, "nothing recorded in that range"),
    ],
)
def test_what_cannot_be_replayed_is_said(small, capsys, changed, words):
    """In words, with exit code 2."""
    assert asked(small, **changed) == (2, "")
    assert words in " ".join(capsys.readouterr().err.split())
