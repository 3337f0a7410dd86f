"""What one tick hands on to those who only watch: history, telemetry, the promise checks, the rehearsal."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.driven import NO_PINS, Pins
from controller.diagnosis.signals import NO_SIGNALS, Signals

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.command import Decision
    from controller.decision.state import ControllerState
    from controller.diagnosis.learn import Diagnosis
    from controller.readings.snapshot import Snapshot
    from controller.record.tally import DayTally
    from controller.settings.schema import Settings


class TickRecord(NamedTuple):
    """One finished tick.

    Attributes:
        seq: counts ticks since the program started.
        now_mono_s: when it was decided.
        settings: the settings it was decided with.
        snapshot: what was seen.
        decision: what was decided.
        state: the controller state after it.
        diagnosis: what it taught, and the alarms that are active.
        heat_w: heat each loop is proven to move now in W, positive into the soil; None where its fan is off
            or its outlet cannot be read.
        today: sums since local midnight (UTC day until the clock is set: since start).
        finished_day: the sums of the day that ended with this tick, or None.
        pins: what the outputs did, from the tick before to the end of this one.
        signals: what the signals show, decided from the alarms of the tick before.
    """

    seq: int
    now_mono_s: float
    settings: Settings
    snapshot: Snapshot
    decision: Decision
    state: ControllerState
    diagnosis: Diagnosis
    heat_w: Mapping[str, float | None]
    today: DayTally
    finished_day: DayTally | None = None
    pins: Pins = NO_PINS
    signals: Signals = NO_SIGNALS
