"""The rehearsal: the real loop and decision on a simulated clock, driving the simulated house."""

from __future__ import annotations

import contextlib
import gc
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.clock import SystemClock
from controller.errors import HypocaustError
from controller.faults import DAY_S, HOUR_S
from controller.history.writer import HistoryWriter
from controller.loop import ControlLoop, Parts
from controller.outputs.bank import OutputBank
from controller.readings.contacts import ContactWatch
from controller.readings.gather import Gatherer
from controller.rehearsal.building import building_of
from controller.rehearsal.strategies import STRATEGIES
from controller.rehearsal.summary import AlarmSums, PromiseSums, Summary
from controller.rehearsal.ticking import Drive, LocalDay, LocalHour, Watch, tick_through
from controller.service.logs import silenced
from controller.simulator.plant.clock import MONOTONIC_START_S, SimClock
from controller.simulator.plant.plant import SimulatedPlant
from controller.simulator.weather.load import load_weather

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import timezone
    from pathlib import Path

    from controller.rehearsal.hours import HourRow
    from controller.rehearsal.journal import Call, Happening, Journal, Span
    from controller.rehearsal.ticking import Progress
    from controller.settings.schema import Settings
    from controller.simulator.plant.faults import ScriptedFault
    from controller.simulator.weather.year import Weather

# The house changes slowly, and a float edge, a timer that runs out or a level that settles is never waited
# past: a tick a minute misses nothing. Over more than a month, one every five minutes gives the same sums.
TICK_S = 60.0
LONG_TICK_S = 300.0
LONG_DAYS = 31.0
# The house stands this long before the controller starts, fans and pumps off, so that air and shell have come
# to terms with the weather, however they were set. [practice]
SETTLE_S = 6.0 * HOUR_S
# Energy books that miss more than this are not worth reading. [practice]
LARGEST_CLOSURE_ERROR = 1e-3
EXAMPLES = 5


class HistoryNotKept(HypocaustError):  # noqa: N818 - it says what happened
    """The history of a rehearsal could not be written; the text says why."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What to rehearse.

    Attributes:
        settings: the settings under test.
        weather: a shipped name or a file.
        first_day: first day, a date in local standard time of the weather's place; None for 1 January.
        days: how long.
        seed: for probe noise and made-up rain.
        faults: what breaks when.
        strategy: what decides when fans are wanted.
        hourly: whether to keep hourly rows for tables and plots.
        pace_s: longest time between two ticks; None for a minute, or five where that would take long.
        history: a new file into which all is written down as the daemon does it; None for none.
    """

    settings: Settings
    weather: str
    first_day: datetime | None
    days: float
    seed: int = 0
    faults: tuple[ScriptedFault, ...] = ()
    strategy: str = "hypocaust"
    hourly: bool = False
    pace_s: float | None = None
    history: Path | None = None

    @property
    def tick_s(self) -> float:
        """The pace that is kept."""
        if self.pace_s is not None:
            return self.pace_s
        return LONG_TICK_S if self.days > LONG_DAYS else TICK_S


@dataclass(frozen=True, slots=True)
class Outcome:
    """A finished rehearsal.

    Attributes:
        summary: the whole in numbers.
        examples: the first output change for each kind of reason.
        rows: hour by hour, if asked for.
        spans: runs of motors and water at floats.
        calls: every time an alarm was raised.
    """

    summary: Summary
    examples: tuple[Happening, ...]
    rows: tuple[HourRow, ...]
    spans: tuple[Span, ...]
    calls: tuple[Call, ...]


