"""The only wiring file: settings in, a controller with real or simulated hardware out.

Drivers are imported inside the branch that needs them, so that a laptop without pins can run the simulated
house, and the simulated branch alone pulls the numerics.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import structlog

from controller import __version__
from controller.clock import RELEASED, SystemClock, boot_id
from controller.decision.demand import heat_rule
from controller.history.writer import HistoryWriter
from controller.loop import ControlLoop, Parts
from controller.outputs.lease import LeasedOutputs, LeaseGuard
from controller.readings.gather import Gatherer
from controller.record.accounting import day_of, hour_of
from controller.service.directories import StartError
from controller.service.kept_settings import KeptSettings
from controller.service.live_settings import LiveSettings
from controller.service.memory_file import MemoryFile
from controller.service.operator_requests import OperatorRequests
from controller.service.recall import Recall
from controller.service.restarts import RestartCount
from controller.service.systemd import SAFE_WITHIN_S, Notifier, Watchdog
from controller.service.time_of_day import TimeOfDay
from controller.service.unit_check import UnitCheck
from controller.service.upkeep import Upkeep
from controller.settings.places import history_file, runtime_directory, state_directory
from controller.settings.watch import Rejected, SettingsWatch
from controller.telemetry.build import Program
from controller.telemetry.publisher import Publisher
from controller.telemetry.sender import Sender
from controller.telemetry.status_file import StatusFile

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from controller.clock import Clock
    from controller.faults import FaultCode, Finding
    from controller.outputs.bank import OutputBank
    from controller.readings.contacts import ContactWatch
    from controller.readings.said import Said
    from controller.record.tally import MonthSummary
    from controller.record.tick import TickRecord
    from controller.sensors.clear_button import ClearButton
    from controller.sensors.ports import ContactSource, FloatSource, TemperatureSource
    from controller.service.forecast_file import ForecastFile
    from controller.settings.begin import Start
    from controller.settings.schema import Settings
    from controller.settings.watch import Reload


@dataclass(slots=True)
class Hardware:
    """Sensors and outputs, real or simulated; every output is off when this exists.

    Attributes:
        clock: the time the hardware lives in.
        temperatures: raw probe samples.
        floats: raw float levels.
        outputs: every fan, pump and signal.
        wake: set by a float edge, so that the loop ticks at once.
        boot_id: the boot that the clock's monotonic time belongs to, empty if it means nothing outside.
        lease_stretch: how many times longer the lease must be because time runs faster.
        follows_calendar: whether the clock is the board's own, so that calendar chores make sense.
        contacts: the optional contacts, None where none is fitted.
        button: clears a fire at the box, None without one.
    """

    clock: Clock
    temperatures: TemperatureSource
    floats: FloatSource
    outputs: OutputBank
    wake: threading.Event = field(default_factory=threading.Event)
    boot_id: str = ""
    lease_stretch: float = 1.0
    follows_calendar: bool = True
    contacts: ContactSource | None = None
    button: ClearButton | None = None


@dataclass(frozen=True, slots=True)
class Simulation:
    """How the simulated house is to be run: weather, time of year, and simulated seconds per second."""

    weather: str
    start: datetime | None
    speed: float
    seed: int


def real_hardware(settings: Settings, work_directory: Path) -> Hardware:
    """Open the board: outputs first, all off; then floats, then the probes' thread.

    Raises:
        BoardError: no pins, or one of the outputs cannot be had.
        StartError: a float's pin cannot be had; the outputs are closed, off.
    """
    from controller.outputs.bank import open_all  # noqa: PLC0415 - drivers only where there is a board
    from controller.outputs.board import pin_factory  # noqa: PLC0415
    from controller.sensors.float_switch import FloatSwitches  # noqa: PLC0415
    from controller.sensors.onewire import OneWireBus  # noqa: PLC0415
    from controller.sensors.sampler import Sampler  # noqa: PLC0415

    clock = SystemClock()
    factory = pin_factory(settings.board, work_directory)
    outputs = open_all(settings, factory, clock)
    wake = threading.Event()
    button = None
    try:
        floats = FloatSwitches(settings.sumps, factory, clock, wake)
        contacts = _contacts(settings, factory, wake)
        if settings.fire.clear_pin is not None:
            from controller.sensors.clear_button import ClearButton  # noqa: PLC0415 - few houses have one

            button = ClearButton(settings.fire.clear_pin, factory, clock, wake)
    except OSError as problem:
        outputs.close()
        raise StartError(str(problem)) from problem
    sampler = Sampler(
        OneWireBus(settings.board.w1_devices, clock),
        {name: probe.id for name, probe in settings.probes.items()},
        clock,
        settings.board.sample_every_s,
        settings.board.read_deadline_s,
    )
    sampler.start()
    return Hardware(clock, sampler, floats, outputs, wake, boot_id(), button=button, contacts=contacts)


def _contacts(settings: Settings, factory: Any, wake: threading.Event) -> ContactSource | None:
    """The optional contacts, None where none is fitted.

    Raises:
        OSError: a pin cannot be had.
    """
    if not settings.has_contacts:
        return None
    from controller.readings.contacts import contact_pins  # noqa: PLC0415 - few houses have any
    from controller.sensors.contacts import ContactInputs  # noqa: PLC0415

    return ContactInputs(contact_pins(settings), settings.board.board_voltage, factory, wake)


def _watched(contacts: ContactSource | None) -> ContactWatch | None:
    """What the loop reads of the contacts, None where none is fitted."""
    if contacts is None:
        return None
    from controller.readings.contacts import ContactWatch  # noqa: PLC0415 - few houses have any

    return ContactWatch(contacts.look)


def simulated_hardware(settings: Settings, simulation: Simulation) -> Hardware:
    """Put the simulated house behind the same ports, in real or accelerated time.

    Raises:
        WeatherError: the weather file cannot be used.
    """
    from controller.outputs.bank import OutputBank  # noqa: PLC0415
    from controller.simulator.plant.clock import PacedClock  # noqa: PLC0415 - pulls the numerics
    from controller.simulator.plant.plant import SimulatedPlant  # noqa: PLC0415
    from controller.simulator.weather.load import load_weather  # noqa: PLC0415

    weather = load_weather(simulation.weather, seed=simulation.seed)
    real = SystemClock()
    start = simulation.start or real.wall_utc() or RELEASED
    began_s = real.monotonic_s()
    plant = SimulatedPlant(settings, weather, start=start, seed=simulation.seed, monotonic_start_s=began_s)
    same_time = simulation.speed == 1.0
    clock = PacedClock(
        real,
        simulation.speed,
        start,
        plant.advance,
        monotonic_start_s=began_s,
    )
    wake = threading.Event()
    plant.on_float_turn = wake.set
    return Hardware(
        clock,
        plant.temperatures,
        plant.floats,
        OutputBank(plant.switches),
        wake,
        boot_id=boot_id() if same_time else "",
        lease_stretch=max(simulation.speed, 1.0),
        follows_calendar=False,
        contacts=plant.contacts,
    )


class Controller:
    """Everything that runs, wired and started in order; ends with every output off."""

    def __init__(self, start: Start, hardware: Hardware, run: str) -> None:
        """Wire the controller around open hardware.

        Args:
            start: the settings to begin with and their file, watched from now on.
            hardware: sensors and outputs, every output off.
            run: the word that names this run, for requests on the machine.

        Raises:
            StartError: a directory cannot be used, or another controller runs already.
        """
        self._log = structlog.get_logger("service")
        self._hardware = hardware
        settings = self._settings = start.settings
        runtime, state = runtime_directory(settings), state_directory(settings)
        clock = hardware.clock
        self._notifier = Notifier()
        self._watchdog = Watchdog(self._notifier)
        self._stop = threading.Event()
        self.guard = LeaseGuard(
            hardware.outputs, clock, settings.service.lease_s * hardware.lease_stretch, self._feed_watchdog
        )
        watch = SettingsWatch(start.path, settings, rejected=start.rejected is not None)
        self.live = LiveSettings(start, watch, clock, self._after_reload)
        self.kept_settings = KeptSettings(start.path, state)
        self.memory = MemoryFile(runtime, state, hardware.boot_id, SystemClock())
        remembered = self.memory.load()
        self.restarts = RestartCount(remembered, clock)
        self.history = HistoryWriter(
            history_file(settings),
            clock,
            hardware.boot_id,
            every_s=settings.history.every_s,
            write_every_s=settings.history.write_every_s,
        )
        program = Program(__version__, hardware.boot_id, clock.monotonic_s(), self.live.in_force)
        self.sender = Sender(settings.mqtt, settings.site.name, SystemClock()) if settings.mqtt else None
        self.status_file = StatusFile(runtime, program, self._broken_promises)
        watchers: list[Any] = [self.history, self.status_file]
        if self.sender is not None:
            publisher = Publisher(self.sender, program, self._broken_promises, self._last_month)
            watchers += [publisher, Recall(history_file(settings), publisher)]
        self.upkeep: Upkeep | None = None
        if hardware.follows_calendar:
            self.upkeep = Upkeep(clock, settings, history_file(settings), self.history.note)
            watchers.append(self.upkeep)
        requests = OperatorRequests(runtime, run, clock)
        self._forecast_file = _forecast_file(settings, clock)
        watchers.append(requests)
        self.loop = ControlLoop(
            Parts(
                clock,
                self.live,
                Gatherer(settings),
                hardware.temperatures,
                hardware.floats,
                LeasedOutputs(hardware.outputs, self.guard),
                watchers=[*watchers, self],
                findings=self._finding_sources(),
                cleared=_cleared_by(requests, hardware.button),
                said=_said_by(requests, self._forecast_file),
                memory=self.restarts.around(self.memory),
                rule=heat_rule,
                date_of=_local_day,
                hour_of=_local_hour,
                wake=hardware.wake,
                contacts=_watched(hardware.contacts),
            ),
            self.restarts.remembered,
        )
        self._first_tick = True

    def _finding_sources(self) -> list[Callable[[], tuple[Finding, ...]]]:
        sources = [
            self._hardware.outputs.findings,
            self.guard.findings,
            self.live.findings,
            self.kept_settings.findings,
            self.memory.findings,
            self.history.findings,
            self.status_file.findings,
            self.restarts.findings,
            TimeOfDay(self._hardware.clock).findings,
        ]
        if self.sender is not None:
            sources.append(self.sender.findings)
        if self.upkeep is not None:
            sources.append(self.upkeep.findings)
        if self._forecast_file is not None:
            sources.append(self._forecast_file.findings)
        if self._hardware.follows_calendar:
            places = (runtime_directory(self._settings), state_directory(self._settings))
            bus = Path(self._settings.board.w1_devices)
            sources.append(UnitCheck(self._hardware.clock, bus, places).findings)
        return sources

    def run(self) -> None:
        """Work until asked to stop; every output is off when this returns or raises."""
        self.guard.start()
        self.memory.start()
        self.history.start()
        if self.sender is not None:
            self.sender.start()
        self._check_watchdog()
        self._log.info(
            "controller_started",
            version=__version__,
            site=self._settings.site.name,
            settings=self.live.in_force(),
        )
        in_order = False
        try:
            self.loop.run(self._stop)
            in_order = True
        finally:
            self._close(in_order=in_order)

    def stop(self) -> None:
        """Ask for an orderly stop; safe to call from a signal handler."""
        self._stop.set()
        self._hardware.wake.set()

    def reload(self) -> None:
        """Ask for the settings to be read again; safe to call from a signal handler."""
        self._notifier.reloading(self._hardware.clock.monotonic_s())
        self.live.reload_now()
        self._hardware.wake.set()

    def observe(self, tick: TickRecord) -> None:
        """After each tick: say once that the controller is ready, and log what has changed."""
        if self._first_tick:
            self._first_tick = False
            self._notifier.ready("first tick done, outputs under control")
        self.kept_settings.prove(self.live.proven_text(), tick.now_mono_s)
        for change in (*tick.decision.changes, *tick.signals.changes):
            sentence = change.reason.sentence(tick.settings.site.show)
            self._log.info("output_changed", output=str(change.output), on=change.on, reason=sentence)
        for note in tick.diagnosis.notes:
            self._log.info("somebody_said", about=note.act.value, words=note.words)
        for event in tick.diagnosis.events:
            alarm = event.alarm
            log = self._log.warning if event.raised and not alarm.quiet else self._log.info
            log(
                "alarm_raised" if event.raised else "alarm_cleared",
                code=alarm.code.value,
                subject=alarm.subject,
                detail=alarm.detail,
                priority=int(alarm.priority),
            )

    def _check_watchdog(self) -> None:
        """Say so if a program that stands still would be switched off later than its lease promises."""
        lease_s = self._settings.service.lease_s
        if self._watchdog.too_slow_for(lease_s):
            self._log.warning(
                "watchdog_slower_than_lease",
                watchdog_s=self._watchdog.interval_s,
                lease_s=lease_s,
                what_to_do=f"set WatchdogSec to {lease_s - SAFE_WITHIN_S:g} or less, or raise service.lease",
            )

    def _feed_watchdog(self) -> None:
        """Show the service manager that ticks come and every worker lives; the guard's thread asks for it."""
        if self._first_tick:
            return
        workers = [self.memory.alive(), self.history.alive(), self._hardware.temperatures.alive()]
        if self.sender is not None:
            workers.append(self.sender.alive())
        self._watchdog.beat(all(workers), SystemClock().monotonic_s())

    def _broken_promises(self) -> int:
        return len(self.loop.broken)

    def _last_month(self) -> MonthSummary | None:
        return None if self.upkeep is None else self.upkeep.month

    def _after_reload(self, reload: Reload) -> None:
        words = (
            "settings rejected, the last good ones stay" if isinstance(reload, Rejected) else "settings read"
        )
        self._notifier.ready(words)

    def _close(self, *, in_order: bool) -> None:
        """Outputs off first; then everybody else, each within bounded time."""
        self._hardware.outputs.all_off("the controller stops")
        self._notifier.stopping("stopping, outputs off")
        self.guard.stop()
        self._hardware.outputs.close()
        if in_order:
            self.status_file.close(self._hardware.clock.wall_utc())
        if self.upkeep is not None:
            self.upkeep.close()
        if self.sender is not None:
            self.sender.stop()
        self.memory.close()
        self.kept_settings.close()
        self.history.close()
        self._hardware.floats.close()
        if self._hardware.contacts is not None:
            self._hardware.contacts.close()
        if self._hardware.button is not None:
            self._hardware.button.close()
        self._hardware.temperatures.close()
        self._log.info("controller_stopped", outputs="off")


def _cleared_by(requests: OperatorRequests, button: ClearButton | None) -> Callable[[], frozenset[FaultCode]]:
    """What a person has cleared at the box, by command or by the button."""
    if button is None:
        return requests.take
    return lambda: requests.take() | button.take()


def _forecast_file(settings: Settings, clock: Clock) -> ForecastFile | None:
    """The file with a forecast low, None where the settings name none."""
    if not settings.site.forecast_file:
        return None
    from controller.service.forecast_file import ForecastFile  # noqa: PLC0415 - few houses have one

    return ForecastFile(settings.site.forecast_file, clock)


def _said_by(requests: OperatorRequests, forecast: ForecastFile | None) -> Callable[[], tuple[Said, ...]]:
    """What people on the machine say, and the file with a forecast low."""
    if forecast is None:
        return requests.said
    return lambda: (*forecast.said(), *requests.said())


def _local_day(wall_utc: datetime | None) -> str | None:
    """The day at the place of the board."""
    return None if wall_utc is None else day_of(wall_utc.astimezone())


def _local_hour(wall_utc: datetime | None) -> float | None:
    """The hour of the day at the place of the board."""
    return None if wall_utc is None else hour_of(wall_utc.astimezone())
