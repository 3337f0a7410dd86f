"""Judges effects: whether the house is in danger, and whether what was commanded does what it should."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.state import Lockout
from controller.diagnosis.comparisons import comparison_findings
from controller.diagnosis.fan_faults import fan_findings
from controller.faults import DAY_S, FaultCode, Finding
from controller.readings.reading import Good, Missing, Why
from controller.units import duration_text, temperature_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import ControllerState, FanState, FireState, SumpState
    from controller.diagnosis.outlet_records import OutletWatch
    from controller.diagnosis.probe_records import Comparisons
    from controller.readings.reading import Reading
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.units import TemperatureUnit

# One slow emptying can be heavy rain; this many in a row are the pump. Common practice, no source.
SLOW_RUNS_TO_REPORT = 3
QUICK_RETURNS_TO_REPORT = 3
REGULAR_RETURNS_TO_REPORT = 20  # two hours of rain as even as this are rare
# Without water for so long nobody knows whether the float would still rise. Common practice, no source.
QUIET_S = 30.0 * DAY_S
# A standing frost or heat alarm calls again at every step of this size. Common practice, no source.
CALLS_AGAIN_K = 3.0
# A person is called at once for water that stays; tubes that only drain are free again soon.
WATER = (Lockout.FLOOD, Lockout.FLOAT_UNREADABLE)
DRAINING = (Lockout.DRAIN_DOWN, Lockout.FLOAT_BACK, Lockout.JUST_STARTED)


def findings_of(
    snapshot: Snapshot,
    state: ControllerState,
    outlets: OutletWatch,
    comparisons: Comparisons,
    settings: Settings,
    now_s: float,
) -> list[Finding]:
    """Everything that is wrong now, as far as the readings and the state tell."""
    found = list(snapshot.findings)
    fans = state.fans
    found += fire_findings(state.fire)
    _air_findings(snapshot, fans, settings, found)
    for name in fans:
        soil = snapshot.loops[name].soil
        if isinstance(soil, Missing) and soil.why is not Why.NEVER_READ:
            found.append(Finding(FaultCode.SOIL_UNKNOWN, name, f"soil probe {soil.why.value}"))
    found += fan_findings(settings.derived, fans, outlets)
    found += comparison_findings(comparisons, settings.site.show)
    for name, sump in state.sumps.items():
        _sump_findings(name, sump, settings, found, now_s)
    return found


def fire_findings(fire: FireState) -> list[Finding]:
    """The latched fire signature, if there is one."""
    return [] if fire.latched_detail is None else [Finding(FaultCode.FIRE, "", fire.latched_detail)]


def _air_findings(
    snapshot: Snapshot, fans: Mapping[str, FanState], settings: Settings, found: list[Finding]
) -> None:
    unit = settings.site.show
    points = settings.setpoints
    coldest = _coldest(snapshot.bench, snapshot.ceiling)
    if coldest is not None and coldest <= points.frost_limit_c:
        detail = _air_text(coldest, unit)
        level = int((points.frost_limit_c - coldest) / CALLS_AGAIN_K)
        locked = {lockout for fan in fans.values() for lockout in fan.lockouts}
        locks = [lockout for lockout in (*WATER, *DRAINING) if lockout in locked]
        if locks:
            detail += f", fans locked: {locks[0].value}"
        if locks and locks[0] in WATER:
            found.append(Finding(FaultCode.FROST_IN_FLOOD, "", detail, level))
        found.append(Finding(FaultCode.FROST, "", detail, level))
    hot = snapshot.bench if isinstance(snapshot.bench, Good) else snapshot.ceiling
    if isinstance(hot, Good) and hot.value >= points.too_hot_c:
        level = int((hot.value - points.too_hot_c) / CALLS_AGAIN_K)
        found.append(Finding(FaultCode.TOO_HOT, "", _air_text(hot.value, unit), level))
    if isinstance(snapshot.ceiling, Missing) and snapshot.ceiling.why is not Why.NEVER_READ:
        found.append(Finding(FaultCode.CEILING_UNKNOWN, "", f"ceiling {snapshot.ceiling.why.value}"))


def _air_text(value_c: float, unit: TemperatureUnit) -> str:
    return f"air {temperature_text(value_c, unit)}"


def _coldest(bench: Reading, ceiling: Reading) -> float | None:
    known = [reading.value for reading in (bench, ceiling) if isinstance(reading, Good)]
    return min(known) if known else None


def _sump_findings(
    name: str, sump: SumpState, settings: Settings, found: list[Finding], now_s: float
) -> None:
    if sump.tries >= settings.pump.tries:
        found.append(Finding(FaultCode.SUMP_NOT_EMPTYING, name, f"still wet after {sump.tries} long runs"))
    if sump.wet_since_s is not None and Lockout.STARTS_SPENT in sump.lockouts:
        detail = f"{settings.pump.starts_per_hour} starts in an hour and still wet"
        found.append(Finding(FaultCode.PUMP_CYCLING, name, detail))
    trend = sump.trend
    if trend.usual_s is not None and trend.last_s is not None:
        if trend.slow_runs >= SLOW_RUNS_TO_REPORT:
            words = f"took {duration_text(trend.last_s)} to empty, usual are {duration_text(trend.usual_s)}"
            found.append(Finding(FaultCode.PUMP_SLOW, name, words))
        if trend.quick_returns >= QUICK_RETURNS_TO_REPORT:
            words = f"water back at once {trend.quick_returns} times in a row"
            found.append(Finding(FaultCode.WATER_RETURNS, name, words))
    if trend.return_s is not None and trend.returns >= REGULAR_RETURNS_TO_REPORT:
        words = f"water back {duration_text(trend.return_s)} after each of {trend.returns} runs in a row"
        found.append(Finding(FaultCode.WATER_RETURNS, name, words))
    if now_s - sump.last_water_s >= QUIET_S:
        days = int((now_s - sump.last_water_s) / DAY_S)
        found.append(Finding(FaultCode.SUMP_QUIET, name, f"no water for {days} days"))