def rehearse(plan: Rehearsal, progress: Progress | None = None) -> Outcome:
    """Run a rehearsal from start to end.

    Args:
        plan: what to rehearse.
        progress: called about once a simulated day with the share done, 0 to 1; first when all is ready.

    Raises:
        WeatherError: the weather cannot be used.
        ModelError: the tubes do not fit the house.
        HistoryNotKept: the history could not be written to its file.
    """
    real = SystemClock()
    began_s = real.monotonic_s()
    weather = load_weather(plan.weather, seed=plan.seed)
    start = (plan.first_day or weather.start_of_year).replace(tzinfo=weather.zone)
    plant = _settled_plant(plan, weather, start)
    clock = SimClock(start, plant.advance_to_edge)
    loop = ControlLoop(_parts(plan, plant, clock, weather.zone))
    history = _history(plan, clock)
    watch = Watch(plant, start, plan.hourly, history)
    with silenced(), _no_collecting():
        tick_through(loop, clock, watch, plan.days * DAY_S, progress)
    watch.close()
    if history is not None and (lost := history.findings()):
        raise HistoryNotKept(f"{plan.history}: {lost[0].detail}")
    summary = Summary(
        site=plan.settings.site.title or plan.settings.site.name,
        weather=weather.title,
        notes=list(weather.notes),
        strategy=plan.strategy,
        start=start.isoformat(),
        days=plan.days,
        seed=plan.seed,
        pace_s=plan.tick_s,
        building=building_of(plan.settings),
        house=watch.tracker.house_sums(),
        fans=watch.tracker.fan_sums(),
        ground=watch.tracker.ground_sums(),
        pump=watch.tracker.pump_sums(),
        alarms=_alarms(watch.journal),
        promises=_promises(loop, start),
        wall_s=real.monotonic_s() - began_s,
    )
    rows = () if watch.hours is None else tuple(watch.hours.rows)
    journal = watch.journal
    return Outcome(summary, journal.examples(EXAMPLES), rows, tuple(journal.spans), tuple(journal.calls))


def _history(plan: Rehearsal, clock: SimClock) -> HistoryWriter | None:
    """Where the rehearsal is written down, if anywhere."""
    if plan.history is None:
        return None
    return HistoryWriter(plan.history, clock, "", every_s=plan.settings.history.every_s)


def _settled_plant(plan: Rehearsal, weather: Weather, start: datetime) -> SimulatedPlant:
    """The house as it is at the start."""
    faults = [
        replace(fault, at_s=fault.at_s + SETTLE_S, until_s=fault.until_s + SETTLE_S) for fault in plan.faults
    ]
    plant = SimulatedPlant(
        plan.settings,
        weather,
        start - timedelta(seconds=SETTLE_S),
        plan.seed,
        faults,
        monotonic_start_s=MONOTONIC_START_S - SETTLE_S,
    )
    plant.advance(SETTLE_S)
    return plant


@contextlib.contextmanager
def _no_collecting() -> Iterator[None]:
    """Ticks leave no garbage in circles; looking for some through all that is kept takes time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _alarms(journal: Journal) -> dict[str, AlarmSums]:
    return {
        code: AlarmSums(
            raised=raised.times,
            first_at=raised.first_at.isoformat(timespec="seconds"),
            first=": ".join(part for part in (raised.first.subject, raised.first.detail) if part),
        )
        for code, raised in journal.alarms.items()
    }


def _promises(loop: ControlLoop, start: datetime) -> PromiseSums:
    broken = []
    for first in loop.broken:
        moment = start + timedelta(seconds=first.at_mono_s - MONOTONIC_START_S)
        broken.append(f"{first.detail} ({moment.isoformat(timespec='seconds')})")
    return PromiseSums(checked_ticks=loop.checked_ticks, broken=broken)


def _parts(plan: Rehearsal, plant: SimulatedPlant, clock: SimClock, zone: timezone) -> Parts:
    bank = OutputBank(plant.switches)
    settings = plan.settings
    parts = Parts(
        clock,
        lambda: settings,
        Gatherer(settings),
        plant.temperatures,
        plant.floats,
        Drive(bank),
        findings=(bank.findings,),
        rule=STRATEGIES[plan.strategy],
        date_of=LocalDay(zone),
        hour_of=LocalHour(zone),
        tick_s=plan.tick_s,
        contacts=None if plant.contacts is None else ContactWatch(plant.contacts.look),
    )
    plant.on_float_turn = parts.wake.set
    return parts
