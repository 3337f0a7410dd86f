"""The same year warmer or colder."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from controller.physics import sky
from controller.simulator.weather.air import dew_points_c, relative_humidities, shifted
from controller.simulator.weather.formats import WeatherError
from controller.simulator.weather.load import load_weather
from tests.physics.references import dew_point_c
from tests.simulator.garden import weather
from tests.simulator.weather.test_files import epw

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("by_k", [-8.0, 3.5])
def test_a_shift_moves_the_air_and_keeps_the_rest(by_k: float) -> None:
    """Every hour is as much colder; relative humidity, light, wind, pressure and rain stay."""
    base, other = weather(), shifted(weather(), by_k)
    assert other.air_c == pytest.approx(base.air_c + by_k)
    assert relative_humidities(other) == pytest.approx(relative_humidities(base), abs=1e-9)
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "wind_m_s", "pressure_pa", "rain_m_s", "sun_height"):
        assert np.array_equal(getattr(other, name), getattr(base, name)), name


def test_colder_air_holds_less_water_as_clausius_and_clapeyron_say() -> None:
    """About 7 % less water for each kelvin (Held & Soden 2006, J. Climate 19:5686) [memory]."""
    base, other = weather(), shifted(weather(), -1.0)
    assert (other.humidity_ratio / base.humidity_ratio).mean() == pytest.approx(0.93, abs=0.01)


def test_a_colder_sky_radiates_less_and_keeps_its_clouds() -> None:
    """The shifted sky is what the file's cloud cover gives over the colder, drier air."""
    base, other = weather(), shifted(weather(), -8.0)
    assert np.all(other.sky_w_m2 < base.sky_w_m2)
    for hour in range(0, 8760, 379):
        clear = [
            sky.clear_sky_emissivity(
                dew_point_c(float(y.humidity_ratio[hour]), float(y.pressure_pa[hour])),
                hour % 24,
                float(y.pressure_pa[hour]),
            )
            for y in (base, other)
        ]
        emissivity = [
            y.sky_w_m2[hour] / sky.downward_radiation_w_m2(float(y.air_c[hour]), 1.0) for y in (base, other)
        ]
        closed = [(e - c) / (1.0 - c) for e, c in zip(emissivity, clear, strict=True)]
        assert closed[0] == pytest.approx(closed[1], abs=1e-3)
        assert clear[1] < clear[0]


def test_there_and_back_is_the_same_year() -> None:
    """Nothing is lost on the way."""
    base = weather()
    back = shifted(shifted(base, -8.0), 8.0)
    for name in ("air_c", "humidity_ratio", "sky_w_m2"):
        assert getattr(back, name) == pytest.approx(getattr(base, name), rel=1e-9), name


def test_dew_points_of_a_table_are_near_enough() -> None:
    """Within a hundredth of a kelvin of the formula, hour by hour."""
    for station in ("carolina", "alaska-coast"):
        year = weather(station)
        exact = [
            dew_point_c(float(water), float(pressure))
            for water, pressure in zip(year.humidity_ratio[::23], year.pressure_pa[::23], strict=True)
        ]
        assert np.abs(dew_points_c(year.humidity_ratio, year.pressure_pa)[::23] - exact).max() < 0.01


def test_names_say_shift_and_invention(tmp_path: Path) -> None:
    """A suffix shifts a shipped name, a file, and the years invented from either; notes and title say so."""
    cold = load_weather("carolina-8K")
    assert cold.title.endswith(", 8 K colder")
    assert any("8 K colder than the file" in note for note in cold.notes)
    assert cold.air_c == pytest.approx(weather().air_c - 8.0)
    made = load_weather(f"{epw(tmp_path)}+2.5K")
    assert made.air_c.min() == pytest.approx(12.5)
    invented = load_weather("invented-carolina-8K", 5)
    assert abs(invented.air_c.mean() - cold.air_c.mean()) < 1.0
    assert "invented year 5" in invented.title


def test_a_file_of_that_very_name_comes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What looks like a shift may be a file's name."""
    (tmp_path / "site-8K").write_text("")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(WeatherError, match="unknown kind of weather file"):
        load_weather("site-8K")


@pytest.mark.parametrize("name", ["carolina-30K", "carolina+999K"])
def test_a_shift_beyond_reason_is_refused(name: str) -> None:
    """Thirty kelvins colder is another planet."""
    with pytest.raises(WeatherError, match="expected -20K to \\+20K"):
        load_weather(name)


@pytest.mark.parametrize(
    "name", ["carolina-8", "carolina-8C", "-8K", "invented-", "invented-atlantis", "a\0b", "x" * 9000]
)
def test_names_that_are_none_are_told(name: str) -> None:
    """Whatever is typed, the answer lists what there is."""
    with pytest.raises(WeatherError, match="not one of alaska-coast, carolina, miami"):
        load_weather(name)
