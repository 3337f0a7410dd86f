"""What the scoreboard's numbers rest on: the search, the shares, the table, and the hands of hindsight."""

from __future__ import annotations

import math
import re
import sys
from dataclasses import astuple, fields
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from controller.rehearsal.strategies import STRATEGIES as KNOWN
from controller.settings.load import load
from controller.settings.notes import notes
from controller.simulator.house.model import Model
from controller.simulator.plant.fault_kinds import FaultKind
from tests.lab.scoreboard import __main__ as command
from tests.lab.scoreboard import ablation, cooling, foresight, frontier, probe_errors, runs
from tests.lab.scoreboard.cases import CASES, CONFIG, HOUSES, house
from tests.lab.scoreboard.foresight import ROUNDS, STILL, TRIED, Bound, Numbers, Reached, find_bound, season
from tests.lab.scoreboard.picture import COLOURS, LABELS, draw
from tests.lab.scoreboard.runs import LEAST_KH, STRATEGIES, Board, Score, rehearsed
from tests.lab.scoreboard.table import HEADINGS, markdown, rows
from tests.simulator.garden import weather

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HOUSE = load(CONFIG / "house.toml")
JANUARY = datetime(2026, 1, 7)  # noqa: DTZ001 - local time of the weather
TUNED, OTHER = CASES[0], CASES[-1]


def reached(cold_kh: float, fans_kwh: float = 100.0) -> Reached:
    """A made-up season."""
    return Reached(cold_kh, 50.0, fans_kwh, 12.0 * fans_kwh)


def board(case=TUNED, still_kh=1000.0, bound_kh=200.0, **cold_kh: float) -> Board:
    """A made-up case, with degree-hours below 4 °C for the rules that are named (``_`` for ``-``)."""
    scores = {name.replace("_", "-"): Score(reached(cold), 300.0, 0, 1) for name, cold in cold_kh.items()}
    return Board(case, reached(still_kh, 0.0), Bound(reached(bound_kh), Numbers(), 40), scores)


