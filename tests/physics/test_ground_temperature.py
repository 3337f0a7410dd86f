"""Undisturbed ground temperature against published exercises."""

from __future__ import annotations

import math

import pytest

from controller.physics import ground_temperature as ground

DAY_S = 86_400.0


@pytest.mark.parametrize(
    ("diffusivity", "year_s", "depth_m"),
    [
        (1e-6, 365.2422 * DAY_S, 3.17),  # groundTemp vignette, tropical year
        (2e-7, 365.0 * DAY_S, 1.417),
        (0.05 / DAY_S, 365.0 * DAY_S, 2.41),  # Oklahoma State soil temperature exercises, dry
        (0.08 / DAY_S, 365.0 * DAY_S, 3.05),  # the same, wetted
        (0.034 / DAY_S, DAY_S, 0.104),  # loam 5-15 cm, Rev. Bras. Ciênc. Solo, measured diffusivity
        (0.027 / DAY_S, DAY_S, 0.093),  # the same, 15-30 cm
        (0.0151685 / DAY_S, 365.0 * DAY_S, 1.33),  # clay, Arya 2001
    ],
)
def test_damping_depth(diffusivity: float, year_s: float, depth_m: float) -> None:
    """Daily and annual damping depths of the cited sources, to their last digit."""
    assert ground.damping_depth_m(diffusivity, year_s) == pytest.approx(depth_m, abs=0.006)


def test_year_and_day_differ_by_the_root_of_365() -> None:
    """d_year / d_day = 19.105 in any soil (Hillel, Environmental Soil Physics)."""
    ratio = ground.damping_depth_m(5e-7, ground.YEAR_S) / ground.damping_depth_m(5e-7, DAY_S)
    assert ratio == pytest.approx(19.105, abs=5e-4)


@pytest.mark.parametrize(
    ("depth_m", "amplitude_k", "coldest_day"), [(1.0, 9.906, 34.1), (2.0, 6.542, 58.2), (5.0, 1.884, 130.5)]
)
def test_oklahoma_exercise(depth_m: float, amplitude_k: float, coldest_day: float) -> None:
    """Surface 0 to 30 °C, coldest on day 10, 0.05 m²/day (Oklahoma State soil temperature exercises)."""
    days = [day * 0.1 for day in range(3650)]
    course = [ground.ground_temperature_c(depth_m, day, 15.0, 15.0, 10.0, 0.05 / DAY_S) for day in days]
    assert (max(course) - min(course)) / 2.0 == pytest.approx(amplitude_k, abs=0.01)
    assert days[course.index(min(course))] == pytest.approx(coldest_day, abs=0.11)
    assert max(course) == pytest.approx(15.0 + amplitude_k, abs=0.01)


@pytest.mark.parametrize(
    ("depth_m", "course_c"),
    [
        (0.6, (5.68, 12.35, 23.10, 16.41)),
        (0.8, (6.54, 11.87, 22.24, 16.90)),
        (1.2, (8.14, 11.20, 20.62, 17.58)),
        (3.0, (13.17, 11.27, 15.59, 17.56)),
    ],
)
def test_temperate_site_through_the_year(depth_m: float, course_c: tuple[float, ...]) -> None:
    """Kusuda & Achenbach 1965 with the sine that fits TMY3 Greensboro best, and 0.05184 m²/day."""
    for day, expected_c in zip((15.0, 105.0, 196.0, 288.0), course_c, strict=True):
        here_c = ground.ground_temperature_c(depth_m, day, 14.42, 11.41, 13.1, 0.05184 / DAY_S)
        assert here_c == pytest.approx(expected_c, abs=0.01)


def test_swing_of_five_per_cent() -> None:
    """2e-7 m²/s: 5 % of the annual swing is left at 4.245 m (textbook question, ln 20 damping depths)."""
    swings = [abs(ground.swing_k(4.245, hour * 3600.0, 1.0, ground.YEAR_S, 2e-7)) for hour in range(8760)]
    assert max(swings) == pytest.approx(0.05, rel=2e-3)


def test_the_swing_solves_the_heat_equation() -> None:
    """dT/dt = a d²T/dz² (Fourier), by differences, at a depth and time of no special standing."""
    depth_m, time_s, diffusivity = 0.7, 9e6, 6e-7

    def swing(at_m: float, at_s: float) -> float:
        return ground.swing_k(at_m, at_s, 10.0, ground.YEAR_S, diffusivity)

    per_second = (swing(depth_m, time_s + 600.0) - swing(depth_m, time_s - 600.0)) / 1200.0
    bend = (
        swing(depth_m + 0.01, time_s) - 2.0 * swing(depth_m, time_s) + swing(depth_m - 0.01, time_s)
    ) / 1e-4
    assert per_second == pytest.approx(diffusivity * bend, rel=1e-4)
    assert math.isclose(swing(0.0, 0.0), -10.0)
