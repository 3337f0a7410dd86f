"""The exact solutions themselves, against published values."""

from __future__ import annotations

import math

import pytest
from ht import S_isothermal_pipe_to_plane

from tests.physics.references import (
    buried_line_rise_k,
    cylinder_at_temperature_flux_share,
    cylinder_source_g,
    half_space_step_share,
    line_source_rise_k,
    shape_factor_buried_cylinder,
)


@pytest.mark.parametrize(("diameter_m", "depth_m", "published"), [(0.1, 0.6, 1.9781), (0.16, 0.8, 2.0991)])
def test_shape_factor_is_the_textbook_s(diameter_m: float, depth_m: float, published: float) -> None:
    """Buried cylinder: agrees with the ``ht`` library, which takes it from Incropera's table."""
    factor = shape_factor_buried_cylinder(diameter_m, depth_m)
    assert factor == pytest.approx(S_isothermal_pipe_to_plane(D=diameter_m, Z=depth_m), rel=1e-9)
    assert factor == pytest.approx(published, abs=5e-5)


@pytest.mark.parametrize("fourier", [0.1, 0.5, 1.0, 2.0, 10.0, 100.0])
def test_cylinder_source_follows_the_published_curve(fourier: float) -> None:
    """Bernier 2001 (ASHRAE Trans. 107(1):605) fits G by a cubic in log Fo [memory]; within 2.5 %."""
    log_fo = math.log10(fourier)
    fitted = 10.0 ** (-0.89129 + 0.36081 * log_fo - 0.05508 * log_fo**2 + 0.00359617 * log_fo**3)
    assert cylinder_source_g(fourier) == pytest.approx(fitted, rel=0.025)


def test_a_thin_cylinder_warms_the_far_ground_like_a_line() -> None:
    """Ingersoll, Zobel & Ingersoll 1954: line and cylinder agree within 2 % above Fo of some tens."""
    radius_m, diffusivity_m2_s = 0.05, 5e-7
    for fourier in (50.0, 100.0, 1000.0):
        time_s = fourier * radius_m**2 / diffusivity_m2_s
        line_k = line_source_rise_k(radius_m, time_s, 1.0, 1.0, diffusivity_m2_s)
        assert cylinder_source_g(fourier) == pytest.approx(line_k, rel=0.02)


@pytest.mark.parametrize(
    ("fourier", "published"), [(0.1, 2.249), (1.0, 0.984), (10.0, 0.534), (100.0, 0.346)]
)
def test_cylinder_held_at_a_temperature_gives_the_tabled_flux(fourier: float, published: float) -> None:
    """Heat flux times radius over k dT (Jaeger & Clarke 1942, Proc. R. Soc. Edinb. A61:229) [memory]."""
    assert cylinder_at_temperature_flux_share(fourier) / (2.0 * math.pi) == pytest.approx(
        published, abs=1.5e-3
    )


def test_a_buried_line_settles_at_the_shape_factor() -> None:
    """After ages the mirrored line source stands at the temperature of the steady conduction shape factor."""
    diameter_m, depth_m, heat_w_m, conductivity = 0.1, 0.8, 20.0, 1.2
    rise_k = buried_line_rise_k(diameter_m / 2, depth_m, depth_m, 1e12, heat_w_m, conductivity, 5e-7)
    assert heat_w_m / (conductivity * rise_k) == pytest.approx(
        shape_factor_buried_cylinder(diameter_m, depth_m), rel=0.005
    )


def test_half_of_a_surface_step_arrives_where_erfc_is_a_half() -> None:
    """erfc(0.4769) = 0.5 (Abramowitz & Stegun, table 7.1), so half the step is at z = 0.9539 sqrt(a t)."""
    assert half_space_step_share(0.953873 * math.sqrt(5e-7 * 86_400.0), 86_400.0, 5e-7) == pytest.approx(
        0.5, abs=1e-5
    )
