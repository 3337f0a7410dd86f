"""One life of the controller: wired as ``startup`` does it, from its start to whatever ends it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.loop import ControlLoop, Parts
from controller.outputs.bank import OutputBank
from controller.outputs.lease import CHECKS_PER_LEASE, LeasedOutputs, LeaseGuard
from controller.readings.contacts import ContactWatch
from controller.readings.gather import Gatherer
from controller.rehearsal.run import TICK_S
from controller.rehearsal.ticking import LocalDay, LocalHour
from controller.service.live_settings import LiveSettings
from controller.service.memory_file import FILE_NAME
from controller.service.operator_requests import OperatorRequests, leave_request
from controller.service.restarts import RestartCount
from controller.service.time_of_day import TimeOfDay
from controller.settings.begin import begin_with_file
from controller.settings.ownership import open_directory
from controller.settings.watch import SettingsWatch
from controller.simulator.plant.clock import SimClock
from tests.lab.campaign.troubles import Moment

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

    from controller.decision.driven import Lost, Pins
    from controller.equipment import OutputId
    from controller.faults import Finding
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings
    from controller.settings.watch import Reload
    from controller.simulator.plant.plant import SimulatedPlant
    from tests.lab.campaign.place import Machine
    from tests.lab.campaign.sinks import Sink


NEARLY_S = 1e-3


class ProcessEnded(BaseException):
    """The process ends in the middle of a tick; nothing may catch it."""


class EndingDrive:
    """The real outputs of a process that may end just before it drives them, or stall before or after.

    Attributes:
        ends: where the process ends, None while it does not.
        on_change: whether only a tick that switches something ends it.
        stalls: what happens while it stalls, and where it does; once.
    """

    def __init__(self, outputs: LeasedOutputs) -> None:
        self._outputs = outputs
        self._last: Mapping[OutputId, bool] = {}
        self.ends: Moment | None = None
        self.on_change = False
        self.stalls: tuple[Moment, Callable[[], None]] | None = None

    def lost(self) -> Lost | None:
        """What went off without a decision."""
        return self._outputs.lost()

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> Pins:
        """Drive as commanded, or end."""
        if self.ends is Moment.BEFORE_DRIVE and (not self.on_change or commands != self._last):
            raise ProcessEnded
        self._last = commands
        self._stall_at(Moment.BEFORE_DRIVE)
        pins = self._outputs.drive(commands, now_mono_s)
        self._stall_at(Moment.BEFORE_CARD)
        return pins

    def all_off(self) -> None:
        """Everything off."""
        self._outputs.all_off()

    def _stall_at(self, moment: Moment) -> None:
        if self.stalls is not None and self.stalls[0] is moment:
            (_, stall), self.stalls = self.stalls, None
            stall()


class Life:
    """A process from its start on.

    Attributes:
        clock: its time.
        loop: its control loop.
        drive: its outputs.
        settings: those it was started with.
        lease_s: the lease, as many of the rehearsal's ticks long as the real one is of real ticks.
    """

    def __init__(self, plant: SimulatedPlant, machine: Machine, wall: datetime, watches_file: bool) -> None:
        """Start it.

        Args:
            plant: the house; the reader of its probes knows of the restart.
            machine: the board.
            wall: what the board takes the time for.
            watches_file: whether the settings file may change in this life.

        Raises:
            SettingsError: the settings are bad; the controller refuses to start.
        """
        start = begin_with_file(machine.settings_file)
        self.settings = start.settings
        self._machine = machine
        self.clock = SimClock(wall, plant.advance_to_edge, monotonic_start_s=plant.now_s)
        self.bank = OutputBank(plant.switches, self.clock)
        service = self.settings.service
        self.lease_s = service.lease_s * max(TICK_S / service.tick_s, 1.0)
        self.guard = LeaseGuard(self.bank, self.clock, self.lease_s)
        self.memory = machine.memory(self.clock)
        remembered = self.memory.load()
        self._restarts = RestartCount(remembered, self.clock)
        self._counting = self._restarts.around(self.memory)
        self.drive = EndingDrive(LeasedOutputs(self.bank, self.guard))
        self.sinks: dict[object, Sink] = {}
        self._findings: list[Callable[[], tuple[Finding, ...]]] = [
            self.bank.findings, self.guard.findings, self.memory.findings, self._restarts.findings,
            TimeOfDay(self.clock).findings,
        ]  # fmt: skip
        source: Callable[[], Settings] = lambda: self.settings  # noqa: E731
        if watches_file:
            live = LiveSettings(
                start, SettingsWatch(machine.settings_file, self.settings), self.clock, _nobody
            )
            self._findings.append(live.findings)
            source = live
        self.parts = Parts(
            self.clock,
            source,
            Gatherer(self.settings),
            plant.temperatures,
            plant.floats,
            self.drive,
            findings=tuple(self._findings),
            date_of=LocalDay(plant.model.weather.zone),
            hour_of=LocalHour(plant.model.weather.zone),
            tick_s=TICK_S,
            contacts=None if plant.contacts is None else ContactWatch(plant.contacts.look),
        )
        plant.on_float_turn = self.parts.wake.set
        self.loop = ControlLoop(self.parts, self._restarts.remembered)

    def tick(self, *, remembers: bool, clears_fire: bool) -> TickRecord:
        """One tick.

        Args:
            remembers: whether the memory is written (it always would be; what nobody will read is left out).
            clears_fire: whether a person has just asked to clear a fire signature.

        Raises:
            ProcessEnded: the process ends in the middle of it.
        """
        parts = self.parts
        if remembers and parts.memory is None:
            self.memory._urgent = True  # what was urgent in the meantime would have been written then
        parts.memory = self._counting if remembers else None
        if clears_fire:
            parts.cleared = OperatorRequests(self._machine.runtime, "this life", self.clock).take
            with open_directory(self._machine.runtime) as directory:
                leave_request(directory, "this life")
        record = self.loop.tick()
        if clears_fire:
            parts.cleared = frozenset
        return record

    def put_sink(self, key: object, sink: Sink) -> None:
        """Somebody who watches and fails."""
        self.sinks[key] = sink
        self._wire()

    def take_sink(self, key: object) -> None:
        """He is gone."""
        sink = self.sinks.pop(key, None)
        if sink is not None:
            sink.close()
            self._wire()

    def _wire(self) -> None:
        self.parts.watchers = tuple(self.sinks.values())
        self.parts.findings = (*self._findings, *(sink.findings for sink in self.sinks.values()))

    def keep(self) -> bool:
        """Let the memory reach the card, as its thread would; return whether the card has all of it."""
        self.memory.keep(self.clock.monotonic_s())
        written = self.memory._kept is not None
        return written and str(self._machine.card / FILE_NAME) not in self._troubled()

    def runtime_is_good(self) -> bool:
        """Whether the copy of this boot has all that matters."""
        written = self.memory._newest is not None
        return written and str(self._machine.runtime / FILE_NAME) not in self._troubled()

    def _troubled(self) -> list[str]:
        return [finding.subject for finding in self.memory.findings()]

    def wait(self, seconds: float) -> None:
        """Let time pass, until a float turns at the most."""
        if self.clock.wait(self.parts.wake, seconds):
            self.parts.wake.clear()

    def stall(self, seconds: float, looked: Callable[[], None]) -> None:
        """Nobody ticks for a while; the lease guard looks as it always does, ``looked`` after each time."""
        end_s = self.clock.monotonic_s() + seconds
        while (left_s := end_s - self.clock.monotonic_s()) > NEARLY_S:
            trips_s = self.guard._renewed_mono_s + self.lease_s - self.guard.check_every_s
            to_trip_s = trips_s - self.clock.monotonic_s()
            look_s = min(left_s, self.lease_s / CHECKS_PER_LEASE)
            self.clock.advance(min(look_s, to_trip_s) if to_trip_s > NEARLY_S else look_s)
            self.guard.check(self.clock.monotonic_s())
            looked()

    def outputs_off(self) -> None:
        """The process is gone: service manager, driver or missing power see to the outputs."""
        for switch in self.bank._switches.values():
            switch.close()

    def close(self) -> None:
        """Nothing of it is left."""
        for key in list(self.sinks):
            self.take_sink(key)


def _nobody(_reload: Reload) -> None:
    """A reload is not reported to anybody."""
