"""All outputs together: drives what a decision commands, reads back, and can always fall back to all off."""

from __future__ import annotations

import math
import threading
from typing import TYPE_CHECKING

import structlog

from controller.equipment import OutputId
from controller.faults import FaultCode, Finding
from controller.outputs.board import BoardError
from controller.outputs.relay import Relay

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from controller.outputs.board import PinFactory
    from controller.outputs.ports import Switch
    from controller.settings.schema import Settings

log = structlog.get_logger(__name__)

# How long switching everything off waits for a drive that hangs before it goes ahead without the lock.
LOCK_PATIENCE_S = 0.5


def open_all(settings: Settings, factory: PinFactory) -> OutputBank:
    """Open every relay of the settings; all are OFF when this returns.

    A pin that fails does not keep the others from being driven off.

    Raises:
        BoardError: at least one pin could not be opened; names every such output.
    """
    relays: dict[OutputId, Switch] = {}
    problems: list[str] = []
    for output, pin, active_high in _wiring(settings):
        try:
            relays[output] = Relay(pin, active_high, factory)
        except BoardError as problem:
            problems.append(f"{output}: {problem}")
    bank = OutputBank(relays)
    if problems:
        bank.close()
        raise BoardError("\n".join(problems))
    return bank


def _wiring(settings: Settings) -> Iterator[tuple[OutputId, int, bool]]:
    """Every output with its pin and polarity; pumps first."""
    for name, sump in settings.sumps.items():
        yield OutputId.pump(name), sump.pump_pin, sump.active_high
    for name, loop in settings.loops.items():
        yield OutputId.fan(name), loop.fan_pin, loop.active_high


class OutputBank:
    """Every switched output by name. Shared by the tick and the lease guard; nothing here raises.

    While the bank is held (see :meth:`hold`), nothing can be switched on.
    """

    def __init__(self, switches: Mapping[OutputId, Switch]) -> None:
        self._switches = dict(switches)
        self._lock = threading.Lock()
        self._held = False
        self._held_since_mono_s = -math.inf
        self._faults: dict[tuple[OutputId, bool], str] = {}

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> None:
        """Make every output what is commanded; only those that differ are written, off before on.

        Args:
            commands: on or off by output; an output without a command is driven off.
            now_mono_s: when the decision began. One that began before the bank was last held is too old to
                switch anything on.
        """
        fresh = now_mono_s >= self._held_since_mono_s
        to_run = [output for output in self._switches if fresh and commands.get(output, False)]
        with self._lock:
            for output in self._switches:
                if output not in to_run:
                    self._drive_one(output, on=False)
            for output in to_run:
                self._drive_one(output, on=not self._held)

    def all_off(self, why: str) -> None:
        """Drive every output off, whatever it seems to be, without waiting long for a drive that hangs.

        Args:
            why: for the log, which is written last: a log that blocks must not keep a motor running.
        """
        locked = self._lock.acquire(timeout=LOCK_PATIENCE_S)
        try:
            for output in self._switches:
                self._force_off(output)
        finally:
            if locked:
                self._lock.release()
        log.info("all_outputs_off", why=why)

    def hold(self, why: str, now_mono_s: float) -> None:
        """Drive every output off and keep it so until :meth:`release`."""
        self._held_since_mono_s = now_mono_s
        self._held = True
        self.all_off(why)

    def release(self) -> None:
        """Let fresh decisions switch outputs on again."""
        self._held = False

    def is_on(self, output: OutputId) -> bool | None:
        """What an output is driven to now, None if it cannot be read back."""
        try:
            return self._switches[output].is_on()
        except OSError:
            return None

    def findings(self) -> tuple[Finding, ...]:
        """Outputs that would not do as told; one stays until the same command has worked."""
        if not self._faults:
            return ()
        faults = dict(self._faults)
        details: dict[str, list[str]] = {}
        for (output, _on), detail in sorted(faults.items()):
            details.setdefault(str(output), []).append(detail)
        return tuple(
            Finding(FaultCode.OUTPUT, subject, "; ".join(texts)) for subject, texts in details.items()
        )

    def close(self) -> None:
        """Drive every output off, then release them all; the bank stays held."""
        self._held = True
        self.all_off("the outputs are being closed")
        for output, switch in self._switches.items():
            try:
                switch.close()
            except Exception as problem:  # noqa: BLE001 - the next one must be closed whatever this one throws
                self._faults[output, False] = f"could not be released ({problem})"

    def _drive_one(self, output: OutputId, on: bool) -> None:
        """Bring one output to what is wanted, writing only if it differs, and read it back."""
        switch = self._switches[output]
        try:
            if switch.is_on() != on:
                switch.set(on)
                if switch.is_on() != on:
                    raise OSError(f"reads back {_word(not on)}")  # noqa: TRY301 - one place handles both
        except Exception as problem:  # noqa: BLE001 - the other outputs must be driven whatever this one throws
            self._give_up(output, on, problem)
        else:
            if self._faults:
                self._faults.pop((output, on), None)
        if on and self._held:  # held by another thread while this one was switching on
            self._force_off(output)

    def _give_up(self, output: OutputId, on: bool, problem: Exception) -> None:
        """Leave an output that would not do as told off, and remember why."""
        came_off = self._force_off(output)
        outcome = "it is off" if came_off else "and it would not go off: it may be running"
        self._faults[output, on] = f"could not be switched {_word(on)} ({problem}); {outcome}"

    def _force_off(self, output: OutputId) -> bool:
        """Write OFF whatever the output seems to be; return whether it reads back off."""
        switch = self._switches[output]
        try:
            switch.set(False)
            if switch.is_on():
                raise OSError("reads back on")  # noqa: TRY301 - one place handles both
        except Exception as problem:  # noqa: BLE001 - the other outputs must go off whatever this one throws
            self._faults[output, False] = f"could not be switched off ({problem}): it may be running"
            return False
        self._faults.pop((output, False), None)
        return True


def _word(on: bool) -> str:
    """The word for a level in a message."""
    return "on" if on else "off"