class Landscape:
    """In place of seasons: a made-up number for each way of running the fans, and what was asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, worth: Callable[[Numbers], Reached]) -> None:
        self.worth = worth
        self.asked: list[Numbers] = []
        monkeypatch.setattr(foresight, "season", self.season)
        monkeypatch.setattr(foresight, "load_weather", lambda *_: None)

    def season(self, _settings, _weather, numbers: Numbers) -> Reached:
        """What the way of running the fans is worth."""
        self.asked.append(numbers)
        return self.worth(numbers)


# The last value that is tried of each.
BEST = Numbers(**{name: values[-1] for name, values in TRIED.items()})


def far_from_best(numbers: Numbers) -> Reached:
    """Each number costs by itself how far it is from its best."""
    return reached(sum(abs(mine - best) for mine, best in zip(astuple(numbers), astuple(BEST), strict=True)))


def test_the_search_finds_the_best_numbers_and_counts_what_it_tried(monkeypatch):
    """Where each number counts by itself the search ends at the best of all, having looked at every try."""
    land = Landscape(monkeypatch, far_from_best)
    bound = find_bound(TUNED)
    assert bound.numbers == BEST
    assert bound.reached == far_from_best(BEST) == reached(0.0)
    assert bound.tried == len(land.asked)
    assert all(before != after for before, after in zip(land.asked, land.asked[1:], strict=False))


def test_the_search_keeps_the_best_of_all_it_tried(monkeypatch):
    """Where the numbers lean on each other the bound is still no worse than anything that was looked at."""

    def tangled(numbers: Numbers) -> Reached:
        return reached(hash(astuple(numbers)) % 997, hash(astuple(numbers)) % 31)

    land = Landscape(monkeypatch, tangled)
    bound = find_bound(TUNED)
    best = min((now.cold_kh, now.fans_kwh) for now in map(tangled, land.asked))
    assert (bound.reached.cold_kh, bound.reached.fans_kwh) == best
    assert bound.reached == tangled(bound.numbers)
    assert bound.tried == len(land.asked) <= 1 + ROUNDS * sum(map(len, TRIED.values()))


def test_electricity_counts_only_between_equals(monkeypatch):
    """Less cold is better at any price; for the same cold the cheaper way is kept."""

    def dear(numbers: Numbers) -> Reached:
        cold_kh = 5.0 if numbers.spread_k == 0.6 else 5.1
        return reached(cold_kh, (900.0 if numbers.spread_k == 0.6 else 1.0) + numbers.bank_from_k)

    Landscape(monkeypatch, dear)
    numbers = find_bound(TUNED).numbers
    assert numbers.spread_k == 0.6
    assert numbers.bank_from_k == min(TRIED["bank_from_k"])


def test_the_search_ends_when_nothing_gets_better(monkeypatch):
    """One round over every other value is enough where all are the same."""
    land = Landscape(monkeypatch, lambda _: reached(7.0))
    bound = find_bound(TUNED)
    others = sum(getattr(Numbers(), name) != value for name, values in TRIED.items() for value in values)
    assert bound.numbers == Numbers()
    assert bound.tried == len(land.asked) == 1 + others


def test_every_number_is_searched():
    """No number is left as it was guessed at first: at least one other is tried for each."""
    assert set(TRIED) == {each.name for each in fields(Numbers)}
    for name, values in TRIED.items():
        assert len({*values, getattr(Numbers(), name)}) == 1 + len(values) > 1


def test_the_search_starts_from_banking_all_year():
    """The season that banks begins on the day on which it ends."""
    first, last = Numbers().bank_first_day, Numbers().bank_last_day
    assert (first - last) % 365.0 == 1.0


class Watched(Model):
    """A model that notes every stretch: when, how long, float, fans, pumps."""

    stretches: list[tuple[float, float, bool, bool, bool]]
    wet_m = 0.0

    def __init__(self, *given) -> None:
        super().__init__(*given)
        type(self).stretches = []
        if self.wet_m:
            self.pour("main", self.wet_m - float(self.sumps[0].soil_water_m))

    def advance(self, passed_s, longest_s):
        """Advance and take note."""
        fans = bool(self.switches[: len(HOUSE.loops)].any())
        wet = self.sumps[0].float_wet > 0.0
        pump = self.switches[len(HOUSE.loops)] > 0.0
        done_s = super().advance(passed_s, longest_s)
        self.stretches.append((passed_s, done_s, bool(wet), fans, bool(pump)))
        return done_s


@pytest.fixture
def watched(monkeypatch) -> type[Watched]:
    """Seasons that begin in frost and can be looked into."""
    monkeypatch.setattr(foresight, "Model", Watched)
    monkeypatch.setattr(foresight, "FIRST_DAY", JANUARY)
    return Watched


def test_fans_that_are_held_still_never_run(watched):
    """Two frosty days without a single fan, no electricity and no heat moved."""
    still = season(HOUSE, weather(), STILL, days=2.0)
    assert sum(done_s for _, done_s, *_ in watched.stretches) == pytest.approx(2 * 86_400.0)
    assert not any(fans for *_, fans, _ in watched.stretches)
    assert still.fans_kwh == still.heat_kwh == 0.0
    assert still.cold_kh > 0.0


def test_hindsight_makes_frosty_days_milder(watched):
    """The numbers the search begins with already leave less cold than fans that are held still."""
    still = season(HOUSE, weather(), STILL, days=2.0)
    helped = season(HOUSE, weather(), Numbers(), days=2.0)
    assert any(fans for *_, fans, _ in watched.stretches)
    assert helped.cold_kh < still.cold_kh
    assert helped.fans_kwh > 0.0


def test_hindsight_keeps_the_lockout_for_water(watched, monkeypatch):
    """With 30 mm to drain no fan runs while the float is wet or the tubes drain; the pump runs while wet."""
    monkeypatch.setattr(watched, "wet_m", 0.03)
    eager = Numbers(return_below_c=99.0, spread_k=0.0, return_from_k=0.1, bank_from_k=0.5, bank_floor_c=-99.0)
    season(HOUSE, weather(), eager, days=1.5)
    drain_down_s = HOUSE.pump.drain_down_s
    last_wet_s, dry_fan_s, wet_spells = -drain_down_s, 0.0, 0
    for passed_s, done_s, wet, fans, pump in watched.stretches:
        assert pump is wet
        assert not (fans and (wet or passed_s - last_wet_s < drain_down_s))
        if wet:
            wet_spells += last_wet_s < passed_s
            last_wet_s = passed_s + done_s
        elif fans:
            dry_fan_s += done_s
    assert wet_spells > 5
    assert dry_fan_s > 3600.0


def test_benefit_is_the_share_of_the_best_reduction():
    """Half of the cold that the best run prevents is half of the benefit."""
    mine = board(still_kh=1000.0, bound_kh=200.0, hypocaust=600.0)
    assert mine.benefit(reached(1000.0)) == 0.0
    assert mine.benefit(reached(600.0)) == pytest.approx(0.5)
    assert mine.benefit(reached(200.0)) == pytest.approx(1.0)
    assert mine.benefit(reached(1100.0)) < 0.0


def test_a_bound_that_a_rule_beats_is_replaced_by_it():
    """Nobody gets more than everything: a strategy that beats the search is the measure from then on."""
    mine = board(still_kh=1000.0, bound_kh=200.0, hypocaust=150.0, fans_always=400.0)
    assert mine.best_kh() == 150.0
    assert mine.benefit(reached(150.0)) == pytest.approx(1.0)
    assert mine.benefit(reached(200.0)) == pytest.approx(800.0 / 850.0)


def test_there_is_no_benefit_without_frost_to_prevent():
    """A share of next to nothing is left out, and so is one without the runs it needs."""
    assert board(still_kh=50.0, bound_kh=50.0 - LEAST_KH).benefit(reached(40.0)) is None
    assert board(still_kh=50.0, bound_kh=49.0 - LEAST_KH).benefit(reached(40.0)) is not None
    assert Board(TUNED, None, Bound(reached(1.0), Numbers(), 1), {}).benefit(reached(0.0)) is None
    assert Board(TUNED, reached(500.0), None, {}).benefit(reached(0.0)) is None


ALL = {"hypocaust": 300.0, "simple_difference": 500.0, "plain_thermostat": 600.0, "fans_always": 400.0}


def test_every_rule_has_one_row_beside_fans_off_and_hindsight():
    """The case is named once, in front; every line has a cell under each heading."""
    lines = list(rows(board(**ALL)))
    assert [line[1] for line in lines] == ["fans off", "hindsight", *STRATEGIES]
    assert [line[0] for line in lines] == [TUNED.name, *[""] * (1 + len(STRATEGIES))]
    assert {len(line) for line in lines} == {len(HEADINGS)}


def test_a_row_says_what_was_reached():
    """Benefit, cold, heat, electricity, share of the thermostat's, heat a kWh, starts, alarms, promises."""
    mine = board(**ALL)
    mine.scores["hypocaust"] = Score(Reached(302.4, 61.0, 50.0, 640.0), 412.3, 2, 7)
    line = next(line for line in rows(mine) if line[1] == "hypocaust")
    assert line == ["", "hypocaust", "87.2", "302", "61", "50", "50", "12.8", "412", "7", "2"]


