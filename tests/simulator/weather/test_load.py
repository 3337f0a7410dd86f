"""A year of weather in SI: humidity, sky, sun, rain, dates."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest

from controller.physics import moist_air, sky
from controller.simulator.weather.formats import WeatherError
from controller.simulator.weather.load import load_weather
from controller.simulator.weather.rain import YearlySum, by_the_hour, made_up_rain_mm, rain_mm
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
    """The Alaskan year gets its rain from the seed: same seed, same rain; the sum is that of a usual year."""
    first, again, other = (load_weather("alaska-coast", seed) for seed in (3, 3, 4))
    assert np.array_equal(first.rain_m_s, again.rain_m_s)
    assert not np.array_equal(first.rain_m_s, other.rain_m_s)
    assert first.rain_m_s.sum() * HOUR_MM == pytest.approx(838.0)
    assert any("rain is made up (seed 3)" in note for note in first.notes)


def test_made_up_rain_falls_in_damp_overcast_hours() -> None:
    """No rain from a blue or dry sky."""
    random = np.random.default_rng(1)
    humidity, cloud = random.random(8760), random.random(8760)
    rain = made_up_rain_mm(humidity, cloud, seed=1, year_mm=900.0)
    assert np.all((humidity[rain > 0.0] >= 0.88) & (cloud[rain > 0.0] >= 0.8))


def test_a_file_without_any_damp_hour_still_gets_rain() -> None:
    """The dampest tenth of the hours then serves."""
    columns = {"rain_mm": np.full(8760, np.nan), "cloud": np.full(8760, np.nan)}
    notes: list[str] = []
    rain = rain_mm(columns, np.linspace(0.1, 0.5, 8760), 0, YearlySum(), notes)
    assert rain.sum() == pytest.approx(900.0)
    assert rain[: 8760 // 2].sum() == 0.0
    assert len(notes) == 1
    assert "900 mm fall in damp, overcast hours, which is a guess" in notes[0]


@pytest.mark.parametrize("name", ["miami:1600mm", "miami-2K:1600mm", "miami:1600mm-2K", "carolina:1600mm"])
def test_a_person_sets_the_year_s_rain(name: str) -> None:
    """Made up or from the file, shifted or not, it sums up to what was asked for, and notes say so."""
    year = load_weather(name)
    assert year.rain_m_s.sum() * HOUR_MM == pytest.approx(1600.0)
    assert any("1600 mm" in note for note in year.notes)


def test_a_dry_year_can_be_asked_for_and_an_impossible_one_is_refused() -> None:
    """0 mm is a year without rain; more than any place on earth gets is an error in words."""
    assert load_weather("alaska-coast:0mm").rain_m_s.sum() == 0.0
    with pytest.raises(WeatherError, match="20000 mm of rain in a year is out of range"):
        load_weather("miami:20000mm")


def test_sums_over_several_hours_are_spread_over_what_is_left_of_them() -> None:
    """12 mm in six hours, 3 mm of it in one reported hour, leave 9 mm for the other five."""
    depth, hours = np.full(48, np.nan), np.full(48, np.nan)
    depth[[3, 5, 20, 30]], hours[[3, 5, 20, 30]] = (3.0, 12.0, 4.0, 253.0), (1.0, 6.0, np.nan, 99.0)
    rain = by_the_hour(depth, hours)
    assert rain[:6] == pytest.approx([1.8, 1.8, 1.8, 3.0, 1.8, 1.8])
    assert rain[20] == 4.0
    assert np.isnan(rain[6:20]).all()
    assert np.isnan(rain[30])


def without(path: Path, fields: dict[int, str], lines: range) -> Path:
    """An EnergyPlus file with some fields of some lines (counted from 1) replaced."""
    text = path.read_text(encoding="latin-1").split("\n")
    for number in lines:
        values = text[number - 1].split(",")
        for place, value in fields.items():
            values[place] = value
        text[number - 1] = ",".join(values)
    path.write_text("\n".join(text), encoding="latin-1")
    return path


FOG = range(1000, 1162)  # 162 hours on end
NO_CLOUD, NO_SKY, NO_DEW, NO_HUMIDITY = {22: "99"}, {12: "9999"}, {7: "99.9"}, {8: "999"}


def test_missing_clouds_do_not_matter_where_the_sky_is_measured(tmp_path: Path) -> None:
    """162 foggy hours without cloud cover and dew point: nothing asks for them, and nothing is noted."""
    year = load_weather(without(epw(tmp_path), NO_CLOUD | NO_DEW, FOG))
    assert np.all(year.sky_w_m2 == 300.0)
    assert year.notes == load_weather(epw(tmp_path)).notes


def test_a_sky_that_is_missing_for_a_while_comes_from_the_clouds(tmp_path: Path) -> None:
    """The measured hours stay, the others are worked out, and the notes count them."""
    year = load_weather(without(epw(tmp_path), NO_SKY, FOG))
    gone = np.zeros(8760, dtype=bool)
    gone[np.arange(1000 - 8, 1162 - 8)] = True
    assert np.all(year.sky_w_m2[~gone] == 300.0)
    assert np.all((year.sky_w_m2[gone] > 250.0) & (year.sky_w_m2[gone] < 400.0))
    assert "sky long-wave radiation from dew point and cloud cover in 162 hours" in year.notes


def test_humidity_comes_from_whichever_is_known_in_the_hour(tmp_path: Path) -> None:
    """Relative humidity is missing for 162 hours, the dew point for others: each hour has one of them."""
    path = without(without(epw(tmp_path), NO_HUMIDITY, FOG), NO_DEW, range(3000, 3100))
    year = load_weather(path)
    assert "humidity from the dew point in 162 hours" in year.notes
    hour = 1100 - 8
    saturated = moist_air.saturation_humidity_ratio(5.0, float(year.pressure_pa[hour]))
    assert year.humidity_ratio[hour] == pytest.approx(saturated, rel=1e-6)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (NO_SKY | NO_CLOUD, r"sky long-wave radiation \(or cloud cover\)"),
        (NO_HUMIDITY | NO_DEW, r"humidity \(relative or dew point\)"),
    ],
)
def test_what_has_no_stand_in_is_bridged_or_refused(
    tmp_path: Path, fields: dict[int, str], words: str
) -> None:
    """Six hours without either are bridged and noted; seven refuse the file and name the line."""
    year = load_weather(without(epw(tmp_path), fields, range(1000, 1006)))
    assert any(re.search(f"^{words}: 6 missing hours bridged", note) for note in year.notes)
    with pytest.raises(WeatherError, match=rf"made\.epw:1000: {words} is missing for 7 hours from here"):
        load_weather(without(epw(tmp_path), fields, range(1000, 1007)))


def test_a_place_that_observes_no_clouds_has_half_cover(tmp_path: Path) -> None:
    """Neither sky nor clouds in any hour: half cover, and the notes say so."""
    year = load_weather(without(epw(tmp_path), NO_SKY | NO_CLOUD, range(9, 8769)))
    assert any("sky long-wave radiation for half cover: the file has neither" in note for note in year.notes)


def test_nonsense_in_what_is_not_used_refuses_no_file(tmp_path: Path) -> None:
    """Cloud cover in percent is left out and noted, with the first line; strange air temperatures are not."""
    year = load_weather(without(epw(tmp_path), {22: "87"}, FOG))
    said = (
        "cloud cover: 162 values count as missing, the first because: .*made.epw:1000: cloud cover 87 tenths"
    )
    assert any(re.search(said, note) for note in year.notes)
    with pytest.raises(WeatherError, match=":1000: air temperature 87 °C is outside"):
        load_weather(without(epw(tmp_path), {6: "87"}, FOG))


def test_rain_without_a_code_for_missing_is_used_and_with_one_made_up(tmp_path: Path) -> None:
    """A year of 999 is no rain at all, but a file without; three hours of 999 are three dry ones."""
    year = load_weather(without(epw(tmp_path), {33: "999", 34: "99"}, range(9, 8769)))
    assert any("rain is made up (seed 0), because the file has none: 900 mm" in note for note in year.notes)
    year = load_weather(without(epw(tmp_path), {33: "999", 34: "99"}, range(100, 103)))
    assert year.rain_m_s.sum() * HOUR_MM == pytest.approx(0.4 * 8757)
