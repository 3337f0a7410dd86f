"""Minimum run, rest and starts per hour of one output."""

from __future__ import annotations

from controller.decision.state import Lockout, OutputState
from controller.faults import HOUR_S


def start_lockout(
    output: OutputState, minimum_rest_s: float, starts_per_hour: int, now_mono_s: float
) -> Lockout | None:
    """What forbids the motor to start now, or None."""
    if now_mono_s - output.since_mono_s < minimum_rest_s:
        return Lockout.RESTING
    if starts_in_last_hour(output, now_mono_s) >= starts_per_hour:
        return Lockout.STARTS_SPENT
    return None


def starts_in_last_hour(output: OutputState, now_mono_s: float) -> int:
    """How often the motor has started within the hour before ``now_mono_s``."""
    return sum(1 for at in output.starts_mono_s if now_mono_s - at < HOUR_S)


def switched(output: OutputState, on: bool, now_mono_s: float) -> OutputState:
    """The output after a command; unchanged commands leave it as it is."""
    if on == output.on:
        return output
    starts = tuple(at for at in output.starts_mono_s if now_mono_s - at < HOUR_S)
    return OutputState(on=on, since_mono_s=now_mono_s, starts_mono_s=(*starts, now_mono_s) if on else starts)
