"""How much faster the ground's own scheme is than a general solver on the same equations, at what agreement.

Run as ``python -m tests.lab.benchmarks.ground``. Prints; asserts nothing, because machines differ.
"""

from __future__ import annotations

import time

import numpy as np
from scipy.integrate import solve_ivp

from controller.simulator.house.grid import Grid
from tests.simulator.garden import plant
from tests.simulator.house.network import conductance_matrix, heated_by_wall
from tests.simulator.house.rig import Rig, soil_of

LOAM = soil_of("loam", 0.75)
DAYS = 10
DAY_S = 86_400.0
STEPS_TIMED = 500
WATTS_PER_M = 25.0
PIECE_S = 3600.0  # the heat goes on and off every hour, as fans do


def general(rig: Rig) -> tuple[np.ndarray, float]:
    """Temperatures after ``DAYS`` by scipy's BDF, and the seconds it took."""
    rates, warmed, places = heated_by_wall(rig.ground, WATTS_PER_M)
    temp = np.zeros(len(places))
    began_s = time.perf_counter()
    for piece in range(DAYS * 24):
        warming = warmed * (1.0 if piece % 2 == 0 else 0.0)
        temp = solve_ivp(
            lambda _, now, warming=warming: rates @ now + warming,
            (0.0, PIECE_S),
            temp,
            method="BDF",
            jac=rates,
            rtol=1e-6,
            atol=1e-6,
        ).y[:, -1]
    return temp, time.perf_counter() - began_s


def main() -> None:
    """Compare one cut for ten days, then time the whole garden and finer grids."""
    rig = Rig(LOAM, 0.8, 0.08, 9.0, 0.21, surface_fixed=False)
    exact, general_s = general(rig)
    rig.heat(0.0)
    rig.temp_c[:] = 0.0
    began_s = time.perf_counter()
    for minute in range(DAYS * 1440):
        rig.heat(WATTS_PER_M if minute // 60 % 2 == 0 else 0.0)
    own_s = time.perf_counter() - began_s
    _, places = conductance_matrix(rig.ground)
    ours = np.array([rig.temp_c[0, row, column, 0] for row, column in places])
    print(f"cells in a cut {len(places)}, largest warming {exact.max():.2f} K")
    print(f"largest difference to the general solver {np.abs(ours - exact).max():.4f} K after {DAYS} days")
    print(f"general solver, one cut: {general_s:.2f} s; own scheme, eight cuts, minute steps: {own_s:.2f} s")
    print(f"per cut and day the own scheme is {8.0 * general_s / own_s:.0f} times faster")

    whole_garden()
    growth_with_cells()


def whole_garden() -> None:
    """Time ten days of everything in the garden."""
    house = plant()
    house.advance(60.0)
    began_s = time.perf_counter()
    house.advance(10 * DAY_S)
    whole_s = time.perf_counter() - began_s
    print(f"whole garden: {whole_s / 14_400 * 1e6:.1f} us a minute, {whole_s / 10 * 365:.1f} s a year")


def growth_with_cells() -> None:
    """Time a day of conduction alone, eight cuts, on finer and finer grids."""
    print("cells in a cut, longest stable step, one step of conduction in eight cuts, a day of it")
    usual = Grid.fitting([(0.8, 0.08, 0.21)])
    for factor in (1, 2, 3, 4):
        rig = Rig(LOAM, 0.8, 0.08, 9.0, 0.21, surface_fixed=False, grid=usual.refined(factor), step_s=1.0)
        rig.spread()
        began_s = time.perf_counter()
        for _ in range(STEPS_TIMED):
            rig.spread()
        step_s = (time.perf_counter() - began_s) / STEPS_TIMED
        cells = int(np.count_nonzero(rig.ground.kelvin_per_j))
        limit_s = rig.ground.longest_step_s
        print(f"{cells:6d} {limit_s:6.1f} s {1e6 * step_s:7.1f} us {DAY_S / limit_s * step_s:7.3f} s")


if __name__ == "__main__":
    main()