def test_a_row_leaves_out_what_cannot_be_said():
    """No share where there is too little frost, no heat for each kWh where no kWh was used."""
    mine = board(still_kh=5.0, bound_kh=1.0, hypocaust=2.0)
    mine.scores["hypocaust"] = Score(reached(2.0, fans_kwh=0.0), 0.0, 0, 0)
    line = next(line for line in rows(mine) if line[1] == "hypocaust")
    assert line == ["", "hypocaust", "", "2", "50", "0", "", "", "0", "0", "0"]


def test_cases_that_served_to_choose_the_defaults_stand_apart():
    """Each case is in the table of its kind, and nowhere else."""
    text = markdown([board(TUNED, **ALL), board(OTHER, **ALL)], ["2026-11-29, abc: all cases"])
    assert "- played 2026-11-29, abc: all cases" in text
    others, tuned = text.split("## Cases used for it")
    assert "## Cases not used to choose the defaults" in others
    assert OTHER.name in others
    assert OTHER.name not in tuned
    assert TUNED.name in tuned
    assert TUNED.name not in others
    for part in (others, tuned):
        lines = [line for line in part.splitlines() if line.startswith("|")]
        assert len(lines) == 2 + 2 + len(STRATEGIES)
        assert {line.count("|") for line in lines} == {len(HEADINGS) + 1}


def test_a_table_of_one_kind_has_no_empty_other():
    """Where only tuning cases were played, the other heading is left out."""
    assert "## Cases not used" not in markdown([board(TUNED, **ALL)], [])
    assert "## Cases used for it" not in markdown([board(OTHER, **ALL)], [])


