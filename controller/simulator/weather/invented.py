"""Years that never were: made from a file's own days, with cold snaps, heat waves and wet springs.

Runs of three to eight days are drawn from within three weeks of the season they are put into (a moving-
block bootstrap, Künsch 1989, Ann. Statist. 17:1217), so that hours keep their order and quantities keep
their company. What the season changes in between is corrected: the mean temperature by the year's first
wave, the light by the sun's height. Then spells are laid over it, as strong as the file's own spread allows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from controller.simulator.weather.air import (
    DRIEST,
    cloud_effects,
    humidity_ratios,
    relative_humidities,
    sky_radiation,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.simulator.weather.year import Weather

    Floats = NDArray[np.float64]
    Places = NDArray[np.int64]

DAYS = 365
DAY_H = 24
SEASON_DAYS = 21  # how far from its own date a day may be put
SHORTEST_RUN, LONGEST_RUN = 3, 8  # days
JOIN_H = 6  # hours over which two runs are blended into each other
SOLAR_CONSTANT_W_M2 = 1361.0  # Kopp & Lean 2011, Geophys. Res. Lett. 38:L01706
LEAST_SUN_HEIGHT = 0.05  # below this the light is left as it is
MOST_CLEARNESS = 0.85  # of the light above the air reaches the ground at best [practice]
# A cold snap or heat wave in standard deviations of the file's own days about its seasons: what is rare is
# another number of kelvins in Miami than in Alaska. [practice]
SPELL_SPREADS = (1.0, 2.0)
SPELL_DAYS = (3, 9)
WETTER = (1.8, 3.0)  # a wet spring over a usual one; same
WET_DAYS = 45


@dataclass(frozen=True, slots=True)
class Spell:
    """Something unusual from ``first_day`` (0 is 1 January): warmer by ``by_k``, wetter by a factor."""

    name: str
    first_day: int
    days: int
    by_k: float = 0.0
    rain_factor: float = 1.0


def invent_year(weather: Weather, seed: int) -> Weather:
    """Make a year that fits a file's statistics; the same seed makes the same year.

    Means and spread stay near the file's; each year gets, by chance, cold snaps, heat waves and a wet spring.
    """
    random = np.random.default_rng([seed, 2])
    source = _draw_hours(random)
    spells = _draw_spells(random, weather)
    wave = _seasonal_wave(weather.air_c)
    hours = np.arange(source.size)
    shift_k = wave[hours] - wave[source]
    rain_factor = np.ones(source.size)
    for spell in spells:
        rise = _spell_shape(spell)
        shift_k = shift_k + spell.by_k * rise
        rain_factor = rain_factor * (1.0 + (spell.rain_factor - 1.0) * rise)
    air_c = _joined(weather.air_c[source] + shift_k, source)
    pressure_pa = _joined(weather.pressure_pa[source], source)
    shares = np.clip(_joined(relative_humidities(weather)[source], source), DRIEST, 1.0)
    ratio = humidity_ratios(air_c, shares, pressure_pa)
    ghi, dni, dhi = _light(weather, source)
    return replace(
        weather,
        title=f"{weather.title} (invented year {seed})",
        notes=(*weather.notes, f"invented year {seed} from runs of this file's days", *map(_words, spells)),
        air_c=air_c,
        pressure_pa=pressure_pa,
        humidity_ratio=ratio,
        wind_m_s=np.maximum(_joined(weather.wind_m_s[source], source), 0.0),
        sky_w_m2=sky_radiation(air_c, ratio, pressure_pa, cloud_effects(weather)[source]),
        rain_m_s=weather.rain_m_s[source] * rain_factor,
        ghi_w_m2=ghi,
        dni_w_m2=dni,
        dhi_w_m2=dhi,
    )


def _words(spell: Spell) -> str:
    change = f"{spell.by_k:+.0f} K" if spell.by_k else f"{spell.rain_factor:.1f} times the rain"
    return f"{spell.name}: {change} for {spell.days} days from day {spell.first_day + 1}"


def _draw_hours(random: np.random.Generator) -> Places:
    """For every hour of the new year, the hour of the file it is taken from."""
    days: list[int] = []
    while len(days) < DAYS:
        length = int(random.integers(SHORTEST_RUN, LONGEST_RUN + 1))
        first = len(days) + int(random.integers(-SEASON_DAYS, SEASON_DAYS + 1))
        days += [(first + step) % DAYS for step in range(length)]
    day = np.array(days[:DAYS], dtype=np.int64)
    return (day[:, None] * DAY_H + np.arange(DAY_H)[None, :]).ravel()


def _draw_spells(random: np.random.Generator, weather: Weather) -> list[Spell]:
    """Cold snaps in the colder half of the year, heat waves in the warmer, a wet spring every other year."""
    wave = _seasonal_wave(weather.air_c).reshape(DAYS, DAY_H).mean(axis=1)
    apart_k = weather.air_c.reshape(DAYS, DAY_H).mean(axis=1) - wave
    middle = float(np.mean(wave))
    spells: list[Spell] = []
    for name, sign, season in (("cold snap", -1.0, wave < middle), ("heat wave", 1.0, wave > middle)):
        spread_k = sign * float(apart_k[season].std())
        for _ in range(int(random.poisson(1.5))):
            first_day, days = int(random.choice(np.flatnonzero(season))), int(random.integers(*SPELL_DAYS))
            by_k = spread_k * float(random.uniform(*SPELL_SPREADS))
            spells.append(Spell(name, first_day, days, by_k))
    if random.random() < 0.5:  # noqa: PLR2004
        coldest = int(np.argmin(wave))
        spells.append(
            Spell("wet spring", (coldest + 45) % DAYS, WET_DAYS, rain_factor=float(random.uniform(*WETTER)))
        )
    return spells


def _spell_shape(spell: Spell) -> Floats:
    """0 outside a spell, 1 inside, with half a day of rise and fall."""
    day = (np.arange(DAYS * DAY_H) / DAY_H - spell.first_day) % DAYS
    return np.clip(np.minimum(2.0 * day, 2.0 * (spell.days - day)), 0.0, 1.0)


def _seasonal_wave(values: Floats) -> Floats:
    """First harmonic of a year of hours."""
    angle = 2.0 * math.pi * np.arange(values.size) / values.size
    cosine, sine = 2.0 * np.mean(values * np.cos(angle)), 2.0 * np.mean(values * np.sin(angle))
    wave: Floats = np.mean(values) + cosine * np.cos(angle) + sine * np.sin(angle)
    return wave


def _joined(values: Floats, source: Places) -> Floats:
    """Blend the jumps where two runs meet over a few hours on either side."""
    result = values.copy()
    breaks = np.flatnonzero(np.diff(source, prepend=source[-1] - DAYS * DAY_H) % (DAYS * DAY_H) != 1)
    ramp = 0.5 * (1.0 - np.arange(JOIN_H) / JOIN_H)
    for at in breaks:
        jump = values[at] - values[at - 1]
        result[(at + np.arange(JOIN_H)) % values.size] -= jump * ramp
        result[(at - 1 - np.arange(JOIN_H)) % values.size] += jump * ramp
    return result


def _light(weather: Weather, source: Places) -> tuple[Floats, Floats, Floats]:
    """Global, direct and diffuse light: drawn clearness and diffuse share under the new date's sun."""
    height, drawn = weather.sun_height, weather.sun_height[source]
    up = (height > LEAST_SUN_HEIGHT) & (drawn > LEAST_SUN_HEIGHT)
    ghi = np.where(height > 0.0, weather.ghi_w_m2[source], 0.0)
    scaled = weather.ghi_w_m2[source] * height / np.maximum(drawn, LEAST_SUN_HEIGHT)
    ghi = np.where(up, np.minimum(scaled, MOST_CLEARNESS * SOLAR_CONSTANT_W_M2 * height), ghi)
    share = np.divide(
        weather.dhi_w_m2[source],
        weather.ghi_w_m2[source],
        where=weather.ghi_w_m2[source] > 0.0,
        out=np.ones(source.size),
    )
    dhi = ghi * np.clip(share, 0.0, 1.0)
    dni = np.where(height > LEAST_SUN_HEIGHT, (ghi - dhi) / np.maximum(height, LEAST_SUN_HEIGHT), 0.0)
    return ghi, dni, dhi
