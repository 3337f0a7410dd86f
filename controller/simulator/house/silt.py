"""Tubes shut by silt: no air reaches them, and the ground around them gets no heat from them any more.

Silt settles where the water stands last, in tubes side by side, and the probes of the loop stand among them.
So that ground is a cut of its own: it is split off when silt comes, at the temperatures it has, and mixed in
again when the tubes are rinsed. No heat is lost or made. Heat between the two, across a single gap of the
many between tubes, is left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from controller.physics.soil import FREEZING_K
from controller.simulator.house.state import LoopParameters, rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from controller.simulator.house.state import Rows, Whole

    Floats = NDArray[np.float64]


class Silting:
    """Which rows of the ground lie around tubes that silt may shut.

    Args:
        loops: names of all loops, in their order.
        may_silt: those in which silt may shut tubes; their second rows follow those of all loops.
    """

    def __init__(self, loops: Iterable[str], may_silt: Sequence[str]) -> None:
        names = list(loops)
        self._pairs = {name: (names.index(name), len(names) + at) for at, name in enumerate(may_silt)}

    def with_shut(self, loops: Rows[LoopParameters]) -> Rows[LoopParameters]:
        """The loops' parameters, followed by those of shut tubes, of which there are none yet."""
        table = rows(LoopParameters, loops.shape[0] + len(self._pairs))
        same, open_ = np.asarray(table), np.asarray(loops)  # the same memory, as plain arrays
        same[: open_.shape[0]] = open_
        for first, second in self._pairs.values():
            same[second] = open_[first]
            same["half_metres"][second] = 0.0
        return table

    def silt(self, name: str, share: float, whole: Whole) -> int:
        """Move ground between the open and the shut tubes of a loop until this share of it is shut.

        Args:
            name: the loop.
            share: of its tubes that are shut, 0 to 1.
            whole: the model.

        Returns:
            The row of the ground around its probes.

        Raises:
            KeyError: the model has no row for silt in this loop.
        """
        first, second = self._pairs[name]
        metres, ground = whole.tubes.parameters["half_metres"], whole.ground
        all_m = metres[first] + metres[second]
        was = metres[second] / all_m
        into, out_of = (second, first) if share > was else (first, second)
        kept, new = (was, share) if share > was else (1.0 - was, 1.0 - share)
        if new > kept:
            ice = ground.frost.ice[into][:, None, None]
            heat_c = _thawed_c(ground.temp_c, into, ice), _thawed_c(ground.temp_c, out_of, ice)
            mixed_c = (kept * heat_c[0] + (new - kept) * heat_c[1]) / new
            ground.temp_c[into] = mixed_c - ice / (1.0 + ice) * np.clip(
                mixed_c, -(1.0 + ice) * FREEZING_K, 0.0
            )
            gathered = (ground.wall_j, ground.surface_j, ground.lateral_j, ground.deep_j)
            for each in (*gathered, ground.soil_c, ground.top_c):
                each[into] = (kept * each[into] + (new - kept) * each[out_of]) / new
            ground.frost.icy[:] = 1.0  # whether there is ice is found out in the next step
            metres[first], metres[second] = (1.0 - share) * all_m, share * all_m
        return second if share > 0.0 else first


def _thawed_c(temp_c: Floats, row: int, ice: Floats) -> Floats:
    """Temperatures that the same heat would make if nothing froze, as ``conduction.thawed_c`` has it."""
    cells: Floats = temp_c[row]
    return cells + ice * np.clip(cells, -FREEZING_K, 0.0)
