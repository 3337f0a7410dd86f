"""``python -m tests.lab.scoreboard.cooling``: what cooling brings hot houses, and what it costs."""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from controller.rehearsal.run import Rehearsal, rehearse
from controller.rehearsal.tracker import HOT_C
from controller.simulator.weather.load import load_weather
from tests.lab.pages import PRODUCTS, made, page_option, write_page
from tests.lab.scoreboard.cases import FIRST_DAY, Case
from tests.lab.scoreboard.foresight import ALWAYS, NEVER, season_by_hour
from tests.lab.scoreboard.foresight import STILL as STAND_STILL
from tests.lab.scoreboard.reached import HOTTEST_H
from tests.lab.scoreboard.runs import PACE, PACE_S, results_of

if TYPE_CHECKING:
    from controller.rehearsal.run import Outcome

PAGE = PRODUCTS / "scoreboard" / "COOLING.md"
SUMMER_DAYS, YEAR_DAYS = 153.0, 365.0
HALF_HOUR_S = 1800.0
CASES = (
    Case("carolina", "doors, sparse crop", 0, tuning=True),
    Case("carolina", "doors", 0, tuning=True),
    Case("carolina", "large vents", 0, tuning=True),
    Case("miami", "doors, sparse crop", 0, tuning=True),
    Case("carolina-8K", "doors, sparse crop", 0, tuning=True),
)
WINTERS = CASES[:1]
SHIPPED, UNCOOLED, PURGED, STILL = "as shipped", "cooling off", "night purge", "fans off"
# What is changed in [setpoints].
WAYS: dict[str, dict[str, Any]] = {
    STILL: {},
    UNCOOLED: {"cooling": False},
    SHIPPED: {},
    PURGED: {"night_purge": True},
}
COLUMNS = (
    "house",
    "fans",
    "above 32 °C, K h",
    "relief, %",
    "cooler, K",
    "fans, kWh",
    "K h per kWh",
    "of cooling",
    "W/m²",
)
# What nobody would do, to see what is possible: a hand that heeds no price and no limit cools while the crop
# is hot and the roof warmer than the soil, and purges whenever the soil is warmer than the roof; and one that
# blows while the roof is the warmer one, into soil that stays as cool as without fans. Neither waits for wet
# tubes: fans that run all day condense so much that they would stand in the hottest hours.
UNPRICED, COLD_SOIL = "no price, no limit", "soil never warmed"
LEAST_K = 1.0
HANDS = {
    UNPRICED: replace(
        STAND_STILL, cool_above_c=HOT_C, cool_from_k=LEAST_K, purge_from_k=LEAST_K, purge_to_c=ALWAYS
    ),
    COLD_SOIL: replace(STAND_STILL, cool_above_c=ALWAYS, cool_from_k=LEAST_K),
}
NO_LIMIT: dict[str, dict[str, Any]] = {
    "setpoints": {"root_zone_max_c": NEVER, "root_zone_rescue_max_c": NEVER},
    "pump": {"drain_down_s": 0.0},
}


@dataclass(frozen=True, slots=True)
class Season:
    """What a season came to.

    Attributes:
        hot_kh: degree-hours above 32 °C among the crop.
        cold_kh: degree-hours below 4 °C among the crop.
        hottest_c: mean of the hottest 50 hours among the crop.
        fans_kwh: electricity of the fans.
        taken_w_m2: heat into the soil by the floor, in the hours in which fans cooled; None without any.
        sun_w_m2: light on level ground outdoors in those hours.
        broken: promises that did not hold.
    """

    hot_kh: float
    cold_kh: float
    hottest_c: float
    fans_kwh: float
    taken_w_m2: float | None
    sun_w_m2: float | None
    broken: int


def played(case: Case, way: str, days: float) -> Season:
    """A season from 1 May of one house and way."""
    if way in HANDS:
        return possible(case, way, days)
    settings = case.settings()
    points = settings.setpoints.model_copy(update=WAYS[way])
    strategy = "fans-off" if way == STILL else "hypocaust"
    plan = Rehearsal(
        settings.model_copy(update={"setpoints": points}),
        case.weather,
        FIRST_DAY,
        days,
        case.seed,
        strategy=strategy,
        hourly=True,
        pace_s=PACE_S,
    )
    outcome = rehearse(plan)
    summary = outcome.summary
    bench_c = np.sort([row.truth.bench_c for row in outcome.rows])
    floor_m2 = settings.house.length_m * settings.house.width_m
    taken, sun = _while_cooling(case, outcome, settings.setpoints.cool_above_c, floor_m2)
    return Season(
        summary.house.degree_hours_above_32c,
        summary.house.degree_hours_below_4c,
        float(bench_c[-HOTTEST_H:].mean()),
        summary.fans.energy_kwh,
        taken,
        sun,
        len(summary.promises.broken),
    )


def possible(case: Case, way: str, days: float) -> Season:
    """The same season with the fans in one of ``HANDS``."""
    settings, weather = case.settings(), load_weather(case.weather, case.seed)
    free = settings.model_copy(
        update={name: getattr(settings, name).model_copy(update=values) for name, values in NO_LIMIT.items()}
    )
    year, _ = season_by_hour(free, weather, HANDS[way], days, untouched_soil=way == COLD_SOIL)
    return Season(year.hot_kh, year.cold_kh, year.hottest_c, year.fans_kwh, None, None, 0)


