"""A whole settings file: its tables, and which of them may be left out.

Every setting carries its default, its range, and what a smaller or larger value does. Attribute names carry
the SI unit (``heat_below_c``). Keys in the file do not, because the value has it (``heat_below = "6 °C"``).
Tables without which the controller cannot work have no default.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Self

from pydantic import Field

from controller.settings.schema.climate import Fire, Judging, Setpoints
from controller.settings.schema.derived import Derived, derive
from controller.settings.schema.motors import Fans, Pump
from controller.settings.schema.openings import Opening, openings_of
from controller.settings.schema.section import Section
from controller.settings.schema.surroundings import History, House, Mqtt, Service, Site
from controller.settings.schema.values import Name
from controller.settings.schema.wiring import Board, Loop, Place, Probe, Signal, Sump

__all__ = [
    "Board",
    "Fans",
    "Fire",
    "History",
    "House",
    "Judging",
    "Loop",
    "Mqtt",
    "Opening",
    "Place",
    "Probe",
    "Pump",
    "Section",
    "Service",
    "Setpoints",
    "Settings",
    "Signal",
    "Site",
    "Sump",
]


class Settings(Section):
    """A whole settings file.

    Everything in [setpoints], [fans], [pump], [fire], [judging] and the display unit can change while the
    controller runs; the rest is wiring and needs a restart.
    """

    site: Site
    setpoints: Setpoints = Field(default_factory=Setpoints)
    fans: Fans = Field(default_factory=Fans)
    pump: Pump = Field(default_factory=Pump)
    fire: Fire = Field(default_factory=Fire)
    judging: Judging = Field(default_factory=Judging)
    board: Board = Field(default_factory=Board)
    signal: Signal | None = None
    service: Service = Field(default_factory=Service)
    history: History = Field(default_factory=History)
    house: House = Field(default_factory=House)
    openings: dict[Name, Opening] = Field(default_factory=dict, max_length=16)
    mqtt: Mqtt | None = None
    loops: dict[Name, Loop] = Field(min_length=1, max_length=16)
    sumps: dict[Name, Sump] = Field(min_length=1, max_length=4)
    probes: dict[Name, Probe] = Field(min_length=1, max_length=64)

    @cached_property
    def derived(self) -> Derived:
        """What follows from these settings, worked out once."""
        return derive(self.loops, self.sumps, self.probes, self.site.altitude_m, self.signal)

    @property
    def has_contacts(self) -> bool:
        """Whether any of the optional contacts is fitted."""
        pins = [loop.feedback_pin for loop in self.loops.values()]
        pins += [pin for sump in self.sumps.values() for pin in (sump.feedback_pin, sump.high_float_pin)]
        supply = self.board.supply_pin is not None or self.board.board_voltage
        return bool(supply) or any(pin is not None for pin in pins)

    def __copy__(self) -> Self:
        """Copy the settings alone: what follows from them may differ once the copy is changed."""
        copied = super().__copy__()
        copied.__dict__.pop("derived", None)
        return copied

    def probe_names(self, place: str, loop: str | None = None) -> tuple[str, ...]:
        """Names of the probes of one place (and, for loop probes, of one loop), in file order."""
        return tuple(n for n, p in self.probes.items() if p.place == place and p.loop == loop)

    def all_openings(self) -> Mapping[str, Opening]:
        """What can be opened, by name: [openings], or the roof vents that stand for them."""
        return openings_of(self.house, self.openings)

    def loops_of(self, sump: str) -> tuple[str, ...]:
        """Names of the loops whose tubes drain to a sump, in file order."""
        return tuple(name for name, loop in self.loops.items() if loop.sump == sump)
