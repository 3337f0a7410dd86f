"""Air in buried tubes: friction, heat and vapour transfer, effectiveness, pressure drop.

Friction factors are Darcy's. ``corrugated`` is true for single-wall corrugated drain tube, false for a smooth
wall. The wall temperature is taken as even along the stretch that is asked about. Air properties are those of
dry air at ``air_c``; saturated air at 35 °C is 2 % less viscous and carries 5 % more heat per m³ (CoolProp).

Uncertainty: smooth tube +-10 % in heat transfer (Gnielinski's own figure). Corrugated tube +-30 % in pressure
drop and in heat transfer: no published figure was measured on the tube at hand, and correlations for rough
tubes lie that far apart.
"""

from __future__ import annotations

import math

from controller.physics.moist_air import (
    CP_DRY_AIR_J_KGK,
    conductivity_w_mk,
    density_kg_m3,
    prandtl,
    viscosity_pa_s,
)

LAMINAR_NUSSELT = 3.66  # even wall temperature, developed flow (Graetz; any heat transfer text)
LAMINAR_LIMIT_RE = 2300.0
TURBULENT_LIMIT_RE = 4000.0  # blend between the two: Gnielinski 2013, Int. J. Heat Mass Transfer 63:134
LEWIS_NUMBER = 0.865  # water vapour in air near 20 °C (ASHRAE Fundamentals ch. 6)
# Transfer units of vapour over those of heat (Chilton & Colburn 1934, Ind. Eng. Chem. 26:1183).
VAPOUR_UNITS = LEWIS_NUMBER ** (-2.0 / 3.0)
ENTRY_AND_EXIT_LOSS = 1.5  # dynamic heads, sharp-edged, 0.5 + 1.0 (Idelchik, Hydraulic Resistance)
GRAVITY_M_S2 = 9.80665


def velocity_m_s(tube_flow_m3_s: float, diameter_m: float) -> float:
    """Mean velocity (m/s) in one tube."""
    return tube_flow_m3_s / (0.25 * math.pi * diameter_m * diameter_m)


def reynolds(speed_m_s: float, diameter_m: float, air_c: float, pressure_pa: float) -> float:
    """Reynolds number of air in a tube."""
    return density_kg_m3(air_c, 0.0, pressure_pa) * speed_m_s * diameter_m / viscosity_pa_s(air_c)


def blend(re: float, laminar: float, turbulent: float) -> float:
    """Go straight from the laminar to the turbulent value between Re 2300 and 4000 (Gnielinski 2013)."""
    if re <= LAMINAR_LIMIT_RE:
        return laminar
    if re >= TURBULENT_LIMIT_RE:
        return turbulent
    share = (re - LAMINAR_LIMIT_RE) / (TURBULENT_LIMIT_RE - LAMINAR_LIMIT_RE)
    return (1.0 - share) * laminar + share * turbulent


def friction_petukhov(re: float) -> float:
    """Friction factor of a smooth tube, Re 3000 to 5e6 (Petukhov 1970, Adv. Heat Transfer 6:503)."""
    root = 0.79 * math.log(re) - 1.64
    return 1.0 / (root * root)


def friction_haaland(re: float, relative_roughness: float) -> float:
    """Friction factor of a rough tube, Re above 4000 (Haaland 1983, J. Fluids Eng. 105:89)."""
    root = -1.8 * math.log10(float((relative_roughness / 3.7) ** 1.11) + 6.9 / re)
    return 1.0 / (root * root)


def manning_corrugated(diameter_m: float) -> float:
    """Manning's n of single-wall corrugated PE drain tube, 0.08 to 0.3 m inside diameter.

    Pipe makers' table: 0.014 for 100 and 150 mm, 0.015 for 200, 0.017 for 250, 0.018 for 300; straight
    between, and 80 mm taken like 100.
    """
    if diameter_m <= 0.15:  # noqa: PLR2004
        return 0.014
    if diameter_m <= 0.20:  # noqa: PLR2004
        return 0.014 + (diameter_m - 0.15) * 0.020
    if diameter_m <= 0.25:  # noqa: PLR2004
        return 0.015 + (diameter_m - 0.20) * 0.040
    return min(0.017 + (diameter_m - 0.25) * 0.020, 0.018)


def corrugated_rough_friction(diameter_m: float) -> float:
    """Friction factor of corrugated tube at high Re: 8 g n² / (D/4)^(1/3), Manning against Darcy-Weisbach."""
    manning = manning_corrugated(diameter_m)
    return 8.0 * GRAVITY_M_S2 * manning * manning / float((0.25 * diameter_m) ** (1.0 / 3.0))


def corrugated_relative_roughness(diameter_m: float) -> float:
    """Sand roughness over diameter that gives the corrugated friction at high Re (Haaland, inverted)."""
    root = 1.0 / math.sqrt(corrugated_rough_friction(diameter_m))
    return 3.7 * float(10.0 ** (-root / (1.8 * 1.11)))


def friction(re: float, diameter_m: float, corrugated: bool) -> float:
    """Friction factor at Re above 1, without a jump: 64/Re, then Petukhov or (corrugated) Haaland."""
    turbulent_re = max(re, TURBULENT_LIMIT_RE)
    if corrugated:
        turbulent = friction_haaland(turbulent_re, corrugated_relative_roughness(diameter_m))
    else:
        turbulent = friction_petukhov(turbulent_re)
    return blend(re, 64.0 / min(max(re, 1.0), LAMINAR_LIMIT_RE), turbulent)


