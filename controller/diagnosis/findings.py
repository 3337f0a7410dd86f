"""Judges effects: whether the house is in danger, and whether what was commanded does what it should."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from controller.decision.pump import BELIEVED_WET_S
from controller.diagnosis.comparisons import comparison_findings
from controller.diagnosis.fan_faults import fan_findings
from controller.diagnosis.frost import frost_findings
from controller.diagnosis.house_shut import house_findings
from controller.diagnosis.soil_warmth import idle_soils, soil_findings
from controller.diagnosis.tonight import near_frost
from controller.faults import DAY_S, FAULTS, HOUR_S, MINUTE_S, NEAR_FROST, FaultCode, Finding
from controller.readings.reading import Good, Missing, Why
from controller.units import duration_text, temperature_text

if TYPE_CHECKING:
    from controller.decision.state import ControllerState, EmptyingTrend, FireState, SumpState
    from controller.diagnosis.evidence import Evidence
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings

# A float that reads wet for this long without a break needs a person. [practice]
WET_TO_REPORT_S = 45.0 * MINUTE_S
# Before, water came at less than this share of what the pump moves: more than it moves is not likely now.
MUCH_INFLOW = 0.5
# One slow cycle can be a wave at the float; two in a row are the pump. [practice]
SLOW_RUNS_TO_REPORT = 2
LEAKS_TO_REPORT = 3
REGULAR_RETURNS_TO_REPORT = 20  # two hours of rain as even as this are rare
CROWDED_TO_REPORT = 3  # a single start that comes too soon after the last is nothing to act on
# After this long without water it is not known whether the float would still rise. [practice]
QUIET_S = 30.0 * DAY_S
# The ground drains little by little: in rehearsed wet seasons no refill took over 1.2 times as long as that
# before it, where three had come within two hours each. A far more sudden end is not believed. [practice]
BRISK_REFILLS, STOPPED_TIMES, STOPPED_S = 3, 8.0, 12.0 * HOUR_S
# A standing heat alarm calls again at every step of this size. [practice]
CALLS_AGAIN_K = 3.0


def findings_of(
    snapshot: Snapshot,
    state: ControllerState,
    shown: Evidence,
    settings: Settings,
    now_s: float,
) -> list[Finding]:
    """Everything that is wrong now, as far as the readings and the state show."""
    found = list(snapshot.findings)
    fans = state.fans
    found += fire_findings(state.fire)
    found += frost_findings(snapshot, fans, shown.tonight, shown.evening, settings, now_s)
    _air_findings(snapshot, settings, found)
    for name in fans:
        soil = snapshot.loops[name].soil
        if isinstance(soil, Missing) and soil.why is not Why.NEVER_READ:
            found.append(Finding(FaultCode.SOIL_UNKNOWN, name, f"soil probe {soil.why.value}"))
    starts, compared = shown.starts.records, shown.comparisons
    soils = idle_soils(compared.warmths, starts)
    of_fans = fan_findings(settings.derived, fans, shown.outlets, starts, compared.rests, now_s, soils)
    found += of_fans
    found += soil_findings(soils, of_fans)
    groups = settings.derived.groups
    unlike = frozenset((*groups.soils, *groups.roots)) if of_fans else frozenset[str]()
    found += comparison_findings(compared, settings.site.show, unlike, soils.idle)
    found += house_findings(shown.house, settings.site.show)
    if snapshot.contacts:
        from controller.diagnosis.contact_faults import contact_findings  # noqa: PLC0415 - few houses have any

        found += contact_findings(snapshot, state, settings, now_s)
    for name, sump in state.sumps.items():
        _sump_findings(name, sump, settings, found, now_s)
    if found and near_frost(shown.tonight, state.need, settings.setpoints.frost_limit_c):
        return [
            replace(one, level=max(one.level, NEAR_FROST)) if FAULTS[one.code].near_frost else one
            for one in found
        ]
    return found


def fire_findings(fire: FireState) -> list[Finding]:
    """The latched fire signature, or what one probe alone shows of one."""
    if fire.latched_detail is not None:
        return [Finding(FaultCode.FIRE, "", fire.latched_detail)]
    if fire.suspect is not None:
        return [Finding(FaultCode.FIRE_ONE_PROBE, "", f"{fire.suspect_detail}: look")]
    return []


def _air_findings(snapshot: Snapshot, settings: Settings, found: list[Finding]) -> None:
    points = settings.setpoints
    hot = snapshot.bench if isinstance(snapshot.bench, Good) else snapshot.ceiling
    if isinstance(hot, Good) and hot.value >= points.too_hot_c:
        level = int((hot.value - points.too_hot_c) / CALLS_AGAIN_K)
        words = f"air {temperature_text(hot.value, settings.site.show)}"
        found.append(Finding(FaultCode.TOO_HOT, "", words, level))
    if isinstance(snapshot.ceiling, Missing) and snapshot.ceiling.why is not Why.NEVER_READ:
        found.append(Finding(FaultCode.CEILING_UNKNOWN, "", f"ceiling {snapshot.ceiling.why.value}"))


def _sump_findings(
    name: str, sump: SumpState, settings: Settings, found: list[Finding], now_s: float
) -> None:
    if sump.wet_since_s is not None and now_s - sump.wet_since_s >= WET_TO_REPORT_S:
        found.append(_wet_finding(name, sump, now_s - sump.wet_since_s))
    if sump.crowded >= CROWDED_TO_REPORT:
        most = settings.pump.starts_per_hour
        detail = f"water had to wait for each of {sump.crowded} starts in a row, with {most} allowed an hour"
        found.append(Finding(FaultCode.PUMP_CYCLING, name, detail))
    trend = sump.trend
    if trend.usual_s is not None and trend.last_s is not None and trend.slow_runs >= SLOW_RUNS_TO_REPORT:
        words = (
            f"took {duration_text(trend.last_s)} to empty the pit, inflow left out; "
            f"it usually takes {duration_text(trend.usual_s)}"
        )
        found.append(Finding(FaultCode.PUMP_SLOW, name, words))
    if trend.leaks >= LEAKS_TO_REPORT:
        words = f"water came back soon after each of {trend.leaks} runs, but not while the pump ran"
        found.append(Finding(FaultCode.WATER_RETURNS, name, words))
    elif trend.return_s is not None and trend.returns >= REGULAR_RETURNS_TO_REPORT:
        words = f"water came back {duration_text(trend.return_s)} after each of {trend.returns} runs in a row"
        found.append(Finding(FaultCode.WATER_RETURNS, name, words))
    quiet_s = now_s - sump.last_water_s
    if quiet_s >= QUIET_S:
        found.append(Finding(FaultCode.SUMP_QUIET, name, f"no water for {int(quiet_s / DAY_S)} days"))
    elif trend.refill_s is not None and trend.brisk >= BRISK_REFILLS:
        limit_s = max(STOPPED_TIMES * trend.refill_s, STOPPED_S)
        if quiet_s >= limit_s:
            words = f"no water for more than {duration_text(limit_s)}"
            detail = f"{words}; before, it came {duration_text(trend.refill_s)} after each run"
            found.append(Finding(FaultCode.SUMP_QUIET, name, detail))


def _wet_finding(name: str, sump: SumpState, wet_for_s: float) -> Finding:
    """A float that stays wet: how long, and what pump and inflow were like when last seen."""
    doubted = wet_for_s >= BELIEVED_WET_S
    limit = duration_text(BELIEVED_WET_S if doubted else WET_TO_REPORT_S)
    now = "; the pump now runs a quarter of the time only" if doubted else ""
    detail = f"wet without a break for more than {limit}; {_seen_before(sump.trend)}{now}"
    return Finding(FaultCode.SUMP_NOT_EMPTYING, name, detail, int(doubted))


def _seen_before(trend: EmptyingTrend) -> str:
    """What was known of pump and inflow when the float rose; a float that stays wet shows nothing more."""
    if trend.usual_s is None or trend.inflow is None:
        return "pump and inflow had not been measured before"
    if trend.slow_runs:
        return "the pump was slow before: it may be clogged or worn"
    before = f"before, the pump moved its usual flow and water came at {trend.inflow:.0%} of that"
    if trend.inflow >= MUCH_INFLOW:
        return f"{before}: more may come now than the pump moves, or the pump has failed"
    return f"{before}: a dead pump, a blocked discharge, a stuck float or a cut wire look like this"
