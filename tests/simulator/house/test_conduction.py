"""Conduction in time: against analytic solutions and against a general solver on the same equations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.special import j1, y1

from controller.physics.ground_temperature import YEAR_S, damping_depth_m, ground_temperature_c
from controller.simulator.house.state import SEGMENTS
from tests.simulator.house.network import heated_by_wall
from tests.simulator.house.rig import Rig, conductance_mean, soil_of

LOAM = soil_of("loam", 0.75)
DIFFUSIVITY_M2_S = LOAM.conductivity_w_mk / LOAM.capacity_j_m3k


def cylinder_response(fourier: float) -> float:
    """Warming of a cylinder's wall in endless soil under steady heat, in units of heat / (2 pi conductivity).

    Carslaw & Jaeger 1959, §13.5 eq. 17 at the wall.
    """

    def integrand(log_u: float) -> float:
        u = math.exp(log_u)
        return -math.expm1(-u * u * fourier) / (u * u * (j1(u) ** 2 + y1(u) ** 2))

    low = quad(integrand, -14.0, 0.0, limit=400)[0]
    high = quad(integrand, 0.0, 7.0, limit=400)[0]
    return 4.0 / math.pi**2 * float(low + high)


@pytest.mark.parametrize(("texture", "wetness"), [("loam", 0.75), ("sand", 0.8), ("clay", 0.5)])
@pytest.mark.parametrize("diameter_m", [0.05, 0.08, 0.125, 0.2, 0.3])
def test_step_response_of_a_cylinder(diameter_m: float, texture: str, wetness: float) -> None:
    """From one hour to five days the wall warms as the exact solution says, within 2 %.

    On the grid that rehearsals run on. Half an hour after the start the wall is up to 5 % too warm, because
    the half cell between it and the first cell holds no heat.
    """
    soil = soil_of(texture, wetness)
    diffusivity_m2_s = soil.conductivity_w_mk / soil.capacity_j_m3k
    rig = Rig(soil, 6.0, diameter_m, 8.0, 12.0, surface_fixed=False)
    passed_s = 0.0
    for hours in (1, 2, 5, 24, 120):
        while passed_s < 3600.0 * hours:
            rig.heat(20.0)
            passed_s += rig.step_s
        fourier = diffusivity_m2_s * passed_s / (0.5 * diameter_m) ** 2
        exact_k = 20.0 / (2.0 * math.pi * soil.conductivity_w_mk) * cylinder_response(fourier)
        assert rig.wall_mean_c(20.0) == pytest.approx(exact_k, rel=0.02), hours


@pytest.mark.rehearsal
def test_the_year_travels_down_as_kusuda_says() -> None:
    """A sine at the surface arrives with the exact swing within 1 % and the exact damping depth within 1 %.

    Two years on the grid that rehearsals run on, with tubes so thin and far apart that they matter little.
    Nowhere is the temperature off by more than 0.1 K of 11.4 K.
    """
    year = (14.42, 11.41, 13.1)

    def undisturbed(depth_m: np.ndarray, day: float = 0.0) -> np.ndarray:
        values = [ground_temperature_c(float(z), day, *year, DIFFUSIVITY_M2_S) for z in np.ravel(depth_m)]
        return np.array(values).reshape(np.shape(depth_m))

    rig = Rig(LOAM, 0.8, 0.08, 8.0, 2.0, ground_c=undisturbed, step_s=3600.0, below_m=8.0)
    rows = rig.ground.row_m[0]
    depths_m = np.array([0.3, 0.6, 0.8, 1.2, 2.0])
    courses = []
    for day in range(2 * 365):
        rig.temp_c[0, -1] = undisturbed(rows[-1:], day + 0.5)[0]
        for hour in range(24):
            rig.surface_c = float(undisturbed(np.zeros(1), day + (hour + 0.5) / 24.0)[0])
            rig.spread()
        if day >= 365:
            courses.append(np.interp(depths_m, rows[1:-1], rig.temp_c[0, 1:-1, -2, 0]))
    days = np.arange(365, 2 * 365) + 1.0
    exact = np.array([undisturbed(depths_m, day) for day in days])
    assert np.abs(courses - exact).max() < 0.1
    turn = np.exp(2j * np.pi * days / 365.0)
    swings_k = np.abs(2.0 * turn @ np.array(courses) / days.size)
    assert swings_k == pytest.approx(np.abs(2.0 * turn @ exact / days.size), rel=0.01)
    depth_m = (depths_m[-1] - depths_m[0]) / math.log(swings_k[0] / swings_k[-1])
    assert depth_m == pytest.approx(damping_depth_m(DIFFUSIVITY_M2_S, YEAR_S), rel=0.01)


def test_no_heat_is_lost_or_made() -> None:
    """What the wall gave and the deep boundary took is, with the surface shut, what the soil holds."""
    rig = Rig(LOAM, 0.8, 0.08, 9.0, 0.21, surface_fixed=False)
    for _ in range(2000):
        rig.heat(25.0)
    stored_j = float(np.sum(rig.ground.joule_per_k[0, :, :, None] * rig.temp_c[0]))
    given_j = 0.5 * 25.0 * 2000 * 60.0 * SEGMENTS
    assert stored_j == pytest.approx(given_j + float(rig.deep_j.sum()), rel=1e-12)


def test_the_wall_evens_out_the_soil_around_it() -> None:
    """Without heat from the air, the warmer side of the tube warms the colder one and nothing is lost."""
    rig = Rig(LOAM, 0.8, 0.08, 9.0, 0.21, surface_fixed=False)
    first = (rig.ground.faces.row[0], rig.ground.faces.column[0])
    last = (rig.ground.faces.row[-1], rig.ground.faces.column[-1])
    rig.temp_c[0][first] = 10.0
    before_j = float(np.sum(rig.ground.joule_per_k[0, :, :, None] * rig.temp_c[0]))
    rig.spread()
    after_j = float(np.sum(rig.ground.joule_per_k[0, :, :, None] * rig.temp_c[0]))
    assert np.all(rig.temp_c[0][last] > 0.0)
    assert after_j == pytest.approx(before_j, rel=1e-12)


def test_agrees_with_a_general_solver_on_the_same_equations() -> None:
    """A day of steady heat, stepped by us and by scipy's BDF at 1e-8: everywhere within 0.02 K of 12 K."""
    rig = Rig(LOAM, 0.8, 0.08, 9.0, 0.21, surface_fixed=False)
    rates, warming, places = heated_by_wall(rig.ground, 25.0)
    solved = solve_ivp(
        lambda _, temp: rates @ temp + warming,
        (0.0, 86_400.0),
        np.zeros(len(places)),
        method="BDF",
        jac=rates,
        rtol=1e-8,
        atol=1e-8,
    )
    for _ in range(1440):
        rig.heat(25.0)
    ours = np.array([rig.temp_c[0, row, column, 0] for row, column in places])
    assert ours.max() > 5.0
    assert np.abs(ours - solved.y[:, -1]).max() < 0.02
    assert conductance_mean(rig)[0] > 5.0