def test_the_picture_shows_the_cases_with_frost(tmp_path):
    """Cases with something to prevent are drawn; otherwise nothing is written."""
    draw([board(still_kh=5.0, bound_kh=1.0, **ALL)], tmp_path / "none.svg")
    assert not (tmp_path / "none.svg").exists()
    draw([board(TUNED, **ALL), board(OTHER, **ALL)], tmp_path / "two.svg")
    assert (tmp_path / "two.svg").read_text(encoding="utf-8").startswith("<?xml")


def test_every_rule_that_is_played_is_known_and_drawn():
    """A rule is a strategy of the rehearsal and has a name and a colour of its own in the picture."""
    assert set(STRATEGIES) <= set(KNOWN)
    assert set(LABELS) == set(COLOURS) == set(STRATEGIES)
    assert len(set(COLOURS.values())) == len(COLOURS)


def test_cases_are_told_apart_and_two_thirds_served_for_tuning():
    """No two have one name."""
    assert len({case.name for case in CASES}) == len(CASES)
    assert sum(case.tuning for case in CASES) * 3 == 2 * len(CASES)
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
    assert notes(settings) == ()
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
    assert score.reached.heat_kwh > score.reached.fans_kwh


@pytest.mark.parametrize("ingredient", ablation.WITHOUT)
def test_an_ingredient_that_is_left_out_is_one(ingredient):
    """What is changed are settings that exist, each to something else than the default."""
    changes = ablation.WITHOUT[ingredient]
    settings = ablation.changed(HOUSE, changes)
    for table, values in changes.items():
        for name, value in values.items():
            assert name in type(getattr(HOUSE, table)).model_fields
            assert getattr(getattr(settings, table), name) == value != getattr(getattr(HOUSE, table), name)
    if ingredient in (ablation.SHIPPED, ablation.SEASON):
        assert settings == HOUSE


def test_the_table_of_ingredients_has_a_row_for_each():
    """Three numbers for each case, beside those of the whole rule."""
    cases = CASES[:2]
    scores = {
        (case, name): Score(reached(12.0, 34.0), 56.0, 0, 0) for case in cases for name in ablation.WITHOUT
    }
    lines = [line for line in ablation.table(cases, scores).splitlines() if line.startswith("|")]
    assert len(lines) == 2 + len(ablation.WITHOUT)
    assert {line.count("|") for line in lines} == {2 + 3 * len(cases)}
    assert lines[2] == "| nothing (as shipped) | 12 | 34 | 56 | 12 | 34 | 56 |"


@pytest.mark.parametrize("place", probe_errors.PLACES)
def test_all_probes_of_a_place_are_off_by_as_much_and_no_other(place):
    """Each probe of the place reads that much wrong from the first second to the last."""
    faults = probe_errors.off(HOUSE, place, -1.5)
    here = {name for name, probe in HOUSE.probes.items() if probe.place == place}
    assert {fault.subject for fault in faults} == here
    assert len(faults) == len(here) > 0
    for fault in faults:
        assert (fault.kind, fault.by) == (FaultKind.PROBE_OFFSET, -1.5)
        assert (fault.at_s, fault.until_s) == (0.0, math.inf)


def test_sound_probes_are_a_house_without_faults():
    """The season that the others are compared with has not one probe off."""
    assert probe_errors.off(HOUSE, *probe_errors.SOUND) == ()


def test_every_kind_of_probe_that_decides_is_off_both_ways():
    """Each place but the outdoor probe, which decides nothing, reads too warm once and too cold once."""
    tried = [(place, by_k) for place, by_k in probe_errors.ERRORS[1:] if not place.startswith("one ")]
    places = {probe.place for probe in HOUSE.probes.values()} - {"outdoor"}
    assert sorted(tried) == sorted((place, by_k) for place in places for by_k in (-1.5, 1.5))


def test_one_probe_of_several_can_be_off_alone():
    """Of a kind that decides and of which there are several, a single one is tried as well."""
    (fault,) = probe_errors.off(HOUSE, "one soil", -1.5)
    assert HOUSE.probes[fault.subject].place == "soil"
    assert fault.by == -1.5


