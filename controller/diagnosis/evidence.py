"""What the diagnosis remembers from tick to tick. Immutable; every time is monotonic."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.diagnosis.heat_share import UNKNOWN_SHARE
from controller.diagnosis.outlet_records import OutletWatch, unknown_outlets
from controller.diagnosis.probe_records import Comparisons, nothing_compared
from controller.diagnosis.start_records import StartWatch, no_starts

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from controller.diagnosis.alarms import AlarmState
    from controller.diagnosis.heat_share import HeatShare
    from controller.faults import FaultCode


class Evidence(NamedTuple):
    """Everything that ``hints`` and ``learn`` remember.

    Attributes:
        heat_shares: by loop, how much of the expected heat it has been seen to move.
        outlets: what the outlets have shown of the fans.
        comparisons: how the probes of the house compare.
        starts: what the starts of the fans have shown.
        alarms: by fault and subject.
    """

    heat_shares: Mapping[str, HeatShare]
    outlets: OutletWatch
    comparisons: Comparisons
    starts: StartWatch
    alarms: Mapping[tuple[FaultCode, str], AlarmState]


def no_evidence(loops: Iterable[str], now_mono_s: float) -> Evidence:
    """Nothing seen yet."""
    names = tuple(loops)
    return Evidence(
        dict.fromkeys(names, UNKNOWN_SHARE),
        unknown_outlets(names, now_mono_s),
        nothing_compared(now_mono_s),
        no_starts(names, now_mono_s),
        {},
    )
