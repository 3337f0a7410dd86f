"""The promises about motors, judged on what the outputs did and not on what was commanded (P4, P11, P13).

A pin that would not do as commanded is a fault with an alarm of its own and breaks no promise; a motor that
starts without a decision, or stops without a record, breaks one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.decision.driven import LATE_S
from controller.equipment import Kind
from controller.faults import HOUR_S

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    from controller.decision.driven import Turn
    from controller.decision.reasons import ReasonCode
    from controller.equipment import OutputId
    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings


@dataclass(slots=True)
class _Pin:
    """What one output has done.

    Attributes:
        on_since_s: when it went on, None while it is off.
        off_since_s: when it last went off, None if it was never seen on.
        starts_s: starts within the last hour.
        start_recorded: whether a start has been decided and recorded that the pin has not made yet.
        stop_recorded: why a stop has been decided and recorded that the pin has not made yet.
        stop_unrecorded: whether it went off and no record says why yet.
    """

    on_since_s: float | None = None
    off_since_s: float | None = None
    starts_s: list[float] = field(default_factory=list)
    start_recorded: bool = False
    stop_recorded: ReasonCode | None = None
    stop_unrecorded: bool = False


class PinWatch:
    """Follows what fans and pumps did from tick to tick."""

    def __init__(self, may_cut_a_run: AbstractSet[ReasonCode]) -> None:
        """Begin with every output off.

        Args:
            may_cut_a_run: reasons that may end a run before its shortest time.
        """
        self._may_cut_a_run = may_cut_a_run
        self._pins: dict[OutputId, _Pin] = {}
        self._last_start_s: float | None = None

    def observe(self, tick: TickRecord) -> list[str]:
        """What the outputs did in one finished tick that they never should, in words."""
        turns = [turn for turn in tick.pins.turns if turn.output.kind is not Kind.SIGNAL]
        changes = tick.decision.changes
        broken: list[str] = []
        stops: dict[OutputId, ReasonCode] = {}
        for change in changes:
            pin = self._pins.setdefault(change.output, _Pin())
            pin.start_recorded = change.on
            pin.stop_recorded = None if change.on else change.reason.code
            if not change.on:
                stops[change.output] = change.reason.code
        owed = [output for output, pin in self._pins.items() if pin.stop_unrecorded and output not in stops]
        broken += [f"P13: {output} went off and no reason was recorded" for output in owed]
        for output in (*owed, *stops):
            self._pins[output].stop_unrecorded = False
        for turn in turns:
            pin = self._pins.setdefault(turn.output, _Pin())
            if turn.on:
                broken += self._start(pin, turn, tick.settings)
            elif pin.on_since_s is not None:
                broken += self._stop(pin, turn, tick.settings)
        return broken

    def _start(self, pin: _Pin, turn: Turn, settings: Settings) -> list[str]:
        """Checks the start of a motor: was it decided, had it rested, and did no other start with it?"""
        output, at_s, broken = turn.output, turn.at_mono_s, []
        motor = settings.fans if output.kind is Kind.FAN else settings.pump
        if not pin.start_recorded:
            broken.append(f"P13: {output} went on although no start was recorded")
        if pin.off_since_s is not None and at_s - pin.off_since_s < motor.minimum_rest_s - LATE_S:
            rested_s = at_s - pin.off_since_s
            broken.append(f"P4: {output} was off for {rested_s:.3f} s of {motor.minimum_rest_s:.1f} s")
        pin.starts_s = [start_s for start_s in pin.starts_s if at_s - start_s < HOUR_S - LATE_S]
        if len(pin.starts_s) >= motor.starts_per_hour:
            broken.append(f"P4: {output} went on more than {motor.starts_per_hour} times in an hour")
        stagger_s = settings.fans.stagger_s
        if self._last_start_s is not None and at_s - self._last_start_s < stagger_s - LATE_S:
            after_s = at_s - self._last_start_s
            broken.append(f"P11: {output} went on {after_s:.3f} s after another motor")
        pin.starts_s.append(at_s)
        pin.on_since_s, self._last_start_s, pin.start_recorded = at_s, at_s, False
        return broken

    def _stop(self, pin: _Pin, turn: Turn, settings: Settings) -> list[str]:
        """Note the stop of a motor; a stop without a record must get one in the next tick."""
        code, pin.stop_recorded = pin.stop_recorded, None
        fan = turn.output.kind is Kind.FAN
        least_s = settings.fans.minimum_run_s if fan else settings.pump.run_on_s
        ran_s = turn.at_mono_s - (pin.on_since_s or 0.0)
        pin.on_since_s, pin.off_since_s = None, turn.at_mono_s
        if code is None:
            pin.stop_unrecorded = True
        elif code not in self._may_cut_a_run and ran_s < least_s - LATE_S:
            return [f"P4: {turn.output} was on for {ran_s:.1f} s, at least {least_s:.1f} s are promised"]
        return []
