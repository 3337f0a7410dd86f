"""What the controller saw in a rehearsed winter, as the forecast takes it in; read from the history file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from controller.equipment import Kind
from controller.faults import DAY_S, HOUR_S
from controller.forecast.hours import Place, night_hour
from controller.forecast.watch import Look
from controller.history.queries import History
from controller.simulator.weather.load import load_weather

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from controller.readings.reading import Why
    from controller.settings.schema import Settings
    from tests.lab.winters import Winter

FROM, UNTIL = datetime(2026, 1, 1, tzinfo=UTC), datetime(2028, 1, 1, tzinfo=UTC)
WINTER_S = 212 * DAY_S  # from the middle of September to the middle of April
WARMING = ("heat", "frost")  # reasons of a fan that returns warmth


@dataclass(frozen=True, slots=True)
class Seen:
    """One winter as it was seen.

    Attributes:
        looks: seconds since 1970 and what was seen, every five minutes.
        offset_h: of local standard time from UTC.
        settings: of the house.
    """

    looks: list[tuple[float, Look]]
    offset_h: float
    settings: Settings


def seen(winter: Winter, strategy: str, *, with_place: bool = True) -> Seen:
    """Read one winter.

    Args:
        winter: which; it must have been played.
        strategy: of the fans.
        with_place: whether the settings say where the house stands; 17:00 and 07:00 stand for sunset and
            sunrise if they do not.
    """
    weather = load_weather(winter.weather, seed=winter.seed)
    offset_h = weather.zone.utcoffset(None).total_seconds() / HOUR_S
    place = Place(weather.latitude, weather.longitude) if with_place else None
    settings = winter.settings()
    points = settings.setpoints
    names = {
        kind: [name for name, probe in settings.probes.items() if probe.place == kind]
        for kind in ("ceiling", "bench", "outdoor", "soil")
    }
    looks: list[tuple[float, Look]] = []
    with History(winter.history(strategy)) as history:
        warming = list(_warming(history))
        at = 0
        running: dict[str, bool] = {}
        for sample in history.samples(FROM, UNTIL):
            utc_s = sample.when.at_utc.timestamp()
            if looks and utc_s - looks[0][0] > WINTER_S:
                break
            while at < len(warming) and warming[at][0] <= utc_s:
                running[warming[at][1]] = warming[at][2]
                at += 1
            means = {kind: _mean(sample.values, of) for kind, of in names.items()}
            airs = [one for one in (means["bench"], means["ceiling"]) if math.isfinite(one)]
            look = Look(
                means["outdoor"],
                min(airs, default=math.nan),
                means["ceiling"],
                means["soil"],
                any(running.values()),
                utc_s,
                night_hour(utc_s, place, (utc_s / HOUR_S + offset_h) % 24.0),
                points.heat_below_c + points.air_deadband_k,
            )
            looks.append((utc_s, look))
    return Seen(looks, offset_h, settings)


def _warming(history: History) -> Iterator[tuple[float, str, bool]]:
    """When each fan began and ceased to return warmth."""
    for change in history.changes(FROM, UNTIL):
        if change.output.kind is Kind.FAN:
            yield change.when.at_utc.timestamp(), change.output.name, change.on and change.code in WARMING


def _mean(values: Mapping[str, float | Why], names: list[str]) -> float:
    found = [value for name in names if isinstance(value := values.get(name), float)]
    return sum(found) / len(found) if found else math.nan