def test_the_table_of_probe_errors_gives_points_of_what_sound_probes_bring():
    """Of 100 K h below 4 °C sound probes spare 50: five more than that are 10 points, ten fewer -20."""
    still = {TUNED: 100.0, OTHER: 300.0}
    cold = {(case, error): 50.0 for case in still for error in probe_errors.ERRORS}
    cold[TUNED, ("bench", 1.5)] = 55.0
    cold[TUNED, ("soil", -1.5)] = 40.0
    cold[OTHER, ("bench", 1.5)] = 300.0
    lines = [line for line in probe_errors.table(still, cold).splitlines() if line.startswith("|")]
    assert lines[0] == f"| probes | {TUNED.name} | {OTHER.name} |"
    assert "| bench +1.5 K | +10.0 | +100.0 |" in lines
    assert "| soil -1.5 K | -20.0 | +0.0 |" in lines
    assert "| bench -1.5 K | +0.0 | +0.0 |" in lines
    assert len(lines) == 1 + len(probe_errors.ERRORS)


@pytest.mark.parametrize("way", list(cooling.WAYS))
def test_a_way_of_cooling_changes_its_own_settings_only(monkeypatch, way):
    """The same house from 1 May on; fans that stand are a strategy, the rest are setpoints."""
    plans = []

    def note(plan):
        plans.append(plan)
        raise KeyboardInterrupt

    monkeypatch.setattr(cooling, "rehearse", note)
    with pytest.raises(KeyboardInterrupt):
        cooling.played(cooling.CASES[0], way, 153.0)
    (plan,) = plans
    house = cooling.CASES[0].settings()
    points = house.setpoints.model_copy(update=cooling.WAYS[way])
    assert plan.settings == house.model_copy(update={"setpoints": points})
    assert plan.strategy == ("fans-off" if way == cooling.STILL else "hypocaust")
    assert (plan.first_day, plan.days) == (cooling.FIRST_DAY, 153.0)


def test_the_table_of_cooling_gives_relief_against_fans_that_stand():
    """Share, price, and how much cooler the hottest hours are; heat taken beside the sun's."""
    case = cooling.CASES[0]
    still = cooling.Season(50.0, 0.0, 41.0, 0.0, None, None, 0)
    found = {
        (case, cooling.STILL, 153.0): still,
        (case, cooling.SHIPPED, 153.0): cooling.Season(30.0, 0.0, 38.5, 10.0, 40.2, 700.0, 0),
        (case, cooling.PURGED, 153.0): cooling.Season(51.0, 0.0, 41.0, 5.0, 40.0, 700.0, 0),
        (case, cooling.SHIPPED, 365.0): cooling.Season(30.0, 7.25, 38.5, 40.0, 40.2, 700.0, 0),
    }
    assert cooling.summers(found) == [
        f"| {case.name} | fans off | 50 | 0 | 0.0 | 0 | – | – |",
        f"| {case.name} | as shipped | 30 | 40 | 2.5 | 10 | 2.0 | 40 of 700 |",
        f"| {case.name} | night purge | 51 | -2 | 0.0 | 5 | -0.2 | 40 of 700 |",
    ]
    assert cooling.winters(found) == [f"| {case.name} | as shipped | 7.2 | 40 |"]
    page = cooling.page_of(found).splitlines()
    assert [line for line in page if line in cooling.summers(found)] == cooling.summers(found)


def test_the_thrifty_hand_is_the_ideal_hand_with_two_other_numbers(monkeypatch):
    """Nothing but the difference to bank from and the temperature to return below is changed."""
    land = Landscape(monkeypatch, lambda _: reached(1.0))
    monkeypatch.setattr(frontier, "season", land.season)
    monkeypatch.setattr(frontier, "load_weather", lambda *_: None)
    for way in (*frontier.HANDS, "fans off"):
        frontier.played(TUNED, way)
    *hands, still = land.asked
    assert still == STILL
    for hand, (bank_from_k, return_below_c) in zip(hands, frontier.HANDS, strict=True):
        assert hand == Numbers(bank_from_k=bank_from_k, return_below_c=return_below_c)


def test_the_table_of_electricity_is_sorted_by_it():
    """Shares of the most frost that any line keeps off, and of the thermostat's electricity."""
    ways = {
        "fans off": reached(100.0, 0.0),
        "hypocaust": reached(30.0, 50.0),
        "plain-thermostat": reached(60.0, 200.0),
        (2.0, 4.0): reached(20.0, 80.0),
    }
    text = frontier.table((TUNED,), {(TUNED, way): season_ for way, season_ in ways.items()})
    assert [line for line in text.splitlines() if line.startswith("|")][2:] == [
        "| plain-thermostat | 50.0 | 200 | 100 |",
        "| ideal hand, banks from 2 K, returns below 4 °C | 100.0 | 80 | 40 |",
        "| **hypocaust** | 87.5 | 50 | 25 |",
        "| fans off | 0.0 | 0 | 0 |",
    ]


