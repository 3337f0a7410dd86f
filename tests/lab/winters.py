"""House-winters as history files, played once and kept, to try on them what is claimed from a log.

``python -m tests.lab.winters`` plays what is missing; ``winters()`` lists them. Each winter is played twice,
with hypocaust and with fans that stand, in the same weather and with the same errors of the probes. Beside
each history lies what no probe sees: the true house hour by hour.

The winters of ``SETTING`` may be used to choose constants, those of ``TEST`` only to try them; their houses
and seeds differ.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from controller.rehearsal.run import Outcome, Rehearsal, rehearse
from controller.settings.load import load
from controller.simulator.weather.load import load_weather
from tests.lab.pages import PRODUCTS
from tests.lab.scoreboard.cases import DOORS_ONLY, SAMPLE

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from controller.settings.schema import Settings

WINTERS = PRODUCTS / "winters"
# Two weeks before October, so that walls, soil and what was learned have come to terms with the weather.
FIRST_DAY = datetime(2026, 9, 15)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
WINTER_DAYS, YEAR_DAYS = 212.0, 365.0
PACE_S = 300.0
WITH, WITHOUT = "hypocaust", "fans-off"


@dataclass(frozen=True)
class Winter:
    """One house in one year.

    Attributes:
        name: short.
        weather: as for ``rehearse --weather``.
        seed: of the invented year and of the probes' errors.
        file: settings.
        changes: in [house].
        days: from ``FIRST_DAY`` on.
    """

    name: str
    weather: str
    seed: int
    file: Path
    changes: dict[str, Any] = field(default_factory=dict)
    days: float = YEAR_DAYS

    def settings(self) -> Settings:
        """The house."""
        settings = load(self.file)
        return settings.model_copy(update={"house": settings.house.model_copy(update=self.changes)})

    def history(self, strategy: str = WITH) -> Path:
        """The history file."""
        return WINTERS / f"{self.name}-{strategy}.sqlite3"

    def truth(self, strategy: str = WITH) -> Truth:
        """What no probe has seen."""
        return Truth(**json.loads(self._truth(strategy).read_text()))

    def _truth(self, strategy: str) -> Path:
        return WINTERS / f"{self.name}-{strategy}.json"

    def play(self, strategy: str) -> None:
        """Play it if it is not there yet."""
        if self._truth(strategy).exists():
            return
        WINTERS.mkdir(parents=True, exist_ok=True)
        self.history(strategy).unlink(missing_ok=True)
        plan = Rehearsal(
            self.settings(),
            self.weather,
            FIRST_DAY,
            self.days,
            seed=self.seed,
            strategy=strategy,
            hourly=True,
            pace_s=PACE_S,
            history=self.history(strategy),
        )
        outcome = rehearse(plan)
        offset_s = load_weather(self.weather, seed=self.seed).zone.utcoffset(None).total_seconds()
        self._truth(strategy).write_text(json.dumps(_truth_of(outcome, offset_s)))


@dataclass(frozen=True)
class Truth:
    """The true house, hour by hour; lists have one entry for each hour.

    Attributes:
        utc_offset_s: of local standard time.
        ended_s: end of the hour, seconds since 1970 (UTC).
        bench_c: among the crop at its end.
        bench_min_c: coldest in it.
        humidity: relative humidity among the crop at its end, 0 to 1.
        charged_j: heat into the soil in it, all loops, condensate and fan heat included.
        discharged_j: heat out of the soil in it.
        latent_j: condensation's part of what went in, less what dried off.
        fan_j: electricity of the fans in it.
    """

    utc_offset_s: float
    ended_s: list[float]
    bench_c: list[float]
    bench_min_c: list[float]
    humidity: list[float]
    charged_j: list[float]
    discharged_j: list[float]
    latent_j: list[float]
    fan_j: list[float]


def _truth_of(outcome: Outcome, offset_s: float) -> dict[str, Any]:
    rows = outcome.rows

    def steps(name: str) -> list[float]:
        sums = [0.0, *(getattr(row.truth, name) for row in rows)]
        return [after - before for before, after in pairwise(sums)]

    return {
        "utc_offset_s": offset_s,
        "ended_s": [row.ended.astimezone(UTC).timestamp() for row in rows],
        "bench_c": [round(row.truth.bench_c, 3) for row in rows],
        "bench_min_c": [round(row.bench_min_c, 3) for row in rows],
        "humidity": [round(row.truth.air_rh, 3) for row in rows],
        "charged_j": steps("charged_j"),
        "discharged_j": steps("discharged_j"),
        "latent_j": steps("latent_j"),
        "fan_j": steps("fan_energy_j"),
    }


SAND, TIGHT, LEAKY = {"soil": "sand"}, {"air_changes_per_hour": 0.3}, {"air_changes_per_hour": 2.5}
SINGLE = {"cover": "single film"}
# A house of DOORS_ONLY is aired by doors alone; one of SAMPLE is taken to have roof vents.
SETTING = (
    Winter("a1", "invented-carolina", 41, SAMPLE),
    Winter("a2", "invented-carolina-4K", 42, DOORS_ONLY, SAND | {"leaf_area": 1.2}),
    Winter("a3", "invented-carolina-8K", 43, SAMPLE, TIGHT, WINTER_DAYS),
    Winter("a4", "invented-alaska-coast", 44, DOORS_ONLY, {}, WINTER_DAYS),
    Winter("a5", "invented-carolina-6K", 45, SAMPLE, SINGLE | {"axis_degrees": 20.0}, WINTER_DAYS),
    Winter("a6", "invented-miami-9K", 46, SAMPLE, SAND | {"leaf_area": 2.5}, WINTER_DAYS),
    Winter("a7", "invented-alaska-coast+2K", 47, SAMPLE, SAND | LEAKY, WINTER_DAYS),
    Winter("a8", "invented-carolina-2K", 48, DOORS_ONLY, TIGHT | {"length_m": 36.0}, WINTER_DAYS),
)
TEST = (
    Winter("t1", "invented-carolina", 71, SAMPLE, {}, WINTER_DAYS),
    Winter("t2", "invented-carolina-4K", 72, SAMPLE, SAND, WINTER_DAYS),
    Winter("t3", "invented-carolina-7K", 73, DOORS_ONLY, {"leaf_area": 1.2}, WINTER_DAYS),
    Winter("t4", "invented-alaska-coast", 74, SAMPLE, LEAKY, WINTER_DAYS),
    Winter("t5", "invented-carolina-5K", 75, DOORS_ONLY, SAND),
    Winter("t6", "invented-miami-8K", 76, SAMPLE, TIGHT, WINTER_DAYS),
    Winter("t7", "invented-carolina-3K", 77, SAMPLE, SINGLE | SAND, WINTER_DAYS),
    Winter("t8", "invented-alaska-coast+1K", 78, DOORS_ONLY, {"leaf_area": 2.0}, WINTER_DAYS),
)


def winters(wanted: Iterable[Winter] = (*SETTING, *TEST)) -> tuple[Winter, ...]:
    """The winters, each of them played."""
    found = tuple(wanted)
    for winter in found:
        for strategy in (WITH, WITHOUT):
            winter.play(strategy)
    return found


def main() -> None:
    """Play what is missing, one after the other: about 30 s of one core for a year."""
    parser = argparse.ArgumentParser(prog="python -m tests.lab.winters", description=main.__doc__)
    parser.add_argument("names", nargs="*", help="which; all if none is named")
    names = parser.parse_args().names
    for winter in (*SETTING, *TEST):
        if not names or winter.name in names:
            winters((winter,))
            print(winter.name, "is there", flush=True)


if __name__ == "__main__":
    main()
