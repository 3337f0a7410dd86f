"""Everything the decision may see in one tick."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from controller.faults import FaultCode, Finding
    from controller.readings.contacts import Contact, ContactReading
    from controller.readings.reading import LevelReading, Reading
    from controller.readings.said import Said


NO_CONTACTS: Final[Mapping[Contact, ContactReading]] = {}


class LoopReadings(NamedTuple):
    """The three probes of one loop."""

    soil: Reading
    root_zone: Reading
    outlet: Reading


class Snapshot(NamedTuple):
    """One consistent look at the house.

    Attributes:
        ceiling: voted air temperature under the roof, where the risers draw.
        bench: voted air temperature among the crop.
        outdoor: voted outdoor air temperature.
        loops: soil, root zone and outlet, by loop name.
        sumps: debounced float level, by sump name.
        probes: every probe's own judged reading, by probe name (fire watch, telemetry, history).
        findings: what is wrong outside the decision's own knowledge (probes, storage, settings, link).
        cleared: latched faults a person has cleared on the machine since the last tick.
        wall_utc: date and time for people, None until the clock is set; never used for a duration.
        said: what a person has said on the machine since the last tick; the decision asks nothing of it.
        contacts: what the optional contacts show; those that are not fitted are absent.
        hour: of the day at the place of the house, 0 to 24, None until the clock is set.
    """

    ceiling: Reading
    bench: Reading
    outdoor: Reading
    loops: Mapping[str, LoopReadings]
    sumps: Mapping[str, LevelReading]
    probes: Mapping[str, Reading]
    findings: tuple[Finding, ...] = ()
    cleared: frozenset[FaultCode] = frozenset()
    wall_utc: datetime | None = None
    said: tuple[Said, ...] = ()
    contacts: Mapping[Contact, ContactReading] = NO_CONTACTS
    hour: float | None = None
