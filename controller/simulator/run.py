"""The rehearsal: the real loop and decision on a simulated clock, driving the simulated house."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.clock import SystemClock
from controller.decision.accounting import day_of
from controller.loop import ControlLoop, Parts
from controller.outputs.bank import OutputBank
from controller.readings.gather import Gatherer
from controller.simulator.clock import MONOTONIC_START_S, SimClock
from controller.simulator.plant import SimulatedPlant
from controller.simulator.strategies import STRATEGIES
from controller.simulator.summary import PromiseSums, Summary
from controller.simulator.tracker import HourRow, Tracker
from controller.simulator.weather import load_weather

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime, timezone

    from controller.decision.command import OutputId
    from controller.settings.schema import Settings
    from controller.simulator.faults import ScriptedFault

DAY_S = 86400.0
# The house changes slowly and a float edge wakes the loop anyway; a minute keeps a year short.
TICK_S = 60.0

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What to rehearse.

    Attributes:
        settings: the settings under test.
        weather: a shipped name or a file.
        first_day: first day, as a date in local standard time of the weather.
        days: how long.
        seed: for probe noise and made-up rain.
        faults: what breaks when.
        strategy: what decides when fans are wanted.
        hourly: whether to keep hourly rows for tables and plots.
    """

    settings: Settings
    weather: str
    first_day: datetime
    days: float
    seed: int = 0
    faults: tuple[ScriptedFault, ...] = ()
    strategy: str = "hypocaust"
    hourly: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """A finished rehearsal."""

    summary: Summary
    rows: tuple[HourRow, ...]


class _Drive:
    """The output bank without a lease: nothing can hang between two simulated ticks."""

    def __init__(self, bank: OutputBank) -> None:
        self._bank = bank

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> None:
        """Drive as commanded."""
        self._bank.drive(commands, now_mono_s)

    def all_off(self) -> None:
        """Everything off."""
        self._bank.all_off("a tick failed")


def rehearse(plan: Rehearsal, progress: Progress | None = None) -> Outcome:
    """Run a rehearsal from start to end.

    Args:
        plan: what to rehearse.
        progress: called about once a simulated day with the share done, 0 to 1.

    Raises:
        WeatherError: the weather cannot be used.
    """
    real = SystemClock()
    began_s = real.monotonic_s()
    weather = load_weather(plan.weather, seed=plan.seed)
    start = plan.first_day.replace(tzinfo=weather.zone)
    plant = SimulatedPlant(plan.settings, weather, start, plan.seed, plan.faults)
    clock = SimClock(start, plant.advance_to_edge)
    loop = ControlLoop(_parts(plan, plant, clock, weather.zone))
    tracker = Tracker(plant, start, plan.hourly)
    _run(loop, clock, tracker, plan.days * DAY_S, progress)
    summary = Summary(
        site=plan.settings.site.title or plan.settings.site.name,
        weather=weather.title,
        notes=list(weather.notes),
        strategy=plan.strategy,
        start=start.date().isoformat(),
        days=plan.days,
        seed=plan.seed,
        house=tracker.house_sums(),
        fans=tracker.fan_sums(),
        ground=tracker.ground_sums(),
        pump=tracker.pump_sums(),
        alarms=tracker.alarm_sums(),
        promises=PromiseSums(
            checked_ticks=loop.checked_ticks,
            broken=[f"{b.detail} (after {b.at_mono_s - MONOTONIC_START_S:.0f} s)" for b in loop.broken],
        ),
        wall_s=real.monotonic_s() - began_s,
    )
    return Outcome(summary, tuple(tracker.rows))


def _parts(plan: Rehearsal, plant: SimulatedPlant, clock: SimClock, zone: timezone) -> Parts:
    bank = OutputBank(plant.switches)
    settings = plan.settings
    parts = Parts(
        clock,
        lambda: settings,
        Gatherer(settings),
        plant.temperatures,
        plant.floats,
        _Drive(bank),
        findings=(bank.findings,),
        rule=STRATEGIES[plan.strategy],
        date_of=lambda wall: None if wall is None else day_of(wall.astimezone(zone)),
        tick_s=TICK_S,
    )
    plant.on_float_turn = parts.wake.set
    return parts


def _run(
    loop: ControlLoop, clock: SimClock, tracker: Tracker, length_s: float, progress: Progress | None
) -> None:
    began_s = clock.monotonic_s()
    next_report_s = began_s
    passed_s = 0.0
    while passed_s < length_s - 1e-6:
        tick = loop.tick()
        clock.wait(loop.wake, min(loop.pause_s(tick), length_s - passed_s))
        loop.wake.clear()
        now_s = clock.monotonic_s()
        tracker.passed(tick, now_s - began_s - passed_s)
        passed_s = now_s - began_s
        if progress is not None and now_s >= next_report_s:
            next_report_s = now_s + DAY_S
            progress(passed_s / length_s)
    if progress is not None:
        progress(1.0)
