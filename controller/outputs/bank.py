"""All outputs together: drives what a decision commands, reads back, and can always fall back to all off."""

from __future__ import annotations

import math
import threading
from functools import partial
from typing import TYPE_CHECKING

import structlog

from controller.decision.driven import Lost, Pins, Turn
from controller.equipment import ALL_WELL, TODAY, Kind, OutputId
from controller.faults import FaultCode, Finding
from controller.outputs.board import BoardError
from controller.outputs.deadline import DeadlineSwitch
from controller.outputs.relay import Relay

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from controller.clock import Clock
    from controller.outputs.board import PinFactory
    from controller.outputs.ports import Switch
    from controller.settings.schema import Settings

log = structlog.get_logger(__name__)

# How long switching everything off waits for a drive that hangs before it goes ahead without the lock.
LOCK_PATIENCE_S = 0.5
OFF_ORDER = (Kind.FAN, Kind.PUMP, Kind.SIGNAL)


def open_all(settings: Settings, factory: PinFactory, clock: Clock | None = None) -> OutputBank:
    """Open every relay of the settings; all are OFF when this returns.

    A pin that fails, or hangs, does not keep the others from being driven off.

    Args:
        settings: the settings.
        factory: the pin factory from :func:`controller.outputs.board.pin_factory`.
        clock: for the bank.

    Raises:
        BoardError: at least one pin could not be opened; names every such output.
    """
    relays: dict[OutputId, Switch] = {}
    problems: list[str] = []
    for output, pin, active_high in _wiring(settings):
        try:
            relays[output] = DeadlineSwitch(partial(Relay, pin, active_high, factory), f"GPIO {pin}")
        except (BoardError, OSError) as problem:
            problems.append(f"{output}: {problem}")
    bank = OutputBank(relays, clock)
    if problems:
        bank.close()
        raise BoardError("\n".join(problems))
    return bank


def _wiring(settings: Settings) -> Iterator[tuple[OutputId, int, bool]]:
    """Every output with its pin and polarity, in the order in which they are driven off (see the bank)."""
    for name, loop in settings.loops.items():
        yield OutputId.fan(name), loop.fan_pin, loop.active_high
    for name, sump in settings.sumps.items():
        yield OutputId.pump(name), sump.pump_pin, sump.active_high
    if (signal := settings.signal) is not None:
        yield ALL_WELL, signal.pin, signal.active_high
        if signal.today_pin is not None:
            yield TODAY, signal.today_pin, signal.today_active_high


class _Line:
    """What the bank knows of one output.

    Attributes:
        wanted: whether the last decision wanted it on.
        known: the last level that could be read.
        level: the level now, None if it cannot be read.
        tried: whether it is driven on and could not be read back yet.
        cut: whether it has gone off although it is wanted on. It stays off until a decision has wanted it
            off, which only a decision that knows of the cut does: nothing comes back by itself.
    """

    __slots__ = ("cut", "known", "level", "tried", "wanted")

    def __init__(self) -> None:
        self.wanted = self.known = self.tried = self.cut = False
        self.level: bool | None = False


