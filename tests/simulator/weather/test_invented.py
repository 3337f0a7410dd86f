"""Years that never were: as their file on the whole, with extremes of their own."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from controller.simulator.weather.air import relative_humidities
from controller.simulator.weather.formats import MONTH_DAYS
from controller.simulator.weather.invented import SOLAR_CONSTANT_W_M2, invent_year
from controller.simulator.weather.load import load_weather
from tests.simulator.garden import weather

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.simulator.weather.year import Weather

    Floats = NDArray[np.float64]

STATIONS = ("carolina", "alaska-coast", "miami")
SEEDS = range(20)
# The lowest and highest air temperature ever measured in the region, rounded outwards to 5 K. From memory:
# Greensboro -22 and 40 °C, south coast of Alaska -30 and 32 °C, Miami -3 and 38 °C.
EVER_C = {"carolina": (-25.0, 45.0), "alaska-coast": (-30.0, 35.0), "miami": (-5.0, 40.0)}
WET_DAY_MM = 0.2  # from here a day counts as wet; the usual threshold of WMO climate tables is 0.1 to 1 mm


@cache
def years(station: str) -> tuple[Weather, ...]:
    """Twenty invented years."""
    return tuple(invent_year(weather(station), seed) for seed in SEEDS)


def days(hours: Floats) -> Floats:
    """Hours by days."""
    return hours.reshape(365, 24)


def anomalies_k(year: Weather) -> Floats:
    """Daily means less their first yearly wave."""
    means = days(year.air_c).mean(axis=1)
    angle = 2.0 * np.pi * np.arange(365) / 365.0
    waves = np.column_stack([np.ones(365), np.cos(angle), np.sin(angle)])
    rest: Floats = means - waves @ np.linalg.lstsq(waves, means, rcond=None)[0]
    return rest


def after_days(anomalies: Floats, lag: int) -> float:
    """Autocorrelation."""
    return float(np.corrcoef(anomalies[:-lag], anomalies[lag:])[0, 1])


def rain_mm(year: Weather) -> Floats:
    """Rain by days."""
    return days(year.rain_m_s).sum(axis=1) * 3.6e6


@pytest.mark.parametrize("station", STATIONS)
def test_temperatures_keep_mean_spread_and_daily_course(station: str) -> None:
    """Over twenty years the yearly mean, each hour of the day and each month are near the file's.

    Tolerances: the cold snaps and heat waves that are laid over do not quite cancel (0.5 K), and a month of
    the file is mixed with three weeks on either side (1.5 K).
    """
    base, made = weather(station), years(station)
    assert np.mean([year.air_c.mean() for year in made]) == pytest.approx(base.air_c.mean(), abs=0.5)
    assert np.mean([year.air_c.std() for year in made]) == pytest.approx(base.air_c.std(), rel=0.08)
    courses = np.mean([days(year.air_c).mean(axis=0) for year in made], axis=0)
    assert courses == pytest.approx(days(base.air_c).mean(axis=0), abs=0.5)
    swings = np.mean([np.ptp(days(year.air_c), axis=1).mean() for year in made])
    assert swings == pytest.approx(np.ptp(days(base.air_c), axis=1).mean(), rel=0.08)
    month = np.repeat(np.arange(12), MONTH_DAYS)
    for number in range(12):
        of_file = days(base.air_c)[month == number].mean()
        assert np.mean([days(y.air_c)[month == number].mean() for y in made]) == pytest.approx(
            of_file, abs=1.5
        )


@pytest.mark.parametrize("station", STATIONS)
def test_weather_lasts_as_long_as_in_the_file(station: str) -> None:
    """Warm and cold spells keep their length: autocorrelation of daily means, and of changes hour to hour.

    Blocks of three to eight days break the chain of days about once in five and a half, so that what is left
    after a day is at most a fifth less than the file's; hourly changes are broken 66 times in 8760.
    """
    base, made = weather(station), years(station)
    own = anomalies_k(base)
    for lag, tolerance in ((1, 0.12), (2, 0.15), (5, 0.15)):
        ours = np.mean([after_days(anomalies_k(year), lag) for year in made])
        assert ours == pytest.approx(after_days(own, lag), abs=tolerance)
    assert np.mean([anomalies_k(y).std() for y in made]) == pytest.approx(own.std(), rel=0.08)
    hourly = np.mean([after_days(np.diff(y.air_c), 1) for y in made])
    assert hourly == pytest.approx(after_days(np.diff(base.air_c), 1), abs=0.05)


@pytest.mark.parametrize("station", STATIONS)
def test_extremes_go_beyond_the_file_sometimes_and_beyond_nature_never(station: str) -> None:
    """Some years are colder or hotter than the file ever is, none leaves what the region has ever seen."""
    base, made = weather(station), years(station)
    colder = [year.air_c.min() < base.air_c.min() - 0.1 for year in made]
    hotter = [year.air_c.max() > base.air_c.max() + 0.1 for year in made]
    assert 0.1 < np.mean(colder) < 0.9
    assert 0.1 < np.mean(hotter) < 0.9
    lowest, highest = EVER_C[station]
    for year in made:
        assert lowest < year.air_c.min()
        assert year.air_c.max() < highest
        assert np.abs(np.diff(year.air_c)).max() < np.abs(np.diff(base.air_c)).max() + 2.0
        assert year.wind_m_s.min() >= 0.0
        shares = relative_humidities(year)
        assert shares.min() >= 0.05 - 1e-9
        assert shares.max() <= 1.0 + 1e-9
        assert np.all(year.ghi_w_m2 <= SOLAR_CONSTANT_W_M2)
        black_w_m2 = 5.670374419e-8 * (year.air_c + 273.15) ** 4
        assert np.all(year.sky_w_m2 <= black_w_m2 * (1.0 + 1e-9))
        assert np.all(year.sky_w_m2 > 0.5 * black_w_m2)


@pytest.mark.parametrize("station", STATIONS)
def test_rain_sun_wind_and_humidity_keep_their_sums(station: str) -> None:
    """Rain may be more, as every other year has a wet spring; wet days, sun, wind and damp are the file's."""
    base, made = weather(station), years(station)
    wet = [rain_mm(year) > WET_DAY_MM for year in made]
    sums = [rain_mm(year).sum() for year in made]
    assert rain_mm(base).sum() * 0.95 < np.mean(sums) < rain_mm(base).sum() * 1.2
    assert np.std(sums) > 0.05 * rain_mm(base).sum()
    assert np.mean(wet) == pytest.approx((rain_mm(base) > WET_DAY_MM).mean(), abs=0.03)
    assert max(rain_mm(y).max() for y in made) < 3.0 * rain_mm(base).max() + 1e-9
    for name in ("ghi_w_m2", "wind_m_s", "sky_w_m2"):
        ours = np.mean([getattr(year, name).mean() for year in made])
        assert ours == pytest.approx(getattr(base, name).mean(), rel=0.03), name
    damp = np.mean([relative_humidities(year).mean() for year in made])
    assert damp == pytest.approx(relative_humidities(base).mean(), abs=0.02)


