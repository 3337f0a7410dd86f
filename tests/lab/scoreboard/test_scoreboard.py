"""What the scoreboard's numbers rest on: the measures, the shares, the tables, and what is kept of them."""

from __future__ import annotations

import re
import sys
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from controller.rehearsal.strategies import STRATEGIES as KNOWN
from controller.settings.load import load
from controller.settings.notes import notes
from tests.lab.scoreboard import __main__ as command
from tests.lab.scoreboard import runs
from tests.lab.scoreboard.bound import LEAST_KH, Bound, Hindsight
from tests.lab.scoreboard.cases import CASES, CONFIG, HOUSES, house
from tests.lab.scoreboard.foresight import Numbers
from tests.lab.scoreboard.kept import dumped, loaded
from tests.lab.scoreboard.picture import COLOURS, LABELS, draw
from tests.lab.scoreboard.reached import HOTTEST_H, Half, Reached, reached
from tests.lab.scoreboard.runs import PACE_S, STRATEGIES, Board, Score, rehearsed
from tests.lab.scoreboard.table import SUMMER, WINTER, YEAR, markdown, summer_rows, winter_rows, year_rows

if TYPE_CHECKING:
    from pathlib import Path

HOUSE = load(CONFIG / "house.toml")
JANUARY = datetime(2026, 1, 7)  # noqa: DTZ001 - local time of the weather
TUNED, OTHER = CASES[0], CASES[-1]


def year(kh: float, kwh: float = 100.0) -> Reached:
    """A made-up year with as much frost as heat, and half of the electricity against each."""
    return Reached(kh, kh, 40.0, 8000.0, kwh / 2.0, kwh / 2.0)


def board(case=TUNED, still_kh=1000.0, bound_kh=200.0, halves=tuple(Half), **kh: float) -> Board:
    """A made-up case, with degree-hours for the rules that are named (``_`` for ``-``)."""
    scores = {name.replace("_", "-"): Score(year(left), 300.0, 0, 1) for name, left in kh.items()}
    line = ((still_kh, 0.0), ((still_kh + bound_kh) / 2.0, 10.0), (bound_kh, 80.0))
    bound = Bound(Reached(bound_kh, bound_kh, 36.0, 0.0, 70.0, 10.0), Numbers(), line, 40)
    return Board(case, Hindsight(year(still_kh, 0.0), dict.fromkeys(halves, bound)), scores)


def test_a_year_is_summed_up_hour_by_hour():
    """Hottest hours, hours in the band, and cooling on days with a hot hour."""
    points = HOUSE.setpoints
    bench_c = [points.frost_limit_c - 0.1, *[points.frost_limit_c] * 23, *[points.cool_above_c] * 23, 33.0]
    mine = reached(HOUSE, 7.0, 9.0, bench_c, [1.0] * 24 + [2.0] * 24)
    assert (mine.cold_kh, mine.hot_kh) == (7.0, 9.0)
    assert mine.band_h == 46.0
    assert (mine.cooling_kwh, mine.warming_kwh, mine.fans_kwh) == (48.0, 24.0, 72.0)
    assert mine.hottest_c == pytest.approx(sum(bench_c) / len(bench_c))
    long = reached(HOUSE, 0.0, 0.0, [40.0] * HOTTEST_H + [10.0] * 500, [0.0] * (HOTTEST_H + 500))
    assert long.hottest_c == 40.0


def test_frost_benefit_is_the_share_of_the_best_reduction():
    """Half of the cold that the best line prevents is half of the benefit."""
    mine = board(still_kh=1000.0, bound_kh=200.0, hypocaust=600.0)
    assert mine.frost_benefit(year(1000.0)) == 0.0
    assert mine.frost_benefit(year(600.0)) == pytest.approx(0.5)
    assert mine.frost_benefit(year(200.0)) == pytest.approx(1.0)
    assert mine.frost_benefit(year(1100.0)) < 0.0


def test_relief_is_a_share_of_the_heat_without_fans():
    """It does not depend on what could have been reached."""
    mine = board(still_kh=1000.0, bound_kh=200.0, hypocaust=600.0)
    assert mine.relief(year(600.0)) == pytest.approx(0.4)
    assert mine.relief(year(1100.0)) == pytest.approx(-0.1)


