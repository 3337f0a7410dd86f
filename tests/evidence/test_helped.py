"""Did it help? On houses whose answer is known by construction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from controller.evidence import calibration
from controller.evidence.fit import fit
from controller.evidence.helped import Helped, NotEnough, did_it_help
from controller.evidence.house_model import Night, Parameters, air_of, heater_w_m2, raise_by
from controller.evidence.nights import for_fit, log_of, nights_of
from tests.evidence.made import HOUSE, STEPS_A_DAY, TRUE_HOUSE, season, series, utc


def test_the_raise_is_the_house_with_heat_less_the_house_without():
    """Where the ground does not remember, superposition is exact."""
    house = Parameters(6.0, 9.0, 7e4, 0.0)
    outdoors, ground = list(np.linspace(2.0, -6.0, 66)), [12.0] * 66
    heat = [20.0 * (step % 12 < 7) for step in range(66)]
    warm = air_of(house, Night(outdoors, ground, heat, []), 600.0)
    cold = air_of(house, Night(outdoors, ground, [0.0] * 66, []), 600.0)
    raised = [with_c - without_c for with_c, without_c in zip(warm, cold, strict=True)]
    assert raise_by(house, heat, 600.0) == pytest.approx(raised)


def test_a_heater_that_gives_the_same_raise_gives_the_same_heat():
    """Played backwards, the raise gives the heat that made it."""
    house = Parameters(6.0, 9.0, 7e4, 0.0)
    heat = [20.0 * (step % 12 < 7) for step in range(66)]
    assert heater_w_m2(house, raise_by(house, heat, 600.0), 600.0) == pytest.approx(heat)


def test_the_house_is_found_from_its_own_nights():
    """What the fans do in a house that the model describes is found within a tenth, by the log alone."""
    made = season(60, 40)
    log = log_of(made.series, HOUSE, utc)
    found = fit(for_fit(log, nights_of(log)), 1200.0)
    steps = 100 * [1.0]
    ours, true = (raise_by(house, steps, 600.0)[-1] for house in (found.house, TRUE_HOUSE))
    assert ours == pytest.approx(true, rel=0.1)
    assert found.error_k < 0.5


@pytest.fixture
def untaught(monkeypatch):
    """Without what rehearsed houses have taught: the made-up house is just what the model is."""
    monkeypatch.setattr(calibration, "NIGHT_SCALE", 1.0)
    monkeypatch.setattr(calibration, "HOURS_SCALE", 1.0)
    monkeypatch.setattr(calibration, "LINGERING_SHARE", 0.0)


@pytest.mark.usefixtures("untaught")
def test_a_made_up_season_is_answered_by_its_own_raise():
    """The claim for a house that the model describes is the raise it was made with, within a tenth."""
    made = season(60, 40)
    answer = did_it_help(made.series, HOUSE, utc)
    assert isinstance(answer, Helped)
    bench = made.series.temps["bench"]
    true_k = []
    for row, day in zip(answer.rows, range(60), strict=False):
        steps = range(day * STEPS_A_DAY, (day + 1) * STEPS_A_DAY)
        if row.heated:
            true_k.append(min(bench[s] for s in steps) - min(bench[s] - made.raise_k[s] for s in steps))
    assert answer.heated_nights == len(true_k) == 40
    assert answer.raise_heated_k.value == pytest.approx(np.mean(true_k), rel=0.1)
    assert answer.raise_heated_k.low < answer.raise_heated_k.value < answer.raise_heated_k.high
    assert answer.raise_all_k.value < answer.raise_heated_k.value
    assert answer.money is None


@pytest.mark.parametrize(
    ("heated", "sentence"),
    [
        (0, "10 more nights on which fans heat must be read: 0 of 10 are there."),
        (9, "1 more night on which fans heat must be read: 9 of 10 are there."),
    ],
)
def test_too_few_nights_give_no_number(heated, sentence):
    """Under ten heated nights it says how many are missing."""
    assert did_it_help(season(30, heated).series, HOUSE, utc) == NotEnough(heated, 10, sentence)


@pytest.mark.parametrize(("place", "word"), [("outdoor", "outdoors"), ("soil", "soil")])
def test_a_house_without_the_probe_is_told_which_one(place, word):
    """Without a probe outdoors or in the soil there is no answer, and the sentence names the place."""
    probes = {name: probe for name, probe in HOUSE.probes.items() if probe.place != place}
    settings = HOUSE.model_copy(update={"probes": probes})
    settings.__dict__.pop("derived", None)
    answer = did_it_help(season(12, 11).series, settings, utc)
    assert isinstance(answer, NotEnough)
    assert word in answer.sentence


def test_nights_with_long_gaps_are_left_out():
    """A night of which a third was not read does not count; one with a short gap does."""
    made = season(30, 20)
    bench = list(made.series.temps["bench"])
    bench[25 * STEPS_A_DAY + 60 : 25 * STEPS_A_DAY + 90] = [None] * 30
    bench[27 * STEPS_A_DAY + 60 : 27 * STEPS_A_DAY + 62] = [None] * 2
    broken = replace(made.series, temps={**made.series.temps, "bench": bench})
    whole, less = (did_it_help(log, HOUSE, utc) for log in (made.series, broken))
    assert less.nights == whole.nights - 1
    assert less.raise_heated_k.value == pytest.approx(whole.raise_heated_k.value, rel=0.1)


def test_fewer_nights_make_a_wider_range():
    """A fortnight leaves more open than two months."""
    short, long = (did_it_help(season(days, days - 2).series, HOUSE, utc) for days in (14, 60))
    shares = [a.raise_heated_k.half_width / a.raise_heated_k.value for a in (short, long)]
    assert shares[0] > 1.1 * shares[1]


@pytest.mark.usefixtures("untaught")
def test_frost_is_counted_with_the_store_and_without():
    """Nights and hours avoided are those that lie below the limit without the raise, less those with it."""
    made = season(60, 40)
    limit_c = HOUSE.setpoints.frost_limit_c
    answer = did_it_help(made.series, HOUSE, utc)
    bench = made.series.temps["bench"]
    still = [air_c - by_k for air_c, by_k in zip(bench, made.raise_k, strict=True)]
    hours = (sum(air_c < limit_c for air_c in still) - sum(air_c < limit_c for air_c in bench)) / 6.0
    assert hours > 20.0
    assert answer.frost_hours_avoided.value == pytest.approx(hours, rel=0.1)
    assert answer.frost_hours_avoided.low < answer.frost_hours_avoided.value
    assert answer.frost_nights_avoided.value > 0.0


@pytest.mark.parametrize("seed", range(3))
def test_a_log_without_sense_gives_a_wide_answer_and_no_failure(seed):
    """Probes that read anything within their range, with gaps, make figures that are finite and in order."""
    chance = np.random.default_rng(seed)
    steps = 20 * STEPS_A_DAY
    temps = {}
    for name in HOUSE.probes:
        read = np.clip(np.cumsum(chance.normal(0.0, 2.0, steps)), -55.0, 125.0)
        temps[name] = [None if chance.random() < 0.01 else float(value_c) for value_c in read]
    fans = {loop: [float(share) for share in chance.integers(0, 2, steps)] for loop in HOUSE.loops}
    answer = did_it_help(series(temps, fans, steps), HOUSE, utc, 0.3)
    if isinstance(answer, Helped):
        for figure in (
            answer.raise_heated_k,
            answer.frost_hours_avoided,
            answer.hot_hours_avoided,
            answer.money,
        ):
            assert np.isfinite(figure).all()
            assert figure.low <= figure.value <= figure.high
    else:
        assert answer.sentence