def _while_cooling(
    case: Case, outcome: Outcome, hot_c: float, floor_m2: float
) -> tuple[float | None, float | None]:
    """Heat into the soil and light from the sky, both by area, in hot hours in most of which a fan ran."""
    weather = load_weather(case.weather, case.seed)
    first = round(weather.seconds_into_year(FIRST_DAY) / 3600.0)
    hours = [
        number
        for number, row in enumerate(outcome.rows)
        if row.truth.bench_c >= hot_c and max(row.fan_s.values()) >= HALF_HOUR_S
    ]
    if not hours:
        return None, None
    light = weather.ghi_w_m2
    taken_w = 1000.0 * float(np.mean([outcome.rows[hour].charged_kwh for hour in hours]))
    return taken_w / floor_m2, float(np.mean([light[(first + hour) % len(light)] for hour in hours]))


def summers(found: dict[tuple[Case, str, float], Season]) -> list[str]:
    """Rows of the summer's table: every way against fans that stand."""
    lines = []
    for (case, way, days), season in found.items():
        if days != SUMMER_DAYS or way in HANDS:
            continue
        still = found[case, STILL, days]
        relief_kh = still.hot_kh - season.hot_kh
        share = _share(relief_kh, still.hot_kh)
        price = _price(relief_kh, season.fans_kwh)
        alone = "–"
        if way in (SHIPPED, PURGED):
            other = found[case, UNCOOLED, days]
            alone = _price(other.hot_kh - season.hot_kh, season.fans_kwh - other.fans_kwh)
        heat = "–" if season.taken_w_m2 is None else f"{season.taken_w_m2:.0f} of {season.sun_w_m2:.0f}"
        cooler_k = still.hottest_c - season.hottest_c
        lines.append(
            f"| {case.name} | {way} | {season.hot_kh:.0f} | {share} | {cooler_k:.1f} | "
            f"{season.fans_kwh:.0f} | {price} | {alone} | {heat} |"
        )
    return lines


def bounds(found: dict[tuple[Case, str, float], Season]) -> list[str]:
    """Rows of what is possible, beside what the rule takes off."""
    lines = []
    for case in CASES:
        still_kh = found[case, STILL, SUMMER_DAYS].hot_kh
        seasons = [found[case, way, SUMMER_DAYS] for way in (SHIPPED, UNPRICED, COLD_SOIL)]
        shipped, unpriced, cold = (_share(still_kh - season.hot_kh, still_kh) for season in seasons)
        lines.append(f"| {case.name} | {shipped} | {unpriced} | {seasons[1].fans_kwh:.0f} | {cold} |")
    return lines


def _share(relief_kh: float, still_kh: float) -> str:
    return f"{100.0 * relief_kh / still_kh:.0f}" if still_kh > 0.0 else "–"


def _price(relief_kh: float, kwh: float) -> str:
    return f"{relief_kh / kwh:.1f}" if kwh > 0.0 else "–"


def winters(found: dict[tuple[Case, str, float], Season]) -> list[str]:
    """Rows of the winter's table."""
    return [
        f"| {case.name} | {way} | {season.cold_kh:.1f} | {season.fans_kwh:.0f} |"
        for (case, way, days), season in found.items()
        if days == YEAR_DAYS
    ]


def page_of(found: dict[tuple[Case, str, float], Season]) -> str:
    """The whole page."""
    lines = [
        "# What cooling brings",
        "",
        "Made by `python -m tests.lab.scoreboard.cooling`: from 1 May to 30 September, against fans that",
        "stand. Degree-hours (K h) above 32 °C are those of the air among the crop; *cooler* is the mean of",
        f"the hottest {HOTTEST_H} hours. *K h per kWh* counts all electricity of the fans, with what they",
        "bank in May and September and their weekly tests; *of cooling* compares with cooling off, so that",
        "only what cooling adds is counted. The last column is the limit that physics sets: heat that goes",
        "down the tubes in the hours in which fans cool, by the floor, and the light on level ground",
        "outdoors in the same hours.",
        PACE,
        "",
        f"| {' | '.join(COLUMNS)} |",
        "|---|---|---|---|---|---|---|---|---|",
        *summers(found),
        "",
        "## What is possible",
        "",
        "Relief in two ways that nobody would want, played with the model alone: a hand that sees the true",
        "temperatures every 5 min. *No price, no limit*: the fans run whenever the crop is above 32 °C and",
        f"the roof {LEAST_K:.0f} K warmer than the soil and, by day and night, whenever the soil is",
        f"{LEAST_K:.0f} K warmer than the roof, whatever roots, motors, wet tubes and electricity say; it is",
        "the most that was found, not proven. *Soil never warmed*: they run while the roof is the warmer",
        "one, and the soil stays as cool as if they never had. Soil that takes heat gets warmer than that,",
        "unless it is purged.",
        "",
        "| house | as shipped, % | no price, no limit, % | its fans, kWh | soil never warmed, % |",
        "|---|---|---|---|---|",
        *bounds(found),
        "",
        "The winter that follows, in a whole year from 1 May:",
        "",
        "| house | fans | below 4 °C, K h | fans, kWh a year |",
        "|---|---|---|---|",
        *winters(found),
    ]
    return "\n".join([*lines, ""])


def main() -> int:
    """Play every case and way, print the page and keep it."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.scoreboard.cooling", description=__doc__)
    page_option(parser, PAGE)
    page, when = parser.parse_args().page, made()
    jobs = [(case, way, YEAR_DAYS) for case, way in product(WINTERS, (UNCOOLED, SHIPPED, PURGED))]
    jobs += [(case, way, SUMMER_DAYS) for case, way in product(CASES, (*WAYS, *HANDS))]
    found = results_of(played, jobs)
    text = page_of(found)
    print(text)
    write_page(page, text, when)
    return int(any(season.broken for season in found.values()))


if __name__ == "__main__":
    sys.exit(main())
