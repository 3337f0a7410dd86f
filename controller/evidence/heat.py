"""Dry heat that each loop moves, step by step, by its outlet, cross-checked by the soil.

A loop is a heat exchanger against the soil: its outlet lies on the way from ceiling (fan heat added) to
soil, by a share that hardly changes. That share and the offset of the probes against each other are learned
from the steps in which the fan ran throughout. An outlet whose share or offset cannot be true is not
believed; then the soil and the share of the other loops decide.

What moisture brings besides is not measured without a humidity probe, and there is none among the settings.
It is bounded: the air holds no more of it than saturated air at roof or bench, whichever is colder, and air
that has shed water leaves saturated at the outlet.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from controller.physics import moist_air
from controller.settings.schema.derived import AIR_C

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from controller.evidence.series import Series
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import DerivedLoop

# What the soil probe, midway between two tubes, sees of the share that the tube wall gives. [practice]
WALL_SHARE = 0.8
# Steps a loop must have run before its share is learned; a day.
LEAST_STEPS = 144
# A share this far from that of the others, or an offset this large, cannot be true: blocked tubes change the
# share by less, and two sound probes lie at most 1 K apart (DS18B20 data sheet: 0.5 K each). [practice]
LARGEST_SHARE_ERROR = 0.35
LEAST_SPREAD_K = 0.5  # standard deviation of ceiling less soil from which an offset can be learned [practice]
LARGEST_OFFSET_K = 1.5
LATENT_J_KG = 2.454e6  # heat of evaporation at 20 °C (IAPWS-95)


@dataclass(frozen=True, slots=True)
class LoopHeat:
    """What a loop moves.

    Attributes:
        name: the loop.
        heat_w: mean dry heat into the soil over each step, fan heat included; 0 where it stood or where too
            little is known.
        moisture_w: the most that condensing moisture may add to it, mean over each step.
        known: share of the running time for which it is known, 0 to 1.
        air_w_per_k: heat the running fan's air carries per kelvin.
        power_w: electricity of the running fan.
        share: how far its outlet comes from ceiling to soil.
        doubt: why its outlet is not believed, empty if it is.
    """

    name: str
    heat_w: list[float]
    moisture_w: list[float]
    known: float
    air_w_per_k: float
    power_w: float
    share: float
    doubt: str


class _Fit(NamedTuple):
    share: float
    offset_k: float
    steps: int


def heat_of(series: Series, settings: Settings) -> dict[str, LoopHeat]:
    """The dry heat of each loop.

    Args:
        series: the log.
        settings: loops and probes.
    """
    ceiling = series.mean(settings.derived.groups.ceilings)
    bench = series.mean(settings.derived.groups.benches or settings.derived.groups.ceilings)
    soils = _soils(series, settings)
    outlets = dict(settings.derived.groups.outlets)
    fits: dict[str, _Fit] = {}
    for loop in settings.derived.loops:
        if loop.name in outlets:
            outlet = series.temps[outlets[loop.name]]
            fits[loop.name] = _fit(_running(series, loop, ceiling, soils[loop.name], outlet))
    reference = _reference(settings, fits)
    pressure_pa = moist_air.standard_pressure_pa(settings.site.altitude_m)
    found = {}
    for loop in settings.derived.loops:
        doubt = _doubt(fits.get(loop.name), reference)
        believed = None if doubt else series.temps[outlets[loop.name]]
        share = reference if doubt else fits[loop.name].share
        heat_w, known = _heat(series, loop, (ceiling, soils[loop.name], believed), share)
        moisture_w = _moisture(loop, (ceiling, bench), heat_w, series.fans[loop.name], pressure_pa)
        found[loop.name] = LoopHeat(
            loop.name, heat_w, moisture_w, known, loop.air_w_per_k, loop.power_w, share, doubt
        )
    return found


def doubts_of(heats: Mapping[str, LoopHeat]) -> dict[str, str]:
    """Sentences on outlets that are not believed, by loop."""
    return {
        name: f"The heat of loop {name} is reckoned from the soil, because {loop.doubt}."
        for name, loop in heats.items()
        if loop.doubt
    }


def _soils(series: Series, settings: Settings) -> Mapping[str, Sequence[float | None]]:
    """Soil at the tubes of each loop; of a loop without a probe that of the others."""
    by_loop = {p.loop: name for name, p in settings.probes.items() if p.place == "soil" and p.loop}
    mean = series.mean(settings.derived.groups.soils)
    return {name: series.temps[by_loop[name]] if name in by_loop else mean for name in settings.loops}


def _running(
    series: Series,
    loop: DerivedLoop,
    ceiling: Sequence[float | None],
    soil: Sequence[float | None],
    outlet: Sequence[float | None],
) -> Iterator[tuple[float, float]]:
    """Ceiling less soil and ceiling less outlet, fan heat added, of steps in a fan's run but its first."""
    fan = series.fans[loop.name]
    warmer_k = loop.power_w / loop.air_w_per_k
    for step in range(1, len(series)):
        roof_c, soil_c, outlet_c = ceiling[step], soil[step], outlet[step]
        if (
            fan[step - 1] > 0.99  # noqa: PLR2004 - all the time, but for rounding
            and fan[step] > 0.99  # noqa: PLR2004
            and not series.hourly[step]
            and roof_c is not None
            and soil_c is not None
            and outlet_c is not None
        ):
            yield roof_c + warmer_k - soil_c, roof_c + warmer_k - outlet_c


