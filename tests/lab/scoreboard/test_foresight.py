"""The hand that knows the year, and the search for what it could reach."""

from __future__ import annotations

from dataclasses import astuple, fields, replace
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from controller.settings.load import load
from controller.simulator.house.model import Model
from tests.lab.scoreboard import foresight
from tests.lab.scoreboard.bound import FIRST, LEAST_KH, ROUNDS, SAME, Bound, find_bounds, line_of, search
from tests.lab.scoreboard.cases import CASES, CONFIG, house
from tests.lab.scoreboard.foresight import NEVER, STILL, Ahead, Numbers, season, season_by_hour
from tests.lab.scoreboard.reached import Half, Reached
from tests.simulator.garden import weather

if TYPE_CHECKING:
    from collections.abc import Callable

HOUSE = load(CONFIG / "house.toml")
JANUARY = datetime(2026, 1, 7)  # noqa: DTZ001 - local time of the weather, as the others
JULY, OCTOBER = JANUARY.replace(month=7), JANUARY.replace(month=10)
UNSEEN = Reached(1e6, 1e6, 40.0, 8000.0, 0.0, 0.0)


def year(kh: float, kwh: float = 100.0) -> Reached:
    """A made-up year with as much frost as heat."""
    return Reached(kh, kh, 40.0, 8000.0, kwh, 0.0)


class Landscape:
    """In place of years: a made-up one for each way of running the fans, and what was asked."""

    def __init__(self, worth: Callable[[Numbers], Reached]) -> None:
        self._worth = worth
        self.asked: list[Numbers] = []

    def __call__(self, numbers: Numbers) -> Reached:
        """What the way of running the fans is worth."""
        self.asked.append(numbers)
        return self._worth(numbers)


def tangled(numbers: Numbers) -> Reached:
    """Numbers that lean on each other."""
    return year(hash(astuple(numbers)) % 997, 1.0 + hash(astuple(numbers)) % 31)


@pytest.mark.parametrize("half", Half)
def test_the_search_keeps_the_best_of_all_it_tried_and_tries_nothing_twice(half):
    """The bound is no worse than any year that was played, and each was played once."""
    land = Landscape(tangled)
    bound = search(half, land, UNSEEN)
    best = min((tangled(each).kh(half), tangled(each).fans_kwh) for each in land.asked)
    assert (bound.best.kh(half), bound.best.fans_kwh) == best
    assert bound.best == tangled(bound.numbers)
    assert bound.tried == len(land.asked) == len(set(land.asked))
    assert bound.tried <= 1 + sum(len(tries) for _, tries in ROUNDS[half])


@pytest.mark.parametrize("half", Half)
def test_nothing_that_was_tried_beats_the_line(half):
    """No year that was played leaves less than the line does for its electricity."""
    land = Landscape(tangled)
    bound = search(half, land, UNSEEN)
    assert bound.line[0] == (1e6, 0.0)
    assert bound.line[-1] == (bound.best.kh(half), bound.best.fans_kwh)
    for each in map(tangled, land.asked):
        assert each.fans_kwh >= bound.kwh_for(each.kh(half)) - 1e-9


@pytest.mark.parametrize("half", Half)
def test_electricity_counts_only_between_equals_for_the_best(half):
    """Where every year is the same but for electricity, the cheapest is the best."""
    names = [name for _, tries in ROUNDS[half] for name, _ in tries]

    def dear(numbers: Numbers) -> Reached:
        return year(50.0, 100.0 - sum(getattr(numbers, name) != getattr(FIRST[half], name) for name in names))

    land = Landscape(dear)
    bound = search(half, land, UNSEEN)
    assert bound.best.fans_kwh == min(dear(each).fans_kwh for each in land.asked) < 100.0


def test_every_number_is_searched_in_its_half():
    """No number is left as it was guessed at first, but for the temperature the half itself rests on."""
    tried = {half: {name for _, tries in ROUNDS[half] for name, _ in tries} for half in Half}
    assert tried[Half.WINTER] | tried[Half.SUMMER] == {each.name for each in fields(Numbers)}
    assert not tried[Half.WINTER] & tried[Half.SUMMER]


def test_a_line_holds_only_what_no_other_beats():
    """Dearer and no better is left out, and so is as dear and worse."""
    points = [(100.0, 0.0), (40.0, 20.0), (45.0, 30.0), (60.0, 10.0), (70.0, 10.0), (10.0, 90.0)]
    assert line_of(points) == ((100.0, 0.0), (60.0, 10.0), (40.0, 20.0), (10.0, 90.0))