def test_a_bound_that_a_rule_beats_is_replaced_by_it():
    """Nobody gets more than everything: a rule that beats the search is the measure from then on."""
    mine = board(still_kh=1000.0, bound_kh=200.0, hypocaust=150.0, plain_thermostat=400.0)
    assert mine.best_kh(Half.WINTER) == 150.0
    assert mine.frost_benefit(year(150.0)) == pytest.approx(1.0)
    assert mine.frost_benefit(year(200.0)) == pytest.approx(800.0 / 850.0)


def test_electricity_is_measured_by_what_hindsight_needs_for_as_much():
    """50 kWh where hindsight reaches the same with 10 are five times as much; nothing for nothing."""
    mine = board(still_kh=1000.0, bound_kh=200.0)
    assert mine.over_hindsight(Half.WINTER, year(595.0, 100.0)) == pytest.approx(5.0)
    assert mine.over_hindsight(Half.SUMMER, year(395.0, 100.0)) == pytest.approx(50.0 / 45.0)
    assert mine.over_hindsight(Half.WINTER, year(100.0, 160.0)) == pytest.approx(1.0)
    assert mine.over_hindsight(Half.WINTER, year(1000.0, 160.0)) is None


def test_there_is_no_share_of_next_to_nothing():
    """Too little that can be prevented is no measure, and a half that was not searched has no lines."""
    assert board(still_kh=50.0, bound_kh=50.0 - LEAST_KH).frost_benefit(year(40.0)) is None
    assert board(still_kh=50.0, bound_kh=49.0 - LEAST_KH).frost_benefit(year(40.0)) is not None
    assert list(winter_rows(board(halves=(Half.SUMMER,), hypocaust=3.0))) == []
    assert list(summer_rows(board(halves=(Half.WINTER,), hypocaust=3.0))) == []
    with pytest.raises(ValueError, match="no bound for the winter"):
        board(halves=(Half.SUMMER,)).frost_benefit(year(1.0))


ALL = {"hypocaust": 300.0, "simple_difference": 500.0, "plain_thermostat": 600.0}


@pytest.mark.parametrize(
    ("rows", "headings", "first"),
    [
        (winter_rows, WINTER, ["fans off", "hindsight"]),
        (summer_rows, SUMMER, ["fans off", "hindsight"]),
        (year_rows, YEAR, ["fans off"]),
    ],
)
def test_every_rule_has_a_line_in_each_table(rows, headings, first):
    """Each line names case and rule and has a cell under each heading."""
    lines = list(rows(board(**ALL)))
    assert [line[1] for line in lines] == [*first, "**hypocaust**", *STRATEGIES[1:]]
    assert {line[0] for line in lines} == {TUNED.name}
    assert {len(line) for line in lines} == {len(headings)}


def test_a_line_says_what_was_reached():
    """Degree-hours and their share, hottest hours, electricity, its price and its measure."""
    mine = board(**ALL)
    mine.scores["hypocaust"] = Score(Reached(355.0, 397.4, 38.24, 8322.0, 50.0, 40.0), 412.3, 2, 7)
    name = "**hypocaust**"
    assert list(winter_rows(mine))[2] == [TUNED.name, name, "355", "81", "50", "12.9", "96"]
    assert list(summer_rows(mine))[2] == [TUNED.name, name, "397", "60", "38.2", "40", "15.1", "90"]
    assert list(year_rows(mine))[1] == [TUNED.name, name, "8322", "95.0", "90", "412", "7", "2"]
    assert list(winter_rows(mine))[1] == [TUNED.name, "hindsight", "200", "100", "80", "10.0", "100"]
    assert next(summer_rows(mine)) == [TUNED.name, "fans off", "1000", "0", "40.0", "0", "", ""]


def test_a_line_leaves_out_what_cannot_be_said():
    """No price where no kWh was used, no measure where nothing was reached."""
    mine = board(hypocaust=1000.0)
    mine.scores["hypocaust"] = Score(year(1000.0, 0.0), 0.0, 0, 0)
    assert list(winter_rows(mine))[2][2:] == ["1000", "0", "0", "", ""]


