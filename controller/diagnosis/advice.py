"""What a person can do for the house now that no fan can: open it in the heat, close it before a cool night.

From the probes alone. Nobody sees doors, vents or shade, so no sentence says how they stand.
"""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, Final, NamedTuple

from controller.faults import HOUR_S
from controller.readings.reading import Good
from controller.units import difference_text, duration_text, temperature_text

if TYPE_CHECKING:
    from controller.decision.state import ControllerState
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.units import TemperatureUnit

# Air outdoors that is cooler than the house by this much cools it when it is let in. [practice]
WORTH_OPENING_K = 3.0
# Warmth is kept for nights that come this near to the comfort floor. [practice]
COOL_NIGHT_K = 5.0
# How far ahead, and from which fall on, a trend of the last hour is trusted. [practice]
AHEAD_S = 2.0 * HOUR_S
FALL_K_PER_S = 1.0 / HOUR_S
# Below the temperature worth keeping by more than this, closing comes too late to speak of it. [practice]
TOO_LATE_K = 3.0
MARK_EVERY_S = 600.0
OLDEST_MARK_S = HOUR_S
TREND_FROM_S = 0.5 * HOUR_S


class AdviceCode(Enum):
    """Stable names of what to do."""

    OPEN = "open"
    OPEN_BLINDLY = "open-blindly"
    SHADE = "shade"
    CLOSE = "close"


class Mark(NamedTuple):
    """Bench and outdoor air at one time."""

    at_s: float
    bench_c: float
    outdoor_c: float


class AirWatch(NamedTuple):
    """What is remembered for advice; not kept over a restart.

    Attributes:
        hot: whether the crop counts as hot, with the deadband of cooling.
        marks: the air of the last hour, oldest first; empty after a gap.
    """

    hot: bool = False
    marks: tuple[Mark, ...] = ()


NOTHING_WATCHED: Final = AirWatch()


class Advice(NamedTuple):
    """What to do, and from what that follows.

    Attributes:
        code: what to do.
        inside_c: air at ``probe``.
        probe: bench, or the ceiling where the bench cannot be read.
        outdoor_c: None where it cannot be read.
        left_s: how long there is time.
        fall_k: how fast the bench cools, in K an hour.
    """

    code: AdviceCode
    inside_c: float
    probe: str
    outdoor_c: float | None = None
    left_s: float = 0.0
    fall_k: float = 0.0

    def sentence(self, unit: TemperatureUnit, by: str | None) -> str:
        """The advice as a grower reads it.

        Args:
            unit: of temperatures.
            by: the time of day at which ``left_s`` is over, None if the clock is not set.
        """
        inside = f"{temperature_text(self.inside_c, unit)} at the {self.probe}"
        if self.outdoor_c is None:
            return f"open doors and vents, or shade the house: {inside}; no reading from outdoors"
        outdoors = f"{temperature_text(self.outdoor_c, unit)} outdoors"
        if self.code is AdviceCode.OPEN:
            return f"open doors and vents, or shade the house: {outdoors}, {inside}"
        if self.code is AdviceCode.SHADE:
            return f"shade the house: {outdoors}, {inside}, so open doors cool it little"
        when = "now" if self.left_s <= 0.0 else f"within {duration_text(self.left_s)}"
        if self.left_s > 0.0 and by is not None:
            when = f"by {by}"
        falls = f"falling by {difference_text(self.fall_k, unit)} an hour"
        return f"close doors and vents {when} to keep the warmth: {inside}, {falls}; {outdoors}"


def watched_air(before: AirWatch, snapshot: Snapshot, settings: Settings, now_s: float) -> AirWatch:
    """What is remembered after a tick; a reading that is missing ends the trend."""
    points, (inside_c, _) = settings.setpoints, _inside(snapshot)
    band_k = points.air_deadband_k if before.hot else 0.0
    hot = inside_c is not None and inside_c >= points.cool_above_c - band_k
    bench, outdoor, marks = snapshot.bench, snapshot.outdoor, before.marks
    if not isinstance(bench, Good) or not isinstance(outdoor, Good):
        return AirWatch(hot)
    if marks and now_s - marks[-1].at_s < MARK_EVERY_S:
        return before if hot is before.hot else AirWatch(hot, marks)
    recent = [mark for mark in marks if now_s - mark.at_s <= OLDEST_MARK_S]
    return AirWatch(hot, (*recent, Mark(now_s, bench.value, outdoor.value)))


def advice(
    watch: AirWatch, snapshot: Snapshot, after: ControllerState, settings: Settings, now_s: float
) -> Advice | None:
    """What to do now; None for nothing, and always in a fire, to which nobody should let air.

    Args:
        watch: what is remembered, this tick included.
        snapshot: judged readings of this tick.
        after: the state that the decision has left.
        settings: the settings in force.
        now_s: now.
    """
    inside_c, probe = _inside(snapshot)
    if inside_c is None or after.fire.latched_detail is not None:
        return None
    outdoor_c = snapshot.outdoor.value if isinstance(snapshot.outdoor, Good) else None
    if watch.hot:
        code = AdviceCode.OPEN_BLINDLY
        if outdoor_c is not None:
            code = AdviceCode.OPEN if outdoor_c <= inside_c - WORTH_OPENING_K else AdviceCode.SHADE
        return Advice(code, inside_c, probe, outdoor_c)
    coldest_c = after.need.coldest_c
    cool_nights = coldest_c is not None and coldest_c <= settings.setpoints.comfort_floor_c + COOL_NIGHT_K
    if outdoor_c is None or probe != "bench" or not cool_nights:
        return None
    return _closing(watch.marks, inside_c, outdoor_c, _worth_keeping_c(settings), now_s)


def _closing(
    marks: tuple[Mark, ...], bench_c: float, outdoor_c: float, keep_c: float, now_s: float
) -> Advice | None:
    """When the bench, falling as it has in the last hour, will have lost what is worth keeping."""
    if not marks or now_s - marks[0].at_s < TREND_FROM_S:
        return None
    first = marks[0]
    fall_k_s = (first.bench_c - bench_c) / (now_s - first.at_s)
    if fall_k_s < FALL_K_PER_S or outdoor_c >= min(first.outdoor_c, keep_c) or bench_c < keep_c - TOO_LATE_K:
        return None
    left_s = max((bench_c - keep_c) / fall_k_s, 0.0)
    if left_s > AHEAD_S:
        return None
    return Advice(AdviceCode.CLOSE, bench_c, "bench", outdoor_c, left_s, fall_k_s * HOUR_S)


def _worth_keeping_c(settings: Settings) -> float:
    """Warmth worth keeping [practice]: half-way between what banking leaves the crop and what is too much."""
    return 0.5 * (settings.setpoints.comfort_floor_c + settings.setpoints.cool_above_c)


def _inside(snapshot: Snapshot) -> tuple[float | None, str]:
    """Air at the crop and the probe it comes from, as cooling judges it."""
    if isinstance(snapshot.bench, Good):
        return snapshot.bench.value, "bench"
    return (snapshot.ceiling.value if isinstance(snapshot.ceiling, Good) else None), "ceiling"
