"""What forbids a loop's fan to run, whatever the demand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Lockout
from controller.readings.reading import Good, Missing

if TYPE_CHECKING:
    from controller.decision.state import FireState, SumpState
    from controller.readings.reading import Reading

Stop = tuple[Lockout, Reason]


def fire_stop(fire: FireState, now_mono_s: float) -> Stop | None:
    """The stop that a fire signature puts on every fan."""
    if fire.latched_detail is None:
        return None
    numbers: dict[str, float | str] = {
        "detail": fire.latched_detail,
        "for_s": now_mono_s - fire.latched_since_s,
    }
    return Lockout.FIRE, Reason(ReasonCode.FIRE, numbers)


def water_stop(name: str, sump: SumpState, why: str, drain_down_s: float, now_mono_s: float) -> Stop | None:
    """The stop that water, or not knowing about water, puts on every fan whose tubes drain to this sump.

    Args:
        name: the sump.
        sump: its state after this tick's float reading.
        why: in words, why the float cannot be read (used only then).
        drain_down_s: how long tubes count as wet after the float fell.
        now_mono_s: now.
    """
    if sump.wet_since_s is not None:
        numbers: dict[str, float | str] = {"sump": name, "for_s": now_mono_s - sump.wet_since_s}
        return Lockout.FLOOD, Reason(ReasonCode.FLOOD, numbers)
    if sump.unreadable_since_s is not None:
        numbers = {"sump": name, "why": why, "for_s": now_mono_s - sump.unreadable_since_s}
        return Lockout.FLOAT_UNREADABLE, Reason(ReasonCode.FLOAT_UNREADABLE, numbers)
    drained_s = now_mono_s - sump.last_water_s
    if drained_s < drain_down_s:
        left_s = drain_down_s - drained_s
        return Lockout.DRAIN_DOWN, Reason(ReasonCode.DRAIN_DOWN, {"sump": name, "left_s": left_s})
    return None


def blind_stop(ceiling: Reading, soil: Reading, now_mono_s: float) -> Stop | None:
    """The stop for want of the two temperatures without which no fan can be judged useful."""
    if isinstance(ceiling, Missing):
        numbers = {"why": ceiling.why.value, "for_s": now_mono_s - ceiling.since_mono_s}
        return Lockout.CEILING_UNKNOWN, Reason(ReasonCode.CEILING_UNKNOWN, numbers)
    if isinstance(soil, Missing):
        numbers = {"why": soil.why.value, "for_s": now_mono_s - soil.since_mono_s}
        return Lockout.SOIL_UNKNOWN, Reason(ReasonCode.SOIL_UNKNOWN, numbers)
    return None


def root_zone_stop(
    ceiling_c: float, soil_c: float, root_zone: Reading, low_c: float, high_c: float
) -> Stop | None:
    """The stop for a root zone at a limit in the direction the heat would flow.

    Where the root-zone probe is missing the soil at tube depth stands in: it warms and cools first, so it
    reaches either limit earlier.
    """
    root_zone_c = root_zone.value if isinstance(root_zone, Good) else soil_c
    if ceiling_c > soil_c and root_zone_c >= high_c:
        numbers = {"root_zone_c": root_zone_c, "limit_c": high_c}
        return Lockout.ROOT_ZONE_WARM, Reason(ReasonCode.ROOT_ZONE_WARM, numbers)
    if ceiling_c < soil_c and root_zone_c <= low_c:
        numbers = {"root_zone_c": root_zone_c, "limit_c": low_c}
        return Lockout.ROOT_ZONE_COLD, Reason(ReasonCode.ROOT_ZONE_COLD, numbers)
    return None
