"""The fire watch: an air probe too hot or warming too fast stops every fan until a person clears it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.state import FireState
from controller.faults import FaultCode
from controller.readings.reading import Good
from controller.units import difference_text, duration_text, temperature_text

if TYPE_CHECKING:
    from controller.decision.state import Trace
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Fire, Settings
    from controller.units import TemperatureUnit

# Rate of rise counts only above this: a probe warmed in the hand, or hung in the sun, stays below. [practice]
RATE_COUNTS_ABOVE_C = 40.0


def watch_fire(before: FireState, snapshot: Snapshot, settings: Settings, now_s: float) -> FireState:
    """Latch on a fire signature at any air probe; only a person clears it."""
    cleared = snapshot.cleared and FaultCode.FIRE in snapshot.cleared
    latched = None if cleared else before.latched_detail
    traces: dict[str, Trace] = {}
    fire = settings.fire
    level_c, window_s = fire.level_c, fire.rise_for_s
    hot: str | None = None
    tripped: str | None = None
    for name, rate_counts in settings.derived.fire_probes:
        reading = snapshot.probes.get(name)
        if not isinstance(reading, Good):
            continue
        if reading.value >= level_c and hot is None:
            hot = f"{name} reads {temperature_text(reading.value, settings.site.show)}"
        if rate_counts:
            trace = traces[name] = _traced(before.traces.get(name, ()), reading, window_s)
            if tripped is None and _rises_too_fast(trace, fire):
                tripped = _rise_text(name, trace, settings.site.show)
    signature = hot if hot is not None else tripped
    if latched is None and signature is not None:
        return FireState(signature, now_s, traces)
    return FireState(latched, before.latched_since_s, traces)


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
