"""Did a sound pump cope? Follows the water in pit and tubes through every cloudburst."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from controller.faults import DAY_S, HOUR_S
from controller.simulator.house.water import BLOCKING_SHARE
from controller.simulator.plant.fault_kinds import FaultKind
from tests.lab.campaign.place import SETTINGS
from tests.lab.campaign.troubles import ENDINGS

if TYPE_CHECKING:
    from controller.simulator.plant.faults import ScriptedFault
    from controller.simulator.plant.plant import SimulatedPlant
    from tests.lab.campaign.draw import Episode
    from tests.lab.campaign.troubles import Trouble

DRAINS_FOR_S = DAY_S  # the ground goes on draining after the rain


@dataclass(slots=True)
class _Burst:
    """One cloudburst, until the day after it."""

    fault: ScriptedFault
    sound: bool
    inflow: float = 0.0
    shut_s: float = 0.0
    begun: bool = False

    def lasts(self, now_s: float) -> bool:
        return self.fault.at_s <= now_s < self.fault.until_s + DRAINS_FOR_S


class Bursts:
    """The cloudbursts of one episode."""

    def __init__(self, episode: Episode, plant: SimulatedPlant) -> None:
        self._model = plant.model
        self._last_s = math.nan
        self._bursts = [
            _Burst(fault, _is_sound(episode, fault))
            for fault in episode.faults
            if fault.kind is FaultKind.CLOUDBURST
        ]

    def look(self, now_s: float) -> None:
        """After a tick: take note of the water."""
        passed_s, self._last_s = now_s - self._last_s, now_s
        for burst in self._bursts:
            if not burst.lasts(now_s):
                continue
            burst.begun = True
            index = self._model.sump_names.index(burst.fault.subject)
            sump, limits = self._model.sumps[index], self._model.whole.sumps.parameters[index]
            burst.inflow = max(burst.inflow, float(sump.inflow_m3_s / limits.pump_m3_s))
            tubes_m3 = float(limits.most_m3 - limits.flood_m3)
            if sump.tube_water_m3 >= BLOCKING_SHARE * tubes_m3 and passed_s > 0.0:
                burst.shut_s += passed_s

    def found(self) -> list[dict[str, Any]]:
        """Each that began: whether all else was sound, the greatest inflow, hours of shut tubes."""
        return [
            {
                "sound": burst.sound,
                "inflow": round(burst.inflow, 3),
                "shut_h": round(burst.shut_s / HOUR_S, 2),
            }
            for burst in self._bursts
            if burst.begun
        ]


def _is_sound(episode: Episode, burst: ScriptedFault) -> bool:
    """Whether nothing else is wrong with this sump, the process or its settings while the water comes."""

    def meets(at_s: float, until_s: float) -> bool:
        return at_s < burst.until_s + DRAINS_FOR_S and until_s > burst.at_s

    others: list[ScriptedFault | Trouble] = [
        fault for fault in episode.faults if fault.subject == burst.subject and fault is not burst
    ]
    others += [each for each in episode.troubles if each.kind in ENDINGS or each.kind in SETTINGS]
    return not any(meets(each.at_s, each.until_s) for each in others)
