"""Probes that read wrong, found by comparing them with others once a day. Nothing here switches anything.

At the coldest moment of a day no sun shines: air under the roof and among the crop are then alike. Soil and
root-zone probes of the loops keep about the same distance from each other for weeks. An outlet whose fan has
been off for hours lies between soil and bench, so it cannot differ from both where those two agree.
"""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING

from controller.diagnosis.loop_days import day_looked, loop_day_findings, rests_after, swings_after
from controller.diagnosis.probe_records import (
    DAYS_TO_REPORT,
    NEW_DAY,
    NO_RECORD,
    Comparisons,
    Record,
    Today,
    with_day,
)
from controller.diagnosis.soil_warmth import warmths_after, with_idle
from controller.faults import DAY_S, HOUR_S, FaultCode, Finding
from controller.readings.reading import Good
from controller.units import difference_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from collections.abc import Set as AbstractSet

    from controller.decision.state import OutputState
    from controller.diagnosis.probe_records import Looks
    from controller.equipment import OutputId
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema.derived import Derived, ProbeGroups
    from controller.units import TemperatureUnit

LOOK_EVERY_S = 900.0
# Probes of ±0.5 K (DS18B20 data sheet) in places that are a little different may be this far apart; and one
# in the shade becomes less than this much warmer than its peers by day, against the night. [practice] Sound
# probes of four rehearsed years (Carolina, 8 K colder, Alaska's coast, Miami) came to 0.8 K, soils to 1.5 K,
# and to 0.5 K by day.
OFF_K = 2.0
SUN_K = 3.0
# A sunny day adds one, or two where midnight splits it. A cloudy day proves little and takes away only
# this. [practice]
CLOUDY_DAY = 0.25
SUNNY_DAYS_TO_REPORT, MOST_SUNNY_DAYS = 3.0, 5.0
# How far a loop's share of the heat may move against the other loops. [practice] Sound loops
# of rehearsed years came to 0.015.
WEAK_SHARE = 0.035
BANKING_K, SETTLED_S, LOOKS_WHILE_BANKING = 5.0, 900.0, 2
# An outlet is compared after its fan has been off this long, and where soil and bench are this close.
AT_REST_S = 3.0 * HOUR_S
ALIKE_K = 2.0
LOOKS_AT_REST = 4


def compared(
    before: Comparisons,
    derived: Derived,
    snapshot: Snapshot,
    outputs: Mapping[OutputId, OutputState],
    now_s: float,
) -> Comparisons:
    """Look at all probes, every quarter of an hour; draw conclusions once a day."""
    if now_s - before.looked_s < LOOK_EVERY_S:
        return before
    today, records, shares, suspicious = before.today, before.records, before.shares, before.suspicious
    rests, swings, warmths = before.rests, before.swings, before.warmths
    if today is not None and now_s - today.began_s >= DAY_S:
        records = _concluded(derived.groups, today, records)
        shares = _shared(today.banking, shares)
        rests, swings = rests_after(today.loops, rests), swings_after(today.loops, swings)
        warmths = warmths_after(today.loops, warmths)
        tables = (records, shares, rests, swings)
        suspicious = any(one.off_days or one.sunny_days for table in tables for one in table.values())
        today = None
    seen = {name: one.value for name, one in snapshot.probes.items() if isinstance(one, Good)}
    today = _looked(today, derived, snapshot, outputs, seen, now_s)
    if today is not None:
        passed_s = min(now_s - before.looked_s, 2.0 * LOOK_EVERY_S)
        loops = day_looked(today.loops, derived, snapshot, outputs, passed_s, now_s)
        today = today._replace(loops=loops)
        warmths = with_idle(loops, warmths, now_s)
    return Comparisons(now_s, today, records, shares, rests, swings, warmths, suspicious)


def _looked(
    today: Today | None,
    derived: Derived,
    snapshot: Snapshot,
    outputs: Mapping[OutputId, OutputState],
    seen: Mapping[str, float],
    now_s: float,
) -> Today | None:
    """The day with one more look in it."""
    excess = dict(_excess(derived.groups, seen))
    coldest_c = snapshot.ceiling.value if isinstance(snapshot.ceiling, Good) else None
    if today is None:
        if coldest_c is None:
            return None
        today = Today(now_s, coldest_c, seen, excess, excess, {}, {}, NEW_DAY)
    most = {name: max(now_k, today.excess_k.get(name, now_k)) for name, now_k in excess.items()}
    resting, banking = _loops_looked(today, derived, snapshot, outputs, now_s)
    if coldest_c is not None and coldest_c < today.coldest_c:
        return Today(
            today.began_s, coldest_c, seen, excess, {**today.excess_k, **most}, resting, banking, today.loops
        )
    return today._replace(excess_k={**today.excess_k, **most}, resting=resting, banking=banking)