def _fit(steps: Iterator[tuple[float, float]]) -> _Fit:
    """The straight line through the steps (least squares); through 0 where they all lie together."""
    count, sum_x, sum_y, sum_xx, sum_xy = 0, 0.0, 0.0, 0.0, 0.0
    for x, y in steps:
        count += 1
        sum_x += x
        sum_y += y
        sum_xx += x * x
        sum_xy += x * y
    if count < LEAST_STEPS or sum_x == 0.0:
        return _Fit(0.0, 0.0, 0)
    spread = count * sum_xx - sum_x * sum_x
    if spread < (LEAST_SPREAD_K * count) ** 2:
        return _Fit(sum_y / sum_x, 0.0, count)
    share = (count * sum_xy - sum_x * sum_y) / spread
    return _Fit(share, (sum_y - share * sum_x) / count, count)


def _reference(settings: Settings, fits: Mapping[str, _Fit]) -> float:
    """The share to expect: the median of design and loops, so that no bad outlet decides."""
    designed = [WALL_SHARE * loop.expected_w_per_k / loop.air_w_per_k for loop in settings.derived.loops]
    learned = [fit.share for fit in fits.values() if fit.steps >= LEAST_STEPS]
    return median([*learned, designed[0]]) if learned else designed[0]


def _doubt(fit: _Fit | None, reference: float) -> str:
    """Why an outlet is not believed, empty if it is."""
    if fit is None:
        return "it has no outlet probe"
    if fit.steps < LEAST_STEPS:
        return "it has run too little to judge its outlet probe"
    if abs(fit.offset_k) > LARGEST_OFFSET_K:
        return f"its outlet probe is {abs(fit.offset_k):.1f} K off against ceiling and soil"
    if abs(fit.share / reference - 1.0) > LARGEST_SHARE_ERROR:
        percent, usual = 100.0 * fit.share, 100.0 * reference
        return (
            f"its outlet comes {percent:.0f} % of the way to the soil, where {usual:.0f} % is to be expected"
        )
    return ""


def _heat(
    series: Series,
    loop: DerivedLoop,
    probes: tuple[Sequence[float | None], Sequence[float | None], Sequence[float | None] | None],
    share: float,
) -> tuple[list[float], float]:
    """Heat into the soil step by step, and the share of the running time for which it is known."""
    ceiling, soil, outlet = probes
    fan, heat_w = series.fans[loop.name], [0.0] * len(series)
    warmer_k = loop.power_w / loop.air_w_per_k
    ran = known = 0.0
    for step, on in enumerate(fan):
        if on <= 0.0:
            continue
        ran += on
        roof_c, soil_c = ceiling[step], soil[step]
        outlet_c = None if outlet is None or series.hourly[step] or not _settled(fan, step) else outlet[step]
        if roof_c is None or (outlet_c is None and soil_c is None):
            continue
        known += on
        if outlet_c is not None:
            fall_k = roof_c + warmer_k - outlet_c
        else:
            fall_k = share * (roof_c + warmer_k - (soil_c or 0.0))
        heat_w[step] = on * loop.air_w_per_k * _density(roof_c) * fall_k
    return heat_w, known / ran if ran else 1.0


def _density(roof_c: float) -> float:
    """How much denser the air at the intake is than that of the settings' figures."""
    return (AIR_C + moist_air.ZERO_CELSIUS_K) / (roof_c + moist_air.ZERO_CELSIUS_K)


def _moisture(
    loop: DerivedLoop,
    air: tuple[Sequence[float | None], Sequence[float | None]],
    heat_w: Sequence[float],
    fan: Sequence[float],
    pressure_pa: float,
) -> list[float]:
    """Heat of all that can condense step by step: from saturated in the house to saturated at the outlet."""
    ceiling, bench = air
    found = [0.0] * len(heat_w)
    for step, watt in enumerate(heat_w):
        roof_c, bench_c = ceiling[step], bench[step]
        if watt > 0.0 and roof_c is not None:
            air_w_per_k = loop.air_w_per_k * _density(roof_c)
            kg_s = air_w_per_k / moist_air.CP_DRY_AIR_J_KGK
            outlet_c = roof_c + loop.power_w / loop.air_w_per_k - watt / (fan[step] * air_w_per_k)
            colder_c = roof_c if bench_c is None else min(roof_c, bench_c)
            fallen = moist_air.saturation_humidity_ratio(colder_c, pressure_pa)
            fallen -= moist_air.saturation_humidity_ratio(outlet_c, pressure_pa)
            found[step] = fan[step] * kg_s * LATENT_J_KG * max(fallen, 0.0)
    return found


def _settled(fan: Sequence[float], step: int) -> bool:
    """Whether the outlet showed the moving air throughout the step."""
    return fan[step] > 0.99 and (step == 0 or fan[step - 1] > 0.0)  # noqa: PLR2004 - but for rounding