def test_dry_and_warm_days_keep_each_others_company() -> None:
    """Quantities are drawn together: cloudier days have less sun and a warmer night sky, as in the file."""
    base = weather()

    def together(year: Weather) -> float:
        sun, damp = days(year.ghi_w_m2).mean(axis=1), days(relative_humidities(year)).mean(axis=1)
        return float(np.corrcoef(sun, damp)[0, 1])

    assert together(base) < -0.3
    assert np.mean([together(year) for year in years("carolina")]) == pytest.approx(together(base), abs=0.1)


def test_an_invented_year_is_like_its_file_but_not_the_same() -> None:
    """Mean, spread and light stay near; the same seed makes the same year, another seed another."""
    base = weather()
    made = years("carolina")
    for year in made[:4]:
        assert year.air_c.mean() == pytest.approx(base.air_c.mean(), abs=1.0)
        assert year.air_c.std() == pytest.approx(base.air_c.std(), rel=0.12)
        assert year.ghi_w_m2.sum() == pytest.approx(base.ghi_w_m2.sum(), rel=0.06)
        assert year.sky_w_m2.mean() == pytest.approx(base.sky_w_m2.mean(), rel=0.05)
        assert np.abs(year.air_c - base.air_c).mean() > 2.0
        assert any(note.startswith("invented year") for note in year.notes)
        rest = year.dni_w_m2 * year.sun_height + year.dhi_w_m2 - year.ghi_w_m2
        assert np.abs(rest).mean() < 2.0
        assert np.all(year.ghi_w_m2[year.sun_height == 0.0] == 0.0)
    assert np.array_equal(load_weather("invented-carolina", 1).air_c, made[1].air_c)
    assert not np.array_equal(made[0].air_c, made[1].air_c)


def test_invented_years_bring_spells_that_their_notes_name() -> None:
    """Over a few seeds there are cold snaps, heat waves and wet springs, and a snap is really colder."""
    notes = [note for year in years("carolina") for note in year.notes]
    for word in ("cold snap: -", "heat wave: +", "wet spring: "):
        assert any(note.startswith(word) for note in notes), word


def test_a_spell_is_as_strong_as_the_place_allows() -> None:
    """A heat wave in Miami, where one summer day is like another, is weaker than one inland."""

    def strongest_k(station: str, word: str) -> float:
        notes = [note for year in years(station) for note in year.notes if note.startswith(word)]
        return max(abs(float(note.split()[2])) for note in notes)

    assert strongest_k("miami", "heat wave") < strongest_k("carolina", "heat wave")
    assert strongest_k("miami", "cold snap") < strongest_k("carolina", "cold snap")
