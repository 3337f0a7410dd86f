"""The promise about signals (P13), judged on what was recorded, commanded and driven.

A signal is no motor: it has no rest, no shortest run and no stagger.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.equipment import Kind

if TYPE_CHECKING:
    from controller.equipment import OutputId
    from controller.record.tick import TickRecord


class SignalWatch:
    """Follows the signals from tick to tick."""

    def __init__(self) -> None:
        self._recorded: dict[OutputId, bool] = {}

    def observe(self, tick: TickRecord) -> list[str]:
        """What the signals did in one finished tick without a record, in words."""
        recorded, commands = self._recorded, tick.signals.commands
        if not commands and not recorded:
            return []
        broken = []
        for change in tick.signals.changes:
            recorded[change.output] = change.on
            if not change.reason.numbers:
                broken.append(f"P13: {change.output} changed for a reason without numbers")
        broken += [
            f"P13: {output} changed without a recorded reason"
            for output, command in commands.items()
            if command.on != recorded.setdefault(output, False)
        ]
        broken += [
            f"P13: {turn.output} went on although no change was recorded"
            for turn in tick.pins.turns
            if turn.output.kind is Kind.SIGNAL and turn.on and not recorded.get(turn.output, False)
        ]
        return broken