def nusselt_gnielinski(re: float, pr: float, friction_factor: float) -> float:
    """Nusselt number, Re 3000 to 5e6, Pr 0.5 to 2000 (Gnielinski 1976, Int. Chem. Eng. 16:359)."""
    eighth = friction_factor / 8.0
    return eighth * (re - 1000.0) * pr / (1.0 + 12.7 * math.sqrt(eighth) * (float(pr ** (2.0 / 3.0)) - 1.0))


def roughness_gain(rough_friction: float, smooth_friction: float, pr: float) -> float:
    """How much more heat a rough wall passes than a smooth one (1 to about 2.4 for air).

    Heat transfer follows friction less than the plain analogy between the two would have it, and not at all
    beyond four times the smooth friction: Nu/Nu_smooth = (f/f_smooth)^n, n = 0.68 Pr^0.215 (Norris 1970, in
    Augmentation of Convective Heat and Mass Transfer, ASME) [memory]
    """
    ratio = min(max(rough_friction / smooth_friction, 1.0), 4.0)
    return float(ratio ** (0.68 * float(pr**0.215)))


def nusselt(re: float, pr: float, diameter_m: float, corrugated: bool) -> float:
    """Nusselt number at any Re, without a jump: 3.66, then Gnielinski, raised for a corrugated wall."""
    turbulent_re = max(re, TURBULENT_LIMIT_RE)
    smooth = friction_petukhov(turbulent_re)
    turbulent = nusselt_gnielinski(turbulent_re, pr, smooth)
    if corrugated:
        turbulent *= roughness_gain(friction(turbulent_re, diameter_m, corrugated), smooth, pr)
    return blend(re, LAMINAR_NUSSELT, turbulent)


def heat_transfer_w_m2k(
    tube_flow_m3_s: float, diameter_m: float, corrugated: bool, air_c: float, pressure_pa: float
) -> float:
    """Heat transfer coefficient (W/m²K of inside wall area pi*D*L) between air and tube wall."""
    re = reynolds(velocity_m_s(tube_flow_m3_s, diameter_m), diameter_m, air_c, pressure_pa)
    return nusselt(re, prandtl(air_c), diameter_m, corrugated) * conductivity_w_mk(air_c) / diameter_m


def transfer_units(
    tube_flow_m3_s: float,
    length_m: float,
    diameter_m: float,
    corrugated: bool,
    air_c: float,
    pressure_pa: float,
) -> float:
    """Number of transfer units h*A/(m*cp) of a stretch of one tube; flow above zero."""
    heat_transfer = heat_transfer_w_m2k(tube_flow_m3_s, diameter_m, corrugated, air_c, pressure_pa)
    capacity_w_k = density_kg_m3(air_c, 0.0, pressure_pa) * tube_flow_m3_s * CP_DRY_AIR_J_KGK
    return heat_transfer * math.pi * diameter_m * length_m / capacity_w_k


def effectiveness(units: float) -> float:
    """Share (0 to 1) of the air-to-wall difference that the air gives up along the stretch: 1 - exp(-NTU)."""
    return -math.expm1(-units)


def vapour_effectiveness(units: float) -> float:
    """The same share for the humidity ratio against that of saturated air at a wet wall."""
    return -math.expm1(-units * VAPOUR_UNITS)


def loop_effectiveness(
    flow_m3_s: float,
    tubes: int,
    length_m: float,
    diameter_m: float,
    corrugated: bool,
    air_c: float,
    pressure_pa: float,
) -> float:
    """Effectiveness (0 to 1) of a loop of equal parallel tubes; 0 without flow.

    Sensible heat given up = effectiveness * density * flow * heat capacity * (air - wall).
    """
    if flow_m3_s <= 0.0 or tubes < 1:
        return 0.0
    return effectiveness(
        transfer_units(flow_m3_s / tubes, length_m, diameter_m, corrugated, air_c, pressure_pa)
    )


def friction_pressure_drop_pa(
    tube_flow_m3_s: float,
    length_m: float,
    diameter_m: float,
    corrugated: bool,
    air_c: float,
    pressure_pa: float,
) -> float:
    """Wall friction pressure drop (Pa) along one tube (Darcy-Weisbach)."""
    velocity = velocity_m_s(tube_flow_m3_s, diameter_m)
    re = reynolds(velocity, diameter_m, air_c, pressure_pa)
    dynamic_pa = 0.5 * density_kg_m3(air_c, 0.0, pressure_pa) * velocity * velocity
    return friction(re, diameter_m, corrugated) * length_m / diameter_m * dynamic_pa


def loop_pressure_drop_pa(
    flow_m3_s: float,
    tubes: int,
    length_m: float,
    diameter_m: float,
    corrugated: bool,
    air_c: float,
    pressure_pa: float,
) -> float:
    """Pressure drop (Pa) over equal parallel tubes, entry and exit included, riser and plenum not."""
    if flow_m3_s <= 0.0 or tubes < 1:
        return 0.0
    tube_flow_m3_s = flow_m3_s / tubes
    velocity = velocity_m_s(tube_flow_m3_s, diameter_m)
    dynamic_pa = 0.5 * density_kg_m3(air_c, 0.0, pressure_pa) * velocity * velocity
    return ENTRY_AND_EXIT_LOSS * dynamic_pa + friction_pressure_drop_pa(
        tube_flow_m3_s, length_m, diameter_m, corrugated, air_c, pressure_pa
    )