def test_cases_that_served_to_choose_the_settings_stand_apart():
    """Each case is in the tables of its kind, and nowhere else."""
    text = markdown([board(TUNED, **ALL), board(OTHER, **ALL)], ["2026-11-29, abc: all cases"])
    assert "- played 2026-11-29, abc: all cases" in text
    sections = re.split(r"^## ", text, flags=re.MULTILINE)[1:]
    assert [section.splitlines()[0] for section in sections] == [
        f"{title}: cases {words}"
        for title in ("Winter", "Summer", "The grower's year")
        for words in ("not used to choose the settings", "used for it")
    ]
    for section, headings in zip(sections, (WINTER, WINTER, SUMMER, SUMMER, YEAR, YEAR), strict=True):
        mine, other = (OTHER, TUNED) if "not used" in section.splitlines()[0] else (TUNED, OTHER)
        assert mine.name in section
        assert other.name not in section
        assert {line.count("|") for line in section.splitlines() if line.startswith("|")} == {
            len(headings) + 1
        }


def test_a_table_without_lines_is_left_out():
    """No heat, no table of summer; only tuning cases, no table of others."""
    text = markdown([board(TUNED, halves=(Half.WINTER,), **ALL)], [])
    assert "## Winter: cases used" in text
    assert "## Summer" not in text
    assert "## Winter: cases not used" not in text


def test_the_page_names_the_limits_of_the_band():
    """They are those of every case's settings."""
    limits = {
        (points.frost_limit_c, points.cool_above_c)
        for points in (case.settings().setpoints for case in CASES)
    }
    ((low_c, high_c),) = limits
    text = markdown([board(TUNED, **ALL)], [])
    assert f"({low_c:g} °C)" in text
    assert f"({high_c:g} °C)" in text


def test_what_is_kept_is_read_back_as_it_was():
    """Boards with and without hindsight, and the days on which they were played."""
    boards = [board(TUNED, **ALL), Board(OTHER, None, {"hypocaust": Score(year(3.0), 1.0, 0, 2)})]
    kept = loaded(dumped(boards, ["first", "second"]), CASES)
    assert (kept.played, kept.pace_s) == (["first", "second"], PACE_S)
    assert [each.case for each in kept.boards] == list(CASES)
    assert [kept.boards[0], kept.boards[-1]] == boards
    assert all(each == Board(each.case) for each in kept.boards[1:-1])