def _excess(groups: ProbeGroups, seen: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    """How much warmer each house air probe is than its place can be: the other ceilings, or the roof."""
    ceilings = [seen[name] for name in groups.ceilings if name in seen]
    for name in groups.ceilings:
        if name in seen and len(ceilings) > 1:
            yield name, seen[name] - min(ceilings)
    for name in groups.benches:
        if name in seen and ceilings:
            yield name, seen[name] - max(ceilings)


def _loops_looked(
    today: Today,
    derived: Derived,
    snapshot: Snapshot,
    outputs: Mapping[OutputId, OutputState],
    now_s: float,
) -> tuple[Looks, Looks]:
    """Resting outlets where soil and bench agree, and what banking loops take out of the air."""
    resting, banking = dict(today.resting), dict(today.banking)
    bench, ceiling = snapshot.bench, snapshot.ceiling
    for loop in derived.loops:
        soil, outlet = snapshot.loops[loop.name].soil, snapshot.loops[loop.name].outlet
        output = outputs[loop.fan]
        for_s = now_s - output.since_mono_s
        if not (isinstance(soil, Good) and isinstance(outlet, Good)):
            continue
        if output.on:
            if for_s >= SETTLED_S and isinstance(ceiling, Good) and ceiling.value - soil.value >= BANKING_K:
                share = (ceiling.value - outlet.value) / (ceiling.value - soil.value)
                _add(banking, loop.name, share)
        elif for_s >= AT_REST_S and isinstance(bench, Good) and abs(bench.value - soil.value) <= ALIKE_K:
            _add(resting, loop.name, outlet.value - 0.5 * (soil.value + bench.value))
    return resting, banking


def _add(looks: Looks, name: str, shown: float) -> None:
    count, total = looks.get(name, (0, 0.0))
    looks[name] = count + 1, total + shown


def _concluded(groups: ProbeGroups, today: Today, before: Mapping[str, Record]) -> dict[str, Record]:
    """The records with what a whole day says of each probe that can be compared; others are forgotten."""
    records = {name: record for name, record in before.items() if name in groups.names}
    for name, distance_k in _air_distances(groups, today):
        records[name] = with_day(records.get(name, NO_RECORD), distance_k, OFF_K, fixed=True)
    for name, excess_k in today.excess_k.items():
        sunny = excess_k - today.excess_then_k.get(name, excess_k) >= SUN_K
        record = records.get(name, NO_RECORD)
        days = record.sunny_days + 1.0 if sunny else record.sunny_days - CLOUDY_DAY
        records[name] = record._replace(sunny_days=min(max(days, 0.0), MOST_SUNNY_DAYS))
    for names in (groups.soils, groups.roots):
        values = {name: today.then_c[name] for name in names if name in today.then_c}
        if len(values) > 2:  # noqa: PLR2004 - with two, either may be wrong
            for name, value_c in values.items():
                others_c = median(other for one, other in values.items() if one != name)
                records[name] = with_day(records.get(name, NO_RECORD), value_c - others_c, OFF_K)
    for loop, name in groups.outlets:
        looks, sum_k = today.resting.get(loop, (0, 0.0))
        if looks >= LOOKS_AT_REST:
            records[name] = with_day(records.get(name, NO_RECORD), sum_k / looks, OFF_K, fixed=True)
    return records


def _air_distances(groups: ProbeGroups, today: Today) -> Iterator[tuple[str, float]]:
    """At the coldest moment: how far each house air probe was from the middle one (the second of two)."""
    air = [(name, today.then_c[name]) for name in groups.air if name in today.then_c]
    if len(air) > 2:  # noqa: PLR2004
        middle_c = median(value_c for _, value_c in air)
        for name, value_c in air:
            yield name, value_c - middle_c
    elif len(air) > 1:
        yield air[1][0], air[1][1] - air[0][1]


def _shared(banking: Looks, before: Mapping[str, Record]) -> Mapping[str, Record]:
    """The loops' records with a day's shares of heat, if enough loops banked for long enough."""
    means = {name: total / count for name, (count, total) in banking.items() if count >= LOOKS_WHILE_BANKING}
    if len(means) <= 2:  # noqa: PLR2004 - with two, either may be wrong
        return before
    records = dict(before)
    for name, share in means.items():
        others = median(other for one, other in means.items() if one != name)
        records[name] = with_day(records.get(name, NO_RECORD), share - others, limit=WEAK_SHARE)
    return records


def comparison_findings(
    comparisons: Comparisons,
    unit: TemperatureUnit,
    unlike: AbstractSet[str] = frozenset(),
    named: AbstractSet[str] = frozenset(),
) -> list[Finding]:
    """Probes that several days in a row have shown to read wrong, or to hang in the sun; loops that lack air.

    Args:
        comparisons: so far.
        unit: what people read.
        unlike: probes that cannot be compared because a fan is at fault; loops then cannot be either.
        named: loops that lack air by what their soil alone shows; no other can then be compared with them.
    """
    found: list[Finding] = []
    if not comparisons.suspicious:
        return found
    for name, record in comparisons.records.items():
        if record.sunny_days >= SUNNY_DAYS_TO_REPORT:
            found.append(Finding(FaultCode.PROBE_IN_SUN, name, "by day warmer than its place can be"))
        if record.off_days >= DAYS_TO_REPORT and name not in unlike:
            off_k = record.lately - record.usual
            words = "warm" if off_k > 0.0 else "cold"
            detail = f"about {difference_text(abs(off_k), unit)} too {words}, compared with the others"
            found.append(Finding(FaultCode.PROBE_OFF, name, detail))
    if unlike or named:
        return found
    for name, record in comparisons.shares.items():
        if record.off_days >= DAYS_TO_REPORT:
            way = "nearer to" if record.lately > record.usual else "further from"
            detail = f"its air comes out {way} the soil's temperature than usual, against the other loops"
            found.append(Finding(FaultCode.LOOP_WEAK, name, detail))
    return found + loop_day_findings(comparisons)