@pytest.mark.parametrize(("broken", "code"), [(0, 0), (1, 1)])
def test_the_command_fails_if_a_promise_was_broken(
    broken: int,
    code: int,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """It prints the table, keeps it where it is asked to, and ends with 1 if any run broke a promise."""
    asked = []

    def play(boards, processes, rows):
        asked.append(([each.case.name for each in boards], processes, rows))
        made_up = board(boards[0].case, **ALL)
        boards[0].still, boards[0].bound, boards[0].scores = made_up.still, made_up.bound, made_up.scores
        boards[0].scores["hypocaust"] = Score(reached(300.0), 1.0, broken, 0)

    monkeypatch.setattr(command, "play", play)
    page, picture = tmp_path / "kept" / "page.md", tmp_path / "drawn" / "picture.svg"
    words = [
        "scoreboard",
        "--only",
        "miami",
        "--processes",
        "1",
        "--page",
        str(page),
        "--picture",
        str(picture),
    ]
    monkeypatch.setattr(sys, "argv", words)
    assert command.main() == code
    assert asked == [([case.name for case in CASES if "miami" in case.name], 1, runs.ROWS)]
    text = page.read_text(encoding="utf-8")
    assert text in capsys.readouterr().out
    assert re.search(r"^- played \d{4}-\d\d-\d\d, .+: cases with 'miami'$", text, re.MULTILINE)
    assert picture.exists()


def test_a_row_is_played_again_and_the_others_are_taken_from_the_stored_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a change does not touch is not played again: every other line stays as it stands."""
    page = tmp_path / "page.md"
    stored = markdown([board(case, **ALL) for case in CASES], ["2026-11-01, abc: all cases"])
    page.write_text(stored, encoding="utf-8")
    asked = []

    def play(boards, _processes, rows):
        asked.append(([each.case.name for each in boards], rows))
        (miami,) = [each for each in boards if each.case.name == "miami, three loops"]
        miami.scores["hypocaust"] = Score(Reached(240.0, 51.0, 7.0, 70.0), 3.0, 0, 2)

    monkeypatch.setattr(command, "play", play)
    words = ["scoreboard", "--rows", "hypocaust", "--only", "miami", "--page", str(page)]
    words += ["--picture", str(tmp_path / "picture.svg")]
    monkeypatch.setattr(sys, "argv", words)
    assert command.main() == 0
    capsys.readouterr()
    assert asked == [(["miami, three loops"], ["hypocaust"])]
    before, after = stored.splitlines(), page.read_text(encoding="utf-8").splitlines()
    played, row = [line for line in after if line not in before]
    assert row == "|  | hypocaust | 95.0 | 240 | 51 | 7 | 7 | 10.0 | 3 | 2 | 0 |"
    assert played.endswith(": hypocaust of cases with 'miami'")
    assert "- played 2026-11-01, abc: all cases" in after
    assert len([line for line in after if line.startswith("|")]) == len(
        [line for line in before if line.startswith("|")]
    )


def test_a_case_that_is_not_there_is_refused_with_those_that_are(monkeypatch, capsys):
    """A slip in the name plays nothing and says what could be played."""
    monkeypatch.setattr(sys, "argv", ["scoreboard", "--only", "atlantis"])
    with pytest.raises(SystemExit) as left:
        command.main()
    assert left.value.code == 2
    assert all(case.name in capsys.readouterr().err.replace("\n", " ") for case in CASES[:1])


def test_rows_are_not_taken_from_a_table_that_is_not_there(tmp_path, monkeypatch, capsys):
    """Where the others should come from must be named, before anything is played."""
    monkeypatch.setattr(sys, "argv", ["scoreboard", "--rows", "hypocaust", "--page", str(tmp_path / "no.md")])
    with pytest.raises(SystemExit) as left:
        command.main()
    assert left.value.code == 2
    assert "no table with the other rows" in capsys.readouterr().err.replace("\n", " ")