def test_the_picture_shows_the_cases_with_frost_or_heat(tmp_path):
    """Cases with something to prevent are drawn; otherwise nothing is written."""
    draw([board(halves=(), **ALL)], tmp_path / "none.svg")
    assert not (tmp_path / "none.svg").exists()
    draw([board(TUNED, **ALL), board(OTHER, **ALL)], tmp_path / "two.svg")
    assert (tmp_path / "two.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_every_rule_that_is_played_is_known_and_drawn():
    """A rule is a strategy of the rehearsal and has a name and a colour of its own in the picture."""
    assert set(STRATEGIES) <= set(KNOWN)
    assert set(LABELS) == set(COLOURS) == set(STRATEGIES)
    assert len(set(COLOURS.values())) == len(COLOURS)


def test_cases_are_told_apart_and_half_served_for_tuning():
    """No two have one name, and no year that was kept from tuning is one that served for it."""
    assert len({case.name for case in CASES}) == len(CASES)
    assert sum(case.tuning for case in CASES) * 2 == len(CASES)
    years = [
        {(case.weather, case.seed) for case in CASES if case.tuning is tuning} for tuning in (True, False)
    ]
    assert not years[0] & years[1]
    assert {case.house for case in CASES} <= set(HOUSES)


@pytest.mark.parametrize("name", HOUSES)
def test_a_house_is_the_file_it_names_with_its_changes(name):
    """Its changes are settings of [house], and it keeps its openings or has the vents of its settings."""
    file, changes, with_openings = HOUSES[name]
    written, settings = load(file), house(name)
    assert set(changes) <= set(type(settings.house).model_fields)
    assert settings.house == written.house.model_copy(update=changes)
    assert settings.openings == (written.openings if with_openings else {})


def test_the_long_house_is_what_it_says():
    """270 m², 68 tubes, 600 W of fans that could be bought, and doors of 1.2 % of the floor."""
    settings = house("doors, sparse crop")
    assert [note for note in notes(settings) if not note.startswith("signal: ")] == []
    floor_m2 = settings.house.length_m * settings.house.width_m
    assert floor_m2 == 270.0
    assert sum(loop.tubes for loop in settings.loops.values()) == 68
    assert sum(loop.power_w for loop in settings.loops.values()) == 600.0
    assert settings.openings["doors"].area_m2 / floor_m2 == pytest.approx(0.012, rel=0.02)


def test_a_season_of_the_real_controller_is_summed_up(monkeypatch):
    """A frosty day of the shipped rule: fans ran, heat moved, no promise was broken."""
    monkeypatch.setattr(runs, "DAYS", 1.0)
    monkeypatch.setattr(runs, "FIRST_DAY", JANUARY)
    score = rehearsed(TUNED, "hypocaust")
    assert score.broken == 0
    assert score.starts > 0.0
    assert score.reached.fans_kwh > 0.0
    assert score.reached.warming_kwh == score.reached.fans_kwh
    assert 0.0 <= score.reached.band_h <= 24.0


@pytest.mark.parametrize(("broken", "code"), [(0, 0), (1, 1)])
def test_the_command_fails_if_a_promise_was_broken(
    broken: int,
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """It prints the tables, keeps them where it is asked to, and ends with 1 if any run broke a promise."""
    asked = []

    def play(boards, processes, rows):
        asked.append(([each.case.name for each in boards], processes, rows))
        made_up = board(boards[0].case, **ALL)
        boards[0].hindsight, boards[0].scores = made_up.hindsight, made_up.scores
        boards[0].scores["hypocaust"] = Score(year(300.0), 1.0, broken, 0)
        return 1234.4

    monkeypatch.setattr(command, "play", play)
    page, picture = tmp_path / "kept" / "page.md", tmp_path / "drawn" / "picture.svg"
    words = ["--only", "miami, doors", "--processes", "1", "--page", str(page), "--picture", str(picture)]
    monkeypatch.setattr(sys, "argv", ["scoreboard", *words])
    assert command.main() == code
    assert asked == [(["miami, doors, sparse crop"], 1, runs.ROWS)]
    text, printed = page.read_text(encoding="utf-8"), capsys.readouterr().out
    assert text in printed
    assert "CPU time: 1234 s" in printed
    line = r"^- played \d{4}-\d\d-\d\d, .+: cases with 'miami, doors', in 1234 s of CPU time$"
    assert re.search(line, text, re.MULTILINE)
    assert picture.exists()


def test_a_row_is_played_again_and_the_others_are_taken_from_what_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a change does not touch is not played again: every other line stays as it stands."""
    page = tmp_path / "page.md"
    boards, played = [board(case, **ALL) for case in CASES], ["2026-11-01, abc: all cases"]
    before = markdown(boards, played).splitlines()
    page.with_suffix(".json").write_text(dumped(boards, played), encoding="utf-8")
    asked = []

    def play(boards, _processes, rows):
        asked.append(([each.case.name for each in boards], rows))
        (miami,) = boards
        miami.scores["hypocaust"] = Score(Reached(240.0, 240.0, 37.0, 8000.0, 40.0, 10.0), 3.0, 0, 2)
        return 10.0

    monkeypatch.setattr(command, "play", play)
    monkeypatch.setattr(command, "draw", lambda *_: None)
    words = ["--rows", "hypocaust", "--only", "miami, doors", "--page", str(page)]
    monkeypatch.setattr(sys, "argv", ["scoreboard", *words, "--picture", str(tmp_path / "picture.svg")])
    assert command.main() == 0
    capsys.readouterr()
    assert asked == [(["miami, doors, sparse crop"], ["hypocaust"])]
    after = page.read_text(encoding="utf-8").splitlines()
    new = [line for line in after if line not in before]
    assert len(new) == 1 + 3  # when it was played, and a line in each table
    assert all("miami" in line for line in new)
    assert "- played 2026-11-01, abc: all cases" in after
    assert len(after) == len(before) + 1


def test_a_case_that_is_not_there_is_refused_with_those_that_are(monkeypatch, capsys):
    """A slip in the name plays nothing and says what could be played."""
    monkeypatch.setattr(sys, "argv", ["scoreboard", "--only", "atlantis"])
    with pytest.raises(SystemExit) as left:
        command.main()
    assert left.value.code == 2
    assert all(case.name in capsys.readouterr().err.replace("\n", " ") for case in CASES[:1])


def test_rows_are_not_taken_from_numbers_that_are_not_there(tmp_path, monkeypatch, capsys):
    """Where the others should come from must be there, before anything is played."""
    monkeypatch.setattr(sys, "argv", ["scoreboard", "--rows", "hypocaust", "--page", str(tmp_path / "no.md")])
    with pytest.raises(SystemExit) as left:
        command.main()
    assert left.value.code == 2
    assert "with the other rows, is missing" in capsys.readouterr().err.replace("\n", " ")
