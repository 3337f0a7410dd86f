"""The log of a house as the model takes it, cut into nights."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from controller.evidence.heat import heat_of
from controller.evidence.house_model import Night as ModelNight
from controller.evidence.series import day_of
from controller.faults import DAY_S

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from controller.evidence.heat import LoopHeat
    from controller.evidence.series import LocalOffset, Series
    from controller.settings.schema import Settings

# Local hours between which it is dark in the cold half of most years: for the fit, the sun must be away.
DARK_FROM_H, DARK_UNTIL_H = 19.0, 6.0
# Fans that run between these hours heat the night; its low lies between two noons.
NIGHT_FROM_H, NIGHT_UNTIL_H = 18.0, 8.0
# Trial runs are shorter than this, all loops together. [practice]
LEAST_RUN_S = 1800.0
LEAST_READ = 0.8  # of the steps between those hours, for a night to count [practice]
LONGEST_FILLED = 3  # steps in a row without a reading that are filled in a straight line [practice]
FIT_STEPS = 2  # steps of the log that make one of the fit
MOST_NIGHTS = 200  # the coldest ones are enough for the fit
Column = list[float | None]


@dataclass(frozen=True, slots=True)
class Log:
    """What the model needs of a log, step by step.

    Attributes:
        step_s: length of a step.
        local_s: middle of each step, local seconds.
        bench_c: air among the crop, or under the roof where no probe hangs among it.
        outdoors_c: air outside.
        ground_c: soil at the tubes.
        heat_w_m2: heat from the fans to the house, electricity included, per m² of floor; 0 if not known.
        run_s: seconds that all fans ran together.
        electricity_j: of all fans in the whole log.
        heats: of the loops.
    """

    step_s: float
    local_s: list[float]
    bench_c: Column
    outdoors_c: Column
    ground_c: Column
    heat_w_m2: list[float]
    run_s: list[float]
    electricity_j: float
    heats: dict[str, LoopHeat]


class NightSteps(NamedTuple):
    """A night: the local date of its evening, its steps from noon to noon, and whether fans heated it."""

    evening: date
    steps: range
    heated: bool


def log_of(series: Series, settings: Settings, offset: LocalOffset) -> Log:
    """Take from the log what the model needs.

    Args:
        series: the log.
        settings: probes, loops and the floor of the house.
        offset: of local time.
    """
    groups = settings.derived.groups
    heats = heat_of(series, settings)
    floor_m2 = settings.house.length_m * settings.house.width_m
    heat_w, run_s = [0.0] * len(series), [0.0] * len(series)
    for name, loop in heats.items():
        for step, on in enumerate(series.fans[name]):
            if on > 0.0:
                heat_w[step] += loop.power_w * on - loop.heat_w[step]
                run_s[step] += on * series.step_s
    return Log(
        series.step_s,
        series.local_s(offset),
        series.mean(groups.benches or groups.ceilings),
        series.mean(settings.probe_names("outdoor")),
        series.mean(groups.soils),
        [watt / floor_m2 for watt in heat_w],
        run_s,
        sum(loop.power_w * sum(series.fans[name]) * series.step_s for name, loop in heats.items()),
        heats,
    )


def nights_of(log: Log) -> list[NightSteps]:
    """The nights of which enough was read, oldest first."""
    by_evening: dict[date, list[int]] = defaultdict(list)
    for step, local_s in enumerate(log.local_s):
        by_evening[day_of(local_s - 0.5 * DAY_S)].append(step)
    found = []
    for evening, steps in by_evening.items():
        dark = [step for step in steps if _is_between(log.local_s[step], NIGHT_FROM_H, NIGHT_UNTIL_H)]
        read = sum(log.bench_c[step] is not None for step in dark)
        whole = (NIGHT_UNTIL_H - NIGHT_FROM_H) % 24.0 * 3600.0 / log.step_s
        if read >= LEAST_READ * whole:
            found.append(NightSteps(evening, range(steps[0], steps[-1] + 1), _is_heated(log, dark)))
    return found


def _is_heated(log: Log, steps: Sequence[int]) -> bool:
    """Whether fans ran for long, and brought warmth."""
    return (
        sum(log.run_s[step] for step in steps) >= LEAST_RUN_S
        and sum(log.heat_w_m2[step] for step in steps) > 0.0
    )


def _is_between(local_s: float, from_h: float, until_h: float) -> bool:
    """Whether a moment lies in the dark hours around midnight."""
    hour = local_s % DAY_S / 3600.0
    return hour >= from_h or hour < until_h


def for_fit(log: Log, nights: Sequence[NightSteps]) -> list[ModelNight]:
    """The nights that were read throughout, the coldest if there are many, as the fit takes them."""
    found = []
    for night in nights:
        dark = [s for s in night.steps if _is_between(log.local_s[s], DARK_FROM_H, DARK_UNTIL_H)]
        columns = [_filled(column, dark) for column in (log.outdoors_c, log.ground_c, log.bench_c)]
        outdoors, ground, bench = columns
        if outdoors and ground and bench:
            heat = [log.heat_w_m2[step] for step in dark]
            found.append(ModelNight(*(_coarser(part) for part in (outdoors, ground, heat, bench))))
    found.sort(key=lambda night: min(night.bench_c))
    return found[:MOST_NIGHTS]


def _filled(column: Column, steps: Sequence[int]) -> list[float]:
    """The values of these steps with short gaps filled; empty if a gap is long or open."""
    values = [column[step] for step in steps]
    known = [place for place, value in enumerate(values) if value is not None]
    if not known or known[0] > 0 or known[-1] < len(values) - 1:
        return []
    filled: list[float] = []
    for place, value in enumerate(values):
        if value is not None:
            filled.append(value)
            continue
        after = next(later for later in known if later > place)
        before = len(filled) - 1
        end = values[after]
        if after - place >= LONGEST_FILLED + 1 or end is None:
            return []
        filled.append(filled[before] + (end - filled[before]) / (after - before))
    return filled


def _coarser(values: Sequence[float]) -> list[float]:
    """Means of a few steps each; an odd rest is left out."""
    whole = len(values) // FIT_STEPS * FIT_STEPS
    return [sum(values[at : at + FIT_STEPS]) / FIT_STEPS for at in range(0, whole, FIT_STEPS)]
