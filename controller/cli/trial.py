"""One output on for some seconds: waits until it may start, watches float and fire, writes the run down."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

from controller.decision.decide import initial_state
from controller.decision.fire import watch_fire
from controller.decision.timers import switched
from controller.diagnosis.evidence import no_evidence
from controller.equipment import Kind
from controller.outputs.lease import LeasedOutputs, LeaseGuard
from controller.readings.contacts import Contact, ContactKind
from controller.readings.gather import Gatherer
from controller.readings.reading import Good, Level, Missing, Why
from controller.record.memory import to_memory
from controller.record.restoring import restored, restored_evidence
from controller.service.memory_file import MemoryFile
from controller.service.restarts import CONTROLLER
from controller.settings.places import runtime_directory, state_directory
from controller.units import duration_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from controller.clock import Clock
    from controller.diagnosis.evidence import Evidence
    from controller.equipment import OutputId
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.startup import Hardware

LOOK_EVERY_S = 0.1
# Floats have settled and a round of probes has been read within this. [practice]
READ_WITHIN_S = 30.0


class Trial:
    """One output, tried once.

    Args:
        settings: the settings.
        hardware: the open board, every output off.
        output: what is tried.
        must_end: whether a person, or the end of the process that watches this one, asks for the end.
    """

    def __init__(
        self, settings: Settings, hardware: Hardware, output: OutputId, must_end: Callable[[], bool]
    ) -> None:
        self._settings = settings
        self._hardware = hardware
        self._output = output
        self._must_end = must_end
        self._clock = hardware.clock
        self._guard = LeaseGuard(hardware.outputs, self._clock, settings.service.lease_s)
        self._leased = LeasedOutputs(hardware.outputs, self._guard)
        self._gatherer = Gatherer(settings)
        self._never = threading.Event()
        self._ran: bool | None = None

    def run(self, for_s: float, card_clock: Clock) -> str:
        """Try the output; returns what was wrong, empty if nothing.

        Args:
            for_s: how long it shall be on.
            card_clock: paces the writes to the card.
        """
        settings = self._settings
        places = runtime_directory(settings), state_directory(settings)
        memory = MemoryFile(*places, self._hardware.boot_id, card_clock)
        kept, same_boot = memory.load() or ({}, False)
        now_s = self._clock.monotonic_s()
        state, evidence = initial_state(settings, now_s), no_evidence(settings.loops, now_s)
        if isinstance(data := kept.get(CONTROLLER), dict):
            state = restored(state, data, same_boot, now_s)
            evidence = restored_evidence(evidence, data, same_boot, now_s)
        self._state = state
        self._drained = {
            name: sump.last_water_s + settings.pump.drain_down_s if sump.doubt is None else now_s
            for name, sump in state.sumps.items()
        }
        self._guard.start()
        try:
            if problem := self._wait(for_s):
                return problem
            self._turn(on=True)
            self._write_down(memory, kept, evidence)
            return self._on(for_s)
        finally:
            self._off()
            self._write_down(memory, kept, evidence)
            memory.close()

    def _turn(self, on: bool) -> None:
        """Note in the state that the output is switched now."""
        now_s, outputs = self._clock.monotonic_s(), self._state.outputs
        if self._output in outputs:
            turned = switched(outputs[self._output], on, now_s)
            last_s = now_s if on else self._state.last_start_s
            self._state = self._state._replace(outputs={**outputs, self._output: turned}, last_start_s=last_s)

    def _look(self) -> Snapshot:
        """Everything as it is now; also follows the fire watch and the motor's contact."""
        settings, hardware = self._settings, self._hardware
        levels, raw = hardware.floats.look(), hardware.temperatures.latest()
        now_s = self._clock.monotonic_s()
        snapshot = self._gatherer.gather(raw, levels, now_s, settings.judging)
        fire = watch_fire(self._state.fire, snapshot, settings, now_s)
        self._state = self._state._replace(fire=fire)
        if hardware.contacts is not None and self._output.kind is not Kind.SIGNAL:
            fan = self._output.kind is Kind.FAN
            contact = Contact(ContactKind.FAN_RUNS if fan else ContactKind.PUMP_RUNS, self._output.name)
            self._ran = hardware.contacts.look().get(contact)
        return snapshot

    def _wait(self, for_s: float) -> str:
        """Wait until the output may go on; returns why it may not, empty once it may."""
        output, stagger_s = self._output, self._settings.fans.stagger_s
        began_s = self._clock.monotonic_s()
        starts_s = self._state.last_start_s + stagger_s if output.kind is not Kind.SIGNAL else began_s
        if starts_s > began_s:
            print(
                f"{output} waits {duration_text(starts_s - began_s)}: two motors never start together.",
                flush=True,
            )
        until_s = max(began_s + READ_WITHIN_S, starts_s)
        while True:
            snapshot = self._look()
            now_s = self._clock.monotonic_s()
            if self._must_end():
                return "stopped before it was switched on"
            problem = self._forbids(snapshot, for_s, now_s)
            unread = problem is None
            if problem:
                return problem
            if not unread and now_s >= starts_s:
                return ""
            if unread and now_s >= until_s:
                patience = duration_text(READ_WITHIN_S)
                return f"not switched on: float or air probes gave no reading within {patience}"
            self._guard.renew(now_s)
            self._clock.wait(self._never, LOOK_EVERY_S)

    def _forbids(self, snapshot: Snapshot, on_s: float, now_s: float) -> str | None:
        """What forbids the output to be on for so long; empty if nothing does, None if nobody knows yet."""
        settings, name = self._settings, self._output.name
        if self._output.kind is Kind.SIGNAL:
            return ""
        fan = self._output.kind is Kind.FAN
        sump = settings.loops[name].sump if fan else name
        level = snapshot.sumps[sump]
        if isinstance(level, Missing) and level.why is Why.NEVER_READ:
            return None
        if fan:
            return self._forbids_fan(snapshot, sump, now_s)
        dry_s = settings.pump.exercise_run_s
        if on_s <= dry_s or (isinstance(level, Good) and level.value is Level.WET):
            return ""
        return f"sump {sump} is not wet; without water the pump runs for {duration_text(dry_s)} at most"

    def _forbids_fan(self, snapshot: Snapshot, sump: str, now_s: float) -> str | None:
        """Fire, water, tubes that drain, and air that nobody measures."""
        level, fire = snapshot.sumps[sump], self._state.fire.latched_detail
        problem = ""
        if fire is not None:
            problem = f"fire signature: {fire}. Start the service and see `hypocaust status`"
        elif not isinstance(level, Good):
            problem = f"the float of sump {sump} {level.why.value}; water may stand in the tubes"
        elif level.value is Level.WET:
            problem = f"there is water in sump {sump}; no fan blows into wet tubes"
        elif now_s < self._drained[sump]:
            left = duration_text(self._drained[sump] - now_s)
            problem = f"water was in sump {sump} lately; the tubes drain for another {left}"
        air = (snapshot.probes.get(probe) for probe, _ in self._settings.derived.fire_probes)
        if problem or any(isinstance(reading, Good) for reading in air):
            return problem
        return None

    def _on(self, for_s: float) -> str:
        """Keep the output on; returns why it was cut short, empty if it was not."""
        output = self._output
        on_since_s = now_s = self._clock.monotonic_s()
        print(f"{output} on for {duration_text(for_s)}: look and listen.", flush=True)
        while now_s - on_since_s < for_s:
            pins = self._leased.drive({output: True}, now_s)
            if not pins.on.get(output) or self._leased.lost() is not None:
                return self._troubles() or "did not stay on"
            self._clock.wait(self._never, min(LOOK_EVERY_S, on_since_s + for_s - now_s))
            snapshot = self._look()
            now_s = self._clock.monotonic_s()
            if now_s - on_since_s >= for_s:
                break
            if self._must_end():
                return f"stopped after {duration_text(now_s - on_since_s)}"
            # Water may have ended meanwhile: what a pump may run without it counts from its start.
            if problem := self._forbids(snapshot, now_s - on_since_s, now_s):
                return f"switched off after {duration_text(now_s - on_since_s)}: {problem}"
        return ""

    def _off(self) -> None:
        """Every output off, and say what was seen."""
        was_on = self._hardware.outputs.is_on(self._output)
        ran = self._ran
        self._hardware.outputs.all_off("the test is over")
        self._guard.stop()
        self._turn(on=False)
        if not was_on:
            return
        seen = {None: "", True: " Its contact said that it ran.", False: " Its contact said that it stood."}
        print(f"{self._output} off.{seen[ran]}{self._troubles()}", flush=True)

    def _troubles(self) -> str:
        return "".join(
            f" {finding.subject} {finding.detail}." for finding in self._hardware.outputs.findings()
        )

    def _write_down(self, memory: MemoryFile, kept: dict[str, Any], evidence: Evidence) -> None:
        """Keep the run, so that the controller lets the motor rest; says so if that fails."""
        if self._output.kind is Kind.SIGNAL:
            return
        data = to_memory(self._state, evidence, self._clock.monotonic_s()).data
        memory.save({**kept, CONTROLLER: data}, urgent=True)
        if memory.findings():
            print(
                f"The run of {self._output} cannot be kept: {memory.findings()[0].detail}. "
                f"Let the motor rest for {duration_text(self._settings.fans.minimum_rest_s)} before you "
                "start the service.",
                flush=True,
            )
