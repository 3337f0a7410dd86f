"""The promises about motors (P4, P11, P13), judged on what was decided and recorded of every fan and pump.

What the outputs themselves did is judged in ``pin_watch``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.decision.driven import LATE_S
from controller.decision.reasons import ReasonCode
from controller.equipment import Kind
from controller.faults import HOUR_S

if TYPE_CHECKING:
    from controller.decision.command import OutputChange
    from controller.equipment import OutputId
    from controller.record.tick import TickRecord

SAFETY_TRIPS = frozenset(
    {
        ReasonCode.FIRE,
        ReasonCode.FIRE_ONE_PROBE,
        ReasonCode.FLOOD,
        ReasonCode.FLOAT_UNREADABLE,
        ReasonCode.DRAIN_DOWN,
        ReasonCode.FLOAT_BACK,
        ReasonCode.JUST_STARTED,
        ReasonCode.AIR_NOT_PROVEN,
        ReasonCode.CEILING_UNKNOWN,
        ReasonCode.SOIL_UNKNOWN,
        ReasonCode.ROOT_ZONE_WARM,
        ReasonCode.ROOT_ZONE_HOT,
        ReasonCode.ROOT_ZONE_COLD,
        ReasonCode.PUMP_EXERCISE_DONE,
        ReasonCode.PUMP_DUTY_DONE,
        ReasonCode.NO_DECISION,
        ReasonCode.OUTPUT_FAILED,
    }
)


@dataclass(slots=True)
class SeenMotor:
    """What the watch has itself seen of one motor."""

    on_since_s: float | None = None
    off_since_s: float | None = None
    starts_s: list[float] = field(default_factory=list)
    run_taken_over: bool = False  # nobody saw this run begin


class MotorWatch:
    """Follows every motor.

    Attributes:
        motors: what has been seen of each, by kind and name.
        last_start_s: when any of them last started.
    """

    def __init__(self) -> None:
        self.motors: dict[tuple[Kind, str], SeenMotor] = {}
        self.last_start_s: float | None = None

    def take_over(self, tick: TickRecord) -> None:
        """Motors as they were before this tick, whose changes are checked as always."""
        turned = {change.output for change in tick.decision.changes}
        for output, command in tick.decision.commands.items():
            motor = self.motors.setdefault((output.kind, output.name), SeenMotor())
            was_on = command.on != (output in turned)
            if was_on != (motor.on_since_s is not None):
                motor.on_since_s = tick.now_mono_s if was_on else None
                motor.off_since_s = None if was_on else tick.now_mono_s
                motor.run_taken_over = was_on

    def on_since_s(self, kind: Kind, name: str) -> float | None:
        """When a motor's present run began, None if it is off or nobody told of its start."""
        motor = self.motors.get((kind, name))
        return None if motor is None else motor.on_since_s

    def started(self, tick: TickRecord, change: OutputChange, broken: list[str]) -> None:
        """Check a start: rest, starts an hour and stagger; then count it."""
        output, now_s, settings = change.output, tick.now_mono_s, tick.settings
        motor = self._changed(change, broken)
        fan = output.kind is Kind.FAN
        rest_s = settings.fans.minimum_rest_s if fan else settings.pump.minimum_rest_s
        most = settings.fans.starts_per_hour if fan else settings.pump.starts_per_hour
        if motor.off_since_s is not None and now_s - motor.off_since_s < rest_s:
            broken.append(f"P4: {output} rested {now_s - motor.off_since_s:.1f} s of {rest_s:.1f} s")
        if sum(now_s - at < HOUR_S for at in motor.starts_s) >= most:
            broken.append(f"P4: {output} started more than {most} times in an hour")
        if self.last_start_s is not None and now_s - self.last_start_s < settings.fans.stagger_s:
            broken.append(f"P11: {output} started {now_s - self.last_start_s:.1f} s after another motor")
        motor.starts_s = [at for at in motor.starts_s if now_s - at < HOUR_S] + [now_s]
        motor.on_since_s, motor.off_since_s = now_s, None
        self.last_start_s = now_s

    def stopped(self, tick: TickRecord, change: OutputChange, broken: list[str]) -> float:
        """Check a stop against the minimum run; returns for how long the motor ran, in seconds.

        A run that nobody saw begin counts as an hour.
        """
        output, now_s = change.output, tick.now_mono_s
        motor = self._changed(change, broken)
        since_s = None if motor.run_taken_over else motor.on_since_s
        ran_s = HOUR_S if since_s is None else now_s - since_s
        motor.run_taken_over = False
        fan = output.kind is Kind.FAN
        least_s = tick.settings.fans.minimum_run_s if fan else tick.settings.pump.run_on_s
        if ran_s < least_s and change.reason.code not in SAFETY_TRIPS:
            broken.append(f"P4: {output} ran {ran_s:.1f} s, at least {least_s:.1f} s are promised")
        motor.on_since_s, motor.off_since_s = None, now_s
        return ran_s

    def _changed(self, change: OutputChange, broken: list[str]) -> SeenMotor:
        output = change.output
        if not change.reason.numbers:
            broken.append(f"P13: {output} changed for a reason without numbers")
        return self.motors.setdefault((output.kind, output.name), SeenMotor())

    def count_from_pins(self, tick: TickRecord) -> dict[OutputId, float]:
        """Count runs and rests from when a motor turned, where that was notably later than commanded.

        Returns:
            When those that started late did.
        """
        late: dict[OutputId, float] = {}
        for output, on, at_s in tick.pins.turns:
            motor = self.motors.get((output.kind, output.name))
            since_s = None if motor is None else (motor.on_since_s if on else motor.off_since_s)
            if motor is None or since_s is None or at_s - since_s <= LATE_S:
                continue
            if not on:
                motor.off_since_s = at_s
                continue
            motor.on_since_s = self.last_start_s = late[output] = at_s
            motor.starts_s[-1] = at_s
        return late
