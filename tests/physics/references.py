"""Exact solutions that numerical ground models are held against. None of them is used by the program."""

from __future__ import annotations

import math
from itertools import pairwise

from scipy.integrate import quad
from scipy.special import erfc, exp1, j0, j1, y0, y1

from controller.physics import moist_air


def shape_factor_buried_cylinder(diameter_m: float, axis_depth_m: float) -> float:
    """Steady heat per metre, per W/mK and per kelvin, between a cylinder and an even surface.

    2 pi / acosh(2 z / D): shape factors of Incropera & DeWitt, Fundamentals of Heat and Mass Transfer.
    """
    return 2.0 * math.pi / math.acosh(2.0 * axis_depth_m / diameter_m)


def half_space_step_share(depth_m: float, time_s: float, diffusivity_m2_s: float) -> float:
    """Share (0 to 1) of a surface step at a depth: erfc(z / (2 sqrt(a t))), Carslaw & Jaeger §2.4."""
    return float(erfc(depth_m / (2.0 * math.sqrt(diffusivity_m2_s * time_s))))


def line_source_rise_k(
    radius_m: float, time_s: float, heat_w_m: float, conductivity_w_mk: float, diffusivity_m2_s: float
) -> float:
    """Warming at a radius by a line of steady heat: q E1(r² / 4 a t) / (4 pi k), Carslaw & Jaeger §10.4."""
    return (
        heat_w_m
        / (4.0 * math.pi * conductivity_w_mk)
        * float(exp1(radius_m**2 / (4.0 * diffusivity_m2_s * time_s)))
    )


def buried_line_rise_k(
    across_m: float,
    depth_m: float,
    line_depth_m: float,
    time_s: float,
    heat_w_m: float,
    conductivity_w_mk: float,
    diffusivity_m2_s: float,
) -> float:
    """The same below a surface held at its temperature: the line and its negative mirror image."""
    args = (time_s, heat_w_m, conductivity_w_mk, diffusivity_m2_s)
    below = line_source_rise_k(math.hypot(across_m, depth_m - line_depth_m), *args)
    return below - line_source_rise_k(math.hypot(across_m, depth_m + line_depth_m), *args)


def cylinder_source_g(fourier: float, radius_ratio: float = 1.0) -> float:
    """Cylinder of steady heat: warming = q G / k, Fo = a t / R², p = r / R. Carslaw & Jaeger §13.5 eq. 17."""

    def integrand(beta: float) -> float:
        bessel = j0(radius_ratio * beta) * y1(beta) - j1(beta) * y0(radius_ratio * beta)
        return float(
            math.expm1(-beta * beta * fourier) * bessel / (beta * beta * (j1(beta) ** 2 + y1(beta) ** 2))
        )

    pieces = (0.0, 1e-3, 1e-1, 1.0, 10.0, 100.0, 1000.0)
    total = sum(quad(integrand, low, high, limit=400)[0] for low, high in pairwise(pieces))
    return total / math.pi**2


def cylinder_at_temperature_flux_share(fourier: float) -> float:
    """Heat per metre into the ground from a cylinder held at a step temperature: q = k dT F(Fo).

    Carslaw & Jaeger §13.5 eq. 7: F = (8/pi) integral of exp(-Fo u²) / (u (J0² + Y0²)) du.
    """

    def integrand(log_u: float) -> float:
        u = math.exp(log_u)
        return math.exp(-fourier * u * u) / float(j0(u) ** 2 + y0(u) ** 2)

    top = math.log(math.sqrt(50.0 / fourier))
    tail = math.pi / 2.0 * (math.pi / 2.0 - math.atan(2.0 / math.pi * (12.0 + 0.1159)))  # Y0 near 0 is a log
    body, _ = quad(integrand, -12.0, top, limit=400)
    return 8.0 / math.pi * (body + tail)


def dew_point_c(ratio: float, pressure_pa: float) -> float:
    """Temperature (°C) at which air of this humidity ratio is saturated, -60 to 75 °C, by halving."""
    low_c = -60.0
    high_c = 75.0
    while high_c - low_c > 1e-6:
        middle_c = 0.5 * (low_c + high_c)
        if moist_air.saturation_humidity_ratio(middle_c, pressure_pa) < ratio:
            low_c = middle_c
        else:
            high_c = middle_c
    return 0.5 * (low_c + high_c)
