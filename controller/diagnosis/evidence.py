"""What the diagnosis remembers from tick to tick. Immutable; every time is monotonic."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.diagnosis.advice import NOTHING_WATCHED
from controller.diagnosis.attendance import NOTHING_SAID
from controller.diagnosis.evening import Evening, no_evening
from controller.diagnosis.heat_share import UNKNOWN_SHARE
from controller.diagnosis.house_shut import NO_NIGHTS
from controller.diagnosis.outlet_records import OutletWatch, unknown_outlets
from controller.diagnosis.probe_records import Comparisons, nothing_compared
from controller.diagnosis.start_records import StartWatch, no_starts
from controller.diagnosis.tonight import Tonight, nothing_known

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from controller.diagnosis.advice import AirWatch
    from controller.diagnosis.alarms import AlarmState
    from controller.diagnosis.attendance import Attendance
    from controller.diagnosis.heat_share import HeatShare
    from controller.diagnosis.house_shut import HouseWatch
    from controller.faults import FaultCode


class Evidence(NamedTuple):
    """Everything that ``hints`` and ``learn`` remember.

    Attributes:
        heat_shares: by loop, how much of the expected heat it has been seen to move.
        outlets: what the outlets have shown of the fans.
        comparisons: how the probes of the house compare.
        starts: what the starts of the fans have shown.
        alarms: by fault and subject.
        tonight: how cold nights have been, and what is announced for this one.
        evening: what nights have taught, and the outlook on this one.
        air: the air of the last hour, for advice.
        attendance: what people at the machine have said.
        house: how well the house keeps its warmth at night.
    """

    heat_shares: Mapping[str, HeatShare]
    outlets: OutletWatch
    comparisons: Comparisons
    starts: StartWatch
    alarms: Mapping[tuple[FaultCode, str], AlarmState]
    tonight: Tonight
    evening: Evening
    air: AirWatch = NOTHING_WATCHED
    attendance: Attendance = NOTHING_SAID
    house: HouseWatch = NO_NIGHTS


def no_evidence(loops: Iterable[str], now_mono_s: float) -> Evidence:
    """Nothing seen yet."""
    names = tuple(loops)
    return Evidence(
        dict.fromkeys(names, UNKNOWN_SHARE),
        unknown_outlets(names, now_mono_s),
        nothing_compared(now_mono_s),
        no_starts(names, now_mono_s),
        {},
        nothing_known(now_mono_s),
        no_evening(),
    )
