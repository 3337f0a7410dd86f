"""The fire watch: air too hot, or warming too fast, stops every fan until a person clears it."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, NamedTuple

from controller.decision.state import FireState
from controller.faults import HOUR_S, FaultCode
from controller.readings.reading import Good
from controller.units import difference_text, duration_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import Trace
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Fire, Settings
    from controller.units import TemperatureUnit

# Rate of rise counts only above this: a probe warmed in the hand, or hung in the sun, stays below. [practice]
RATE_COUNTS_ABOVE_C = 40.0
# Probes this far below the level disagree with one that has reached it; under a closed ridge the sun alone
# can heat one probe past 60 °C. After an hour a fire beside it would have reached them. [practice]
DISAGREE_K = 10.0
DISAGREE_FOR_S = HOUR_S


class Seen(NamedTuple):
    """What one tick shows of a fire.

    Attributes:
        signs: by probe, in words: too hot, or rising too fast.
        hot: whether one of them is too hot.
        rising: whether one of them rises too fast.
        air_c: every air probe that can be read.
        traces: for the next tick.
    """

    signs: Mapping[str, str]
    hot: bool
    rising: bool
    air_c: Mapping[str, float]
    traces: Mapping[str, Trace]


def watch_fire(before: FireState, snapshot: Snapshot, settings: Settings, now_s: float) -> FireState:
    """Latch on a fire signature; only a person clears it, and only once it is gone.

    Two probes make a signature, or one that is too hot while one rises too fast, or the only one that can be
    read. What one probe shows alone stops the fans for as long as the others have not disagreed for an hour.
    """
    seen = _look(before, snapshot, settings)
    standing = {name: words for name, words in seen.signs.items() if name not in before.dismissed}
    cleared = bool(snapshot.cleared) and FaultCode.FIRE in snapshot.cleared and not standing
    if cleared:
        before = FireState(dismissed=before.dismissed)
    before = before._replace(
        traces=seen.traces,
        dismissed=before.dismissed
        and frozenset(n for n in before.dismissed if _still_odd(n, seen, settings)),
    )
    if before.latched_detail is not None or (not seen.signs and before.suspect is None):
        return before
    if _is_fire(before, seen):
        words = next(iter(seen.signs.values()))
        return FireState(words, now_s, seen.traces, dismissed=before.dismissed)
    if before.suspect is None:
        if not standing:
            return before
        name, words = next(iter(standing.items()))
        before = before._replace(
            suspect=name, suspect_detail=words, suspect_since_s=now_s, disagree_since_s=now_s
        )
    return _disagreed(before, seen, settings, now_s)


def _look(before: FireState, snapshot: Snapshot, settings: Settings) -> Seen:
    fire, unit = settings.fire, settings.site.show
    hot: dict[str, str] = {}
    rising: dict[str, str] = {}
    air_c: dict[str, float] = {}
    traces: dict[str, Trace] = {}
    for name, rate_counts in settings.derived.fire_probes:
        reading = snapshot.probes.get(name)
        if not isinstance(reading, Good):
            continue
        air_c[name] = reading.value
        if reading.value >= fire.level_c:
            hot[name] = f"{name} reads {temperature_text(reading.value, unit)}"
        if rate_counts:
            trace = traces[name] = _traced(before.traces.get(name, ()), reading, fire.rise_for_s)
            if _rises_too_fast(trace, fire):
                rising[name] = _rise_text(name, trace, unit)
    return Seen(
        {**hot, **{name: words for name, words in rising.items() if name not in hot}} if rising else hot,
        bool(hot),
        bool(rising),
        air_c,
        traces,
    )


def _is_fire(before: FireState, seen: Seen) -> bool:
    """Whether that is more than one probe alone, where there is another to ask."""
    if not seen.signs:
        return False
    if len(seen.air_c) == 1 or (seen.hot and seen.rising):
        return True
    return len({*seen.signs, *([] if before.suspect is None else [before.suspect])}) > 1


def _still_odd(name: str, seen: Seen, settings: Settings) -> bool:
    """Whether a probe that was dismissed still shows what the others do not, or cannot be read."""
    return name in seen.signs or seen.air_c.get(name, inf) > settings.fire.level_c - DISAGREE_K


def _disagreed(suspicion: FireState, seen: Seen, settings: Settings, now_s: float) -> FireState:
    """The suspicion, or its end when every other probe has been far below for an hour."""
    others = [value for name, value in seen.air_c.items() if name != suspicion.suspect]
    if not others or max(others) > settings.fire.level_c - DISAGREE_K:
        return suspicion._replace(disagree_since_s=now_s)
    if now_s - suspicion.disagree_since_s < DISAGREE_FOR_S or suspicion.suspect is None:
        return suspicion
    dismissed = suspicion.dismissed | {suspicion.suspect} if seen.signs else suspicion.dismissed
    return FireState(traces=suspicion.traces, dismissed=dismissed)


def _traced(trace: Trace, reading: Good[float], keep_s: float) -> Trace:
    """Add a new sample and forget what is older than needed for one full window."""
    at_s = reading.at_mono_s
    if trace and trace[-1][0] >= at_s:
        return trace
    first = 0
    while first + 1 < len(trace) and at_s - trace[first + 1][0] >= keep_s:
        first += 1
    return (*trace[first:], (at_s, reading.value))


def _rises_too_fast(trace: Trace, fire: Fire) -> bool:
    """Whether both halves of the window rise that fast: a burst of warm air is not a fire."""
    end_s, end_c = trace[-1]
    if end_c < RATE_COUNTS_ABOVE_C:
        return False
    start_s, start_c = trace[0]
    if end_s - start_s < fire.rise_for_s:
        return False
    middle = start_s + end_s
    middle_s, middle_c = min(trace, key=lambda sample: abs(2.0 * sample[0] - middle))
    return (
        start_s < middle_s < end_s
        and middle_c - start_c >= fire.rise_k_s * (middle_s - start_s)
        and end_c - middle_c >= fire.rise_k_s * (end_s - middle_s)
    )


def _rise_text(name: str, trace: Trace, unit: TemperatureUnit) -> str:
    (start_s, start_c), (end_s, end_c) = trace[0], trace[-1]
    rise = difference_text(end_c - start_c, unit)
    return f"{name} rose {rise} in {duration_text(end_s - start_s)} to {temperature_text(end_c, unit)}"
