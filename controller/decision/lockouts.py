"""What forbids a loop's fan to run, whatever the demand; and what a float means that could not be read."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.reasons import WATER, Reason, ReasonCode
from controller.decision.state import Doubt, DryBefore, Lockout
from controller.readings.reading import Good, Missing, Why

if TYPE_CHECKING:
    from controller.decision.state import FireState, OutputState, SumpState
    from controller.readings.reading import Reading

Stop = tuple[Lockout, Reason]

# A float that reads dry, is lost for no longer than this and reads dry again has missed no water, if its
# pump was at rest throughout: nothing else empties a pit so soon. Even with a pump run by hand, water that
# comes and goes takes at least four times as long as emptying the pit: 1/q + 1/(1 - q) >= 4 for any inflow
# q as a share of the pump's flow. A pit takes half a minute at least; this is four times that. [practice]
SHORT_BLIND_S: float = 120.0
DRAINING = {
    None: (Lockout.DRAIN_DOWN, ReasonCode.DRAIN_DOWN),
    Doubt.STARTED: (Lockout.JUST_STARTED, ReasonCode.JUST_STARTED),
    Doubt.BLIND: (Lockout.FLOAT_BACK, ReasonCode.FLOAT_BACK),
}


def fire_stop(fire: FireState, now_mono_s: float) -> Stop | None:
    """The stop that a fire signature, or one probe that shows it alone, puts on every fan."""
    if fire.latched_detail is None:
        if fire.suspect is None:
            return None
        shown: dict[str, float | str] = {
            "detail": fire.suspect_detail,
            "for_s": now_mono_s - fire.suspect_since_s,
        }
        return Lockout.FIRE_ONE_PROBE, Reason(ReasonCode.FIRE_ONE_PROBE, shown)
    numbers: dict[str, float | str] = {
        "detail": fire.latched_detail,
        "for_s": now_mono_s - fire.latched_since_s,
    }
    return Lockout.FIRE, Reason(ReasonCode.FIRE, numbers)


def water_stop(name: str, sump: SumpState, why: str, drain_down_s: float, now_mono_s: float) -> Stop | None:
    """The stop that water, known or possible, puts on every fan whose tubes drain to this sump.

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
        lockout, code = DRAINING[sump.doubt]
        return lockout, Reason(code, {"sump": name, "left_s": drain_down_s - drained_s})
    return None


def float_lost(before: SumpState, why: Why, pump: OutputState, now_mono_s: float) -> SumpState:
    """The sump in a tick without a reading of its float: water cannot be ruled out.

    Args:
        before: the sump after the last tick.
        why: why the reading is missing.
        pump: its pump as it has been since the last tick.
        now_mono_s: now.
    """
    known, since_s = before.dry_before, before.unreadable_since_s
    if since_s is None:
        since_s = now_mono_s
        if before.wet_since_s is None and not pump.on:
            known = DryBefore(now_mono_s, before.last_water_s, before.doubt)
    doubt = before.doubt
    if known is not None:  # else water was seen last, or no reading ever came
        doubt = Doubt.STARTED if why is Why.NEVER_READ else Doubt.BLIND
    return before._replace(
        unreadable_since_s=since_s,
        wet_since_s=None,
        last_water_s=now_mono_s,
        doubt=doubt,
        dry_before=known,
    )


def float_dry(before: SumpState, pump: OutputState, now_mono_s: float) -> SumpState:
    """The sump in a tick whose float reads dry; a short spell without a reading does not count."""
    known = before.dry_before
    if before.wet_since_s is None and before.unreadable_since_s is None and known is None:
        return before
    dry = before._replace(wet_since_s=None, unreadable_since_s=None, dry_before=None)
    if known is None or pump.on or pump.since_mono_s > known.at_s:
        return dry
    if now_mono_s - known.at_s > SHORT_BLIND_S:
        return dry
    return dry._replace(last_water_s=known.last_water_s, doubt=known.doubt)


def ceiling_stop(ceiling: Missing, now_mono_s: float) -> Stop:
    """The stop without a ceiling temperature, which every fan needs to be judged useful."""
    numbers: dict[str, float | str] = {"why": ceiling.why.value, "for_s": now_mono_s - ceiling.since_mono_s}
    return Lockout.CEILING_UNKNOWN, Reason(ReasonCode.CEILING_UNKNOWN, numbers)


def soil_stop(soil: Missing, now_mono_s: float) -> Stop:
    """The stop without a soil temperature, which says what a run would bring."""
    numbers: dict[str, float | str] = {"why": soil.why.value, "for_s": now_mono_s - soil.since_mono_s}
    return Lockout.SOIL_UNKNOWN, Reason(ReasonCode.SOIL_UNKNOWN, numbers)


def _roots(root_zone: Reading, soil_c: float) -> tuple[str, float]:
    """What the roots' limits are judged by, in words, and its temperature.

    Without a root-zone reading the soil at tube depth stands in. In the ground between the beds and the tubes
    no place gets warmer, or colder, than both of its ends; so soil at the tubes within the limits means that
    the fans push no root beyond them. What sun and air do to the roots from above it cannot show.
    """
    if isinstance(root_zone, Good):
        return "the root zone", root_zone.value
    return f"the soil at the tubes (the root-zone probe {root_zone.why.value})", soil_c


def cold_roots_stop(ceiling_c: float, soil_c: float, root_zone: Reading, low_c: float) -> Stop | None:
    """The stop for roots at their lower limit, where the fan would take heat from the soil."""
    place, now_c = _roots(root_zone, soil_c)
    if ceiling_c >= soil_c or now_c > low_c:
        return None
    numbers: dict[str, float | str] = {"place": place, "now_c": now_c, "limit_c": low_c}
    return Lockout.ROOT_ZONE_COLD, Reason(ReasonCode.ROOT_ZONE_COLD, numbers)


class IntoSoil(NamedTuple):
    """Heat that a run would put into the soil.

    Attributes:
        ceiling_c: air at the riser intake.
        soil_c: soil at tube depth.
        heat_w: dry heat the run would move.
        power_w: what the fan draws.
    """

    ceiling_c: float
    soil_c: float
    heat_w: float
    power_w: float


def missed_in_the_heat(stop: Stop, run: IntoSoil, hot_c: float) -> Stop:
    """The stop by water, under a roof as hot as ``hot_c`` with what the soil could take meanwhile."""
    lockout, reason = stop
    if reason.code not in WATER or run.ceiling_c < hot_c or run.ceiling_c <= run.soil_c:
        return stop
    return lockout, reason._replace(numbers={**reason.numbers, "heat_w": run.heat_w, "power_w": run.power_w})


def warm_roots_stop(run: IntoSoil, root_zone: Reading, high_c: float, *, rescue: bool) -> Stop | None:
    """The stop for roots at the upper limit of what the run is for, where it would put heat into the soil.

    Args:
        run: what the run would do.
        root_zone: the loop's root-zone reading.
        high_c: the limit.
        rescue: whether it is the higher one, that of cooling.
    """
    place, now_c = _roots(root_zone, run.soil_c)
    if run.ceiling_c <= run.soil_c or now_c < high_c:
        return None
    numbers: dict[str, float | str] = {
        "place": place,
        "now_c": now_c,
        "limit_c": high_c,
        "heat_w": run.heat_w,
        "power_w": run.power_w,
    }
    if rescue:
        return Lockout.ROOT_ZONE_HOT, Reason(ReasonCode.ROOT_ZONE_HOT, numbers)
    return Lockout.ROOT_ZONE_WARM, Reason(ReasonCode.ROOT_ZONE_WARM, numbers)
