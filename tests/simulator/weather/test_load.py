"""A year of weather in SI: humidity, sky, sun, rain, dates."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest

from controller.physics import moist_air, sky
from controller.simulator.weather.formats import WeatherError
from controller.simulator.weather.load import load_weather
from controller.simulator.weather.rain import made_up_rain_mm, rain_mm
from tests.simulator.garden import weather
from tests.simulator.weather.test_files import epw

if TYPE_CHECKING:
    from pathlib import Path

HOUR_MM = 3.6e6  # m/s to mm/h


def test_an_unknown_name_lists_the_shipped_years() -> None:
    """A person who mistypes learns what there is."""
    with pytest.raises(
        WeatherError, match="carolinas: no such file, and not one of alaska-coast, carolina, miami"
    ):
        load_weather("carolinas")


def test_light_fits_the_position_of_the_sun() -> None:
    """Direct light times the sine of the sun's height, and diffuse, add up to the file's global light.

    This ties together the hour marks of the file, its place, its time zone and the sun's path: half an hour
    off would leave tens of W/m².
    """
    year = weather()
    rest = year.dni_w_m2 * year.sun_height + year.dhi_w_m2 - year.ghi_w_m2
    assert np.abs(rest).mean() < 2.0
    assert np.percentile(np.abs(rest), 99) < 15.0


def test_humidity_and_sky_are_within_nature() -> None:
    """Relative humidity stays under 1 and the sky between the air and a dry clear night."""
    year = weather()
    rows = zip(year.air_c[::37], year.humidity_ratio[::37], year.pressure_pa[::37], strict=True)
    shares = [moist_air.relative_humidity(float(t), float(w), float(p)) for t, w, p in rows]
    assert min(shares) > 0.05
    assert max(shares) < 1.0 + 1e-9
    black = np.array([sky.downward_radiation_w_m2(float(air_c), 1.0) for air_c in year.air_c])
    deficit = black - year.sky_w_m2
    assert deficit.min() >= 0.0
    assert deficit.max() < 150.0


def test_measured_sky_and_rain_are_used_as_they_are(tmp_path: Path) -> None:
    """An EnergyPlus file brings both; nothing is made up."""
    year = load_weather(epw(tmp_path))
    assert np.all(year.sky_w_m2 == 300.0)
    assert year.rain_m_s.sum() * HOUR_MM == pytest.approx(0.4 * 8760)
    assert not any("made up" in note for note in year.notes)


def test_a_missing_sky_is_worked_out(tmp_path: Path) -> None:
    """Without the long-wave column the sky follows from dew point and cloud, and the notes say so."""
    year = load_weather(epw(tmp_path, sky="9999"))
    assert any("sky long-wave radiation from dew point" in note for note in year.notes)
    assert 200.0 < year.sky_w_m2.mean() < 400.0


def test_dates_fall_into_the_files_year() -> None:
    """Local standard time counts; 29 February is 28 February again; other zones are converted."""
    year = weather()
    assert year.seconds_into_year(datetime(2026, 1, 2)) == 86_400.0  # noqa: DTZ001
    assert year.seconds_into_year(datetime(2026, 1, 2, 5, tzinfo=UTC)) == 86_400.0
    assert year.seconds_into_year(datetime(2028, 2, 29, 12)) == year.seconds_into_year(  # noqa: DTZ001
        datetime(2028, 2, 28, 12)  # noqa: DTZ001
    )
    assert year.start_of_year.utcoffset() == timedelta(hours=-5)


def test_rain_in_tenths_is_recognised() -> None:
    """8345 mm would be the wettest place on earth; it is a tenth of that, and the notes say so."""
    year = weather()
    assert year.rain_m_s.sum() * HOUR_MM == pytest.approx(834.5)
    assert any("tenths of a millimetre" in note for note in year.notes)


def test_rain_is_made_up_where_a_file_has_none_and_said() -> None:
    """The Alaskan year gets its rain from the seed: same seed, same rain; the sum is the stated one."""
    first, again, other = (load_weather("alaska-coast", seed) for seed in (3, 3, 4))
    assert np.array_equal(first.rain_m_s, again.rain_m_s)
    assert not np.array_equal(first.rain_m_s, other.rain_m_s)
    assert first.rain_m_s.sum() * HOUR_MM == pytest.approx(900.0)
    assert any("rain is made up (seed 3)" in note for note in first.notes)


def test_made_up_rain_falls_in_damp_overcast_hours() -> None:
    """No rain from a blue or dry sky."""
    random = np.random.default_rng(1)
    humidity, cloud = random.random(8760), random.random(8760)
    rain = made_up_rain_mm(humidity, cloud, seed=1)
    assert np.all((humidity[rain > 0.0] >= 0.88) & (cloud[rain > 0.0] >= 0.8))


def test_a_file_without_any_damp_hour_still_gets_rain() -> None:
    """The dampest tenth of the hours then serves."""
    columns = {"rain_mm": np.full(8760, np.nan), "cloud": np.full(8760, np.nan)}
    notes: list[str] = []
    rain = rain_mm(columns, np.linspace(0.1, 0.5, 8760), 0, notes)
    assert rain.sum() == pytest.approx(900.0)
    assert rain[: 8760 // 2].sum() == 0.0
    assert len(notes) == 1