class OutputBank:
    """Every switched output by name. Shared by the tick and the lease guard; nothing here raises.

    While the bank is held (see :meth:`hold`), nothing can be switched on. Outputs are written in the order of
    the harm a late OFF does: fans first, because they feed a fire and push air into water within seconds; a
    pump that runs dry for one more second is not harmed; signals last.
    """

    def __init__(self, switches: Mapping[OutputId, Switch], clock: Clock | None = None) -> None:
        """Take over outputs that are all off.

        Args:
            switches: by output.
            clock: dates the moment an output really turned; without it that is when it was decided.
        """
        self._switches = dict(sorted(switches.items(), key=lambda item: OFF_ORDER.index(item[0].kind)))
        self._clock = clock
        self._lock = threading.Lock()
        self._held = False
        self._held_since_mono_s = -math.inf
        self._now_mono_s = -math.inf
        self._faults: dict[tuple[OutputId, bool], str] = {}
        self._lines = {output: _Line() for output in self._switches}
        self._turns: list[Turn] = []

    def drive(self, commands: Mapping[OutputId, bool], now_mono_s: float) -> Pins:
        """Make every output what is commanded; only those that differ are written, off before on.

        Args:
            commands: on or off by output; an output without a command is driven off.
            now_mono_s: when the decision began. One that began before the bank was last held is too old to
                switch anything on.

        Returns:
            What the outputs are driven to now, and every switching since the last time.
        """
        self._now_mono_s = now_mono_s
        fresh = now_mono_s >= self._held_since_mono_s
        to_run = [output for output in self._switches if commands.get(output, False)]
        with self._lock:
            for output in self._switches:
                if output not in to_run:
                    self._stop(output)
            for output in to_run:
                self._run(output, may_start=fresh)
            turns = tuple(self._turns)
            del self._turns[: len(turns)]
        return Pins({output: line.level for output, line in self._lines.items()}, turns)

    def lost(self) -> Lost | None:
        """Outputs that have gone off although the last decision wants them on; None if all are on."""
        cut = frozenset(output for output, line in self._lines.items() if line.cut)
        return Lost(cut) if cut else None

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
        self._now_mono_s = max(self._now_mono_s, now_mono_s)
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
        """Outputs that did not follow a command; one stays until the same command has worked."""
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

    def _stop(self, output: OutputId) -> None:
        """Bring one output off, writing only if it is on; a cut is over with this."""
        line = self._lines[output]
        line.wanted = line.cut = False
        try:
            if self._read(output):
                self._write(output, on=False)
        except Exception as problem:  # noqa: BLE001 - the other outputs must be driven whatever this one throws
            self._give_up(output, on=False, problem=problem)
        else:
            self._works(output, on=False)

    def _run(self, output: OutputId, may_start: bool) -> None:
        """Start one output, or let it run on; one that has gone off meanwhile stays off."""
        line = self._lines[output]
        starts, line.wanted = not line.wanted, True
        if line.cut or (starts and (self._held or not may_start)):
            line.cut = True
            self._force_off(output)
            return
        try:
            if not self._read(output) and starts:
                self._write(output, on=True)
            elif not line.level:
                raise OSError("it went off by itself")  # noqa: TRY301 - one place handles all three
        except Exception as problem:  # noqa: BLE001 - the other outputs must be driven whatever this one throws
            line.cut = True
            self._give_up(output, on=True, problem=problem)
        else:
            self._works(output, on=True)
        if self._held:  # held by another thread while this one was switching on
            self._force_off(output)

    def _write(self, output: OutputId, on: bool) -> None:
        """Drive one output and read it back.

        Raises:
            Exception: it could not be driven or read back, or it reads otherwise.
        """
        self._switches[output].set(on)
        line = self._lines[output]
        line.tried = on
        level = self._read(output)
        line.tried = False
        if level != on:
            raise OSError(f"reads back {_word(not on)}")

    def _read(self, output: OutputId) -> bool:
        """The level of one output; notes when it has turned.

        Raises:
            Exception: it cannot be read back.
        """
        line = self._lines[output]
        line.level = None
        level = self._switches[output].is_on()
        line.level = level
        self._note(output, line, level)
        return level

    def _note(self, output: OutputId, line: _Line, level: bool) -> None:
        if level != line.known:
            line.known = level
            at_mono_s = self._now_mono_s if self._clock is None else self._clock.monotonic_s()
            self._turns.append(Turn(output, level, at_mono_s))

    def _works(self, output: OutputId, on: bool) -> None:
        """The output followed its command."""
        if self._faults:
            self._faults.pop((output, on), None)

    def _give_up(self, output: OutputId, on: bool, problem: Exception) -> None:
        """Leave an output off that did not follow its command, and remember why."""
        line = self._lines[output]
        if line.tried:  # driven on, and it could not be read back: the motor has had its start
            line.tried = False
            self._note(output, line, level=True)
        came_off = self._force_off(output)
        outcome = "it is off" if came_off else "and it would not go off: it may be running"
        self._faults[output, on] = f"could not be switched {_word(on)} ({problem}); {outcome}"

    def _force_off(self, output: OutputId) -> bool:
        """Write OFF whatever the output seems to be; return whether it reads back off."""
        line = self._lines[output]
        if line.wanted:
            line.cut = True
        try:
            self._write(output, on=False)
        except Exception as problem:  # noqa: BLE001 - the other outputs must go off whatever this one throws
            self._faults[output, False] = f"could not be switched off ({problem}): it may be running"
            return False
        self._faults.pop((output, False), None)
        return True


def _word(on: bool) -> str:
    """The word for a level in a message."""
    return "on" if on else "off"