@pytest.mark.parametrize(
    ("kh", "kwh"), [(120.0, None), (100.0, None), (80.0, 5.0), (60.0, 10.0), (25.0, 55.0), (5.0, 90.0)]
)
def test_electricity_is_read_off_the_line(kh, kwh):
    """Straight between two points, the best's where more was reached than that, none where nothing was."""
    line = ((100.0, 0.0), (60.0, 10.0), (40.0, 20.0), (10.0, 90.0))
    bound = Bound(year(10.0, 90.0), Numbers(), line, 4)
    assert bound.kwh_for(kh - SAME * 100.0) == (kwh and pytest.approx(kwh))


def test_a_half_without_anything_to_prevent_is_not_searched(monkeypatch):
    """Where it never freezes only the summer is played, and each year knows what is ahead."""
    played = []

    def play(_settings, _weather, numbers, _days, ahead):
        played.append((numbers, ahead))
        return year(5.0)

    monkeypatch.setattr("tests.lab.scoreboard.bound.season", play)
    still = Reached(LEAST_KH, LEAST_KH + 1.0, 40.0, 8000.0, 0.0, 0.0)
    monkeypatch.setattr("tests.lab.scoreboard.bound.season_by_hour", lambda *_: (still, [3.0, 33.0]))
    found = find_bounds(CASES[0])
    assert found.still == still
    assert set(found.bounds) == {Half.SUMMER}
    assert found.bounds[Half.SUMMER].tried == len(played)
    assert {tuple(ahead.heat_h) for _, ahead in played} == {(1.0, 0.0)}


def test_what_is_ahead_is_counted_in_hours():
    """From each hour to the next frosty and the next hot one; never, if there is none."""
    ahead = Ahead.of([10.0, 3.0, 20.0, 33.0, 3.9, 10.0])
    assert list(ahead.frost_h[:5]) == [1.0, 0.0, 2.0, 1.0, 0.0]
    assert list(ahead.heat_h[:4]) == [3.0, 2.0, 1.0, 0.0]
    assert ahead.frost_h[5] > NEVER / 2.0


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
    assert still.fans_kwh == 0.0
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
    eager = Numbers(return_below_c=99.0, bank_from_k=0.5)
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


def test_hindsight_cools_a_hot_house(monkeypatch):
    """Two July days in a shut house: cooled they are less hot, and the electricity counts as cooling."""
    monkeypatch.setattr(foresight, "FIRST_DAY", JULY)
    shut = house("shut")
    still = season(shut, weather(), STILL, days=2.0)
    cooled = season(shut, weather(), FIRST[Half.SUMMER], days=2.0)
    assert cooled.hot_kh < still.hot_kh
    assert cooled.cooling_kwh == pytest.approx(cooled.fans_kwh, rel=0.1)
    assert cooled.fans_kwh > 0.0


def test_soil_that_is_never_warmed_cools_more(monkeypatch):
    """The same hand takes more off the heat where the soil stays as cool as without fans."""
    monkeypatch.setattr(foresight, "FIRST_DAY", JULY)
    shut = house("shut")
    cooled = season(shut, weather(), FIRST[Half.SUMMER], days=2.0)
    best, _ = season_by_hour(shut, weather(), FIRST[Half.SUMMER], 2.0, untouched_soil=True)
    assert 0.0 < best.hot_kh < cooled.hot_kh


def test_hindsight_cools_the_soil_by_night_only_before_heat(monkeypatch):
    """Cool air goes through warm soil while a hot hour is near, and not when none is."""
    monkeypatch.setattr(foresight, "FIRST_DAY", OCTOBER)
    purging = replace(STILL, purge_from_k=0.5, purge_to_c=10.0)
    _, bench_c = season_by_hour(HOUSE, weather(), STILL, days=1.0)
    near, far = Ahead.of([35.0 for _ in bench_c]), Ahead.of([20.0 for _ in bench_c])
    assert season(HOUSE, weather(), purging, 1.0, near).fans_kwh > 0.0
    assert season(HOUSE, weather(), purging, 1.0, far).fans_kwh == 0.0


def test_hindsight_banks_only_before_frost(monkeypatch):
    """A sunny October day is banked by a hand that banks all year, and not by one that waits for frost."""
    monkeypatch.setattr(foresight, "FIRST_DAY", OCTOBER)
    ahead = Ahead.of([20.0] * 24)
    waiting = replace(Numbers(), bank_ahead_days=15.0)
    assert season(HOUSE, weather(), Numbers(), 1.0, ahead).fans_kwh > 0.0
    assert season(HOUSE, weather(), waiting, 1.0, ahead).fans_kwh == 0.0
