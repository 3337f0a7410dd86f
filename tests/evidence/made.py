"""Logs made by hand: a house of three loops through nights whose physics is known."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from controller.evidence.house_model import Night, Parameters, air_of, raise_by
from controller.evidence.series import Series
from controller.settings.load import load

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from controller.settings.schema import Settings

CONFIG = Path(__file__).parents[2] / "config"
HOUSE: Settings = load(CONFIG / "house.toml")
LOOPS = tuple(HOUSE.loops)
STEP_S = 600
STEPS_A_DAY = 144
NOON_S = 43_200.0  # of 1970-01-01, UTC; here local time is UTC
LOOP = HOUSE.derived.loops[0]
SOIL_C = 14.0
TRUE_HOUSE = Parameters(7.0, 10.0, 6e4, 2.0)


def utc(_: float) -> float:
    """Local time is UTC."""
    return 0.0


def series(
    temps: Mapping[str, float | Sequence[float | None]], fans: Mapping[str, Sequence[float]], steps: int
) -> Series:
    """A log that begins at noon; a number is that temperature throughout, missing probes were never read."""
    columns = {}
    for name in HOUSE.probes:
        given = temps.get(name)
        columns[name] = given if isinstance(given, list) else [given] * steps
    stands = [0.0] * steps
    return Series(
        NOON_S,
        STEP_S,
        columns,
        {name: fans.get(name, stands) for name in LOOPS},
        dict.fromkeys(HOUSE.sumps, stands),
        [False] * steps,
    )


def moving_air(ceiling_c: float, soil_c: float, outlet_c: float) -> dict[str, float]:
    """All probes of a house in which only these differ."""
    found = {"ceiling-west": ceiling_c, "ceiling-east": ceiling_c, "bench": ceiling_c, "outdoor": 0.0}
    for loop in LOOPS:
        found |= {f"{loop}-soil": soil_c, f"{loop}-roots": soil_c, f"{loop}-outlet": outlet_c}
    return found


@dataclass(frozen=True)
class Season:
    """A made-up season.

    Attributes:
        series: the log.
        raise_k: what the fans did to the air, step by step.
    """

    series: Series
    raise_k: list[float]


def season(days: int, heated: int, seed: int = 1) -> Season:
    """Nights of a house that the model describes fully; fans run by chance on the last nights, on and off."""
    chance = random.Random(seed)  # noqa: S311 - a made-up season is no secret
    steps = days * STEPS_A_DAY
    on = [0.0] * steps
    for day in range(days - heated, days):
        for step in range(day * STEPS_A_DAY + 36, day * STEPS_A_DAY + 120, 6):
            on[step : step + 6] = [float(chance.random() < 0.6)] * 6
    outdoors, felt = [], []
    for _ in range(days):
        cold_c, sky_k = chance.gauss(-2.0, 4.0), chance.gauss(2.0, 1.0)
        for step in range(STEPS_A_DAY):
            outside_c = cold_c + 4.0 * math.cos((step / 6.0 - 3.0) / 24.0 * 2.0 * math.pi)
            outdoors.append(outside_c)
            felt.append(outside_c - sky_k)
    still = air_of(TRUE_HOUSE, Night(felt, [SOIL_C] * steps, [0.0] * steps, [0.0] * steps), STEP_S)
    bench, raise_k = _with_fans(still, on)
    outlet = [_outlet_c(air_c) for air_c in bench]
    temps = {"bench": bench, "ceiling-west": bench, "ceiling-east": bench, "outdoor": outdoors}
    for loop in LOOPS:
        temps |= {f"{loop}-soil": [SOIL_C] * steps, f"{loop}-outlet": outlet}
    return Season(series(temps, dict.fromkeys(LOOPS, on), steps), raise_k)


def _with_fans(still: list[float], on: list[float]) -> tuple[list[float], list[float]]:
    """The air with fans, and what they did; their heat depends on the air they warmed, so it takes rounds."""
    floor_m2 = HOUSE.house.length_m * HOUSE.house.width_m
    raise_k = [0.0] * len(still)
    for _ in range(40):
        bench = [air_c + by_k for air_c, by_k in zip(still, raise_k, strict=True)]
        heat_w_m2 = [
            3.0 * share * LOOP.air_w_per_k * (_outlet_c(air_c) - air_c) / floor_m2
            for share, air_c in zip(on, bench, strict=True)
        ]
        raise_k = raise_by(TRUE_HOUSE, heat_w_m2, STEP_S)
    return bench, raise_k


def _outlet_c(air_c: float) -> float:
    """Air that the fan warms and the tubes bring most of the way to the soil."""
    warmed_c = air_c + LOOP.power_w / LOOP.air_w_per_k
    return warmed_c - 0.6 * (warmed_c - SOIL_C)
