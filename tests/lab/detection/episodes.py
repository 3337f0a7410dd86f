"""Which faults are played, where and when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from controller.faults import DAY_S
from controller.settings.load import load, parse
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import ScriptedFault

if TYPE_CHECKING:
    from controller.settings.schema import Settings

HOUSE_FILE = Path(__file__).parents[3] / "config" / "house.toml"
HOUSE = load(HOUSE_FILE)
# The house is sound so long before; what is found by a change needs to have learned what is usual.
LEAD_DAYS, LEARNED_DAYS = 5.0, 30.0


@dataclass(frozen=True, slots=True)
class Scene:
    """A weather, and the day on which it breaks; the seed is that of an invented year."""

    weather: str
    breaks: datetime
    seed: int = 0


FROST = Scene("carolina", datetime(2026, 1, 15))  # noqa: DTZ001 - local time of the weather's place
SPRING = Scene("carolina", datetime(2026, 3, 20))  # noqa: DTZ001
AUTUMN = Scene("alaska-coast", datetime(2026, 10, 15))  # noqa: DTZ001
RAIN = Scene("alaska-coast", datetime(2026, 1, 20))  # noqa: DTZ001
COLD = Scene("carolina-8K", datetime(2026, 2, 25))  # noqa: DTZ001
SEASONS = (FROST, SPRING, AUTUMN)
# Years that nobody looked at while limits were set.
UNSEEN = (
    Scene("invented-carolina", datetime(2026, 2, 8), seed=21),  # noqa: DTZ001
    Scene("invented-alaska-coast", datetime(2026, 4, 14), seed=22),  # noqa: DTZ001
    Scene("invented-carolina", datetime(2026, 11, 18), seed=23),  # noqa: DTZ001
)


def at_dusk(scenes: tuple[Scene, ...]) -> tuple[Scene, ...]:
    """The same days, from the evening on."""
    return tuple(replace(scene, breaks=scene.breaks.replace(hour=18)) for scene in scenes)


def wired() -> Settings:
    """The house with every contact fitted."""
    text = HOUSE_FILE.read_text(encoding="utf-8")
    for at, pins in enumerate(("fan_pin = 17", "fan_pin = 27", "fan_pin = 22", "pump_pin = 23")):
        text = text.replace(pins, f"{pins}\nfeedback_pin = {(5, 6, 13, 19)[at]}")
    return parse(text.replace("[board]", '[board]\nsupply_pin = 12\nboard_voltage = "/sys/class/hwmon"'))


@dataclass(frozen=True, slots=True)
class Trial:
    """One kind of fault in several scenes.

    Attributes:
        kind: what breaks.
        subject: the probe, loop or sump.
        days: how long it is watched.
        lead_days: how long the house was sound before.
        by: how much, in SI.
        other: the other one of a kind that takes two.
        scenes: where and when.
        size: ``by`` for people.
        unseen: more of them, in years that nobody looked at while limits were set.
        wired: whether every contact is fitted; ticks then come every ten seconds, and the time counts from
            the first command after the fault that a dead motor does not follow.
        with_rain: whether a cloudburst of four hours comes with it, because a dry pit shows nothing.
        rains_before_s: how long before it that begins.
    """

    kind: FaultKind
    subject: str
    days: float
    by: float = 0.0
    other: str = ""
    scenes: tuple[Scene, ...] = SEASONS
    size: str = ""
    unseen: tuple[Scene, ...] = ()
    wired: bool = False
    with_rain: bool = False
    rains_before_s: float = 0.0
    lead_days: float = LEAD_DAYS

    def faults(self) -> tuple[ScriptedFault, ...]:
        """The script: all is well for a while, then this."""
        at_s = self.lead_days * DAY_S
        broken = ScriptedFault(self.kind, self.subject, at_s, by=self.by, other=self.other)
        if not self.with_rain:
            return (broken,)
        rains_s = at_s - self.rains_before_s
        return (broken, ScriptedFault(FaultKind.CLOUDBURST, "main", rains_s, rains_s + DAY_S / 6.0))


_K = FaultKind
TRIALS = (
    *(
        Trial(kind, "bench", 1.0)
        for kind in (
            _K.PROBE_SILENT,
            _K.PROBE_STUCK,
            _K.PROBE_POWER_ON,
            _K.PROBE_NO_POWER,
            _K.PROBE_ALL_ZERO,
        )
    ),
    Trial(_K.PROBE_NOISY, "ceiling-west", 1.0, by=0.2, size="20 % of its answers"),
    Trial(_K.PROBE_DRIFT, "bench", 12.0, by=0.5, size="0.5 K a day"),
    Trial(_K.PROBE_DRIFT, "north-soil", 12.0, by=0.5, size="0.5 K a day, soil"),
    Trial(_K.PROBE_OFFSET, "ceiling-east", 8.0, by=3.0, size="3 K, ceiling"),
    Trial(_K.PROBE_OFFSET, "south-outlet", 10.0, by=3.0, size="3 K, outlet"),
    Trial(_K.PROBE_SWAPPED, "ceiling-west", 6.0, other="north-soil", size="ceiling and soil"),
    Trial(_K.PROBE_SWAPPED, "bench", 8.0, other="outdoor", size="bench and outdoors"),
    Trial(
        _K.PROBE_IN_SUN,
        "ceiling-east",
        20.0,
        by=10.0,
        size="10 K in full sun, ceiling",
        lead_days=LEARNED_DAYS,
    ),
    Trial(_K.PROBE_IN_SUN, "bench", 20.0, by=15.0, size="15 K in full sun, bench", lead_days=LEARNED_DAYS),
    Trial(_K.BUS_SILENT, "", 1.0),
    Trial(_K.BUS_SHORTED, "", 1.0),
    Trial(_K.BUS_HUNG, "", 1.0),
    Trial(_K.FLOAT_STUCK_WET, "main", 1.0),
    Trial(_K.FLOAT_WIRE_CUT, "main", 1.0),
    Trial(_K.FLOAT_UNREADABLE, "main", 1.0),
    Trial(_K.FLOAT_CHATTER, "main", 1.0),
    Trial(_K.FLOAT_STUCK_DRY, "main", 12.0, with_rain=True, lead_days=LEARNED_DAYS, unseen=UNSEEN),
    Trial(
        _K.FLOAT_STUCK_DRY,
        "main",
        3.0,
        size="in a wet spell",
        with_rain=True,
        rains_before_s=DAY_S / 2.0,
        unseen=UNSEEN,
    ),
    Trial(_K.PUMP_DEAD, "main", 2.0, with_rain=True),
    Trial(
        _K.PUMP_CLOGGED,
        "main",
        30.0,
        by=0.5,
        size="half its flow",
        scenes=(*SEASONS, RAIN),
        unseen=UNSEEN,
        lead_days=LEARNED_DAYS,
    ),
    Trial(_K.PUMP_WELDED, "main", 40.0, scenes=(AUTUMN, RAIN)),
    Trial(_K.CHECK_VALVE_LEAKS, "main", 4.0, by=0.08, size="80 L", with_rain=True),
    Trial(_K.DISCHARGE_FROZEN, "main", 4.0, scenes=(FROST, COLD), with_rain=True),
    Trial(_K.FAN_DEAD, "north", 12.0, lead_days=LEARNED_DAYS, unseen=UNSEEN),
    Trial(_K.FAN_BLOCKED, "north", 25.0, by=0.7, size="70 % shut", lead_days=LEARNED_DAYS, unseen=UNSEEN),
    Trial(_K.TUBES_SILTED, "north", 25.0, by=0.6, size="60 % shut", lead_days=LEARNED_DAYS, unseen=UNSEEN),
    Trial(_K.FAN_WELDED, "north", 12.0, lead_days=LEARNED_DAYS, unseen=UNSEEN),
    Trial(_K.FAN_SWAPPED, "north", 12.0, other="south", lead_days=LEARNED_DAYS, unseen=UNSEEN),
    Trial(_K.OUTPUT_DEAF, "north", 3.0),
    Trial(
        _K.DOOR_LEFT_OPEN,
        "",
        2.0,
        by=2.0,
        size="2 m2, from 18:00",
        scenes=at_dusk((*SEASONS, COLD)),
        unseen=at_dusk(UNSEEN),
        lead_days=LEARNED_DAYS,
    ),
    *(
        Trial(kind, subject, 1.0, lead_days=0.25, wired=True, size="every contact fitted", with_rain=rain)
        for kind, subject, rain in (
            (_K.FAN_DEAD, "north", False),
            (_K.FAN_WELDED, "north", False),
            (_K.PUMP_DEAD, "main", True),
            (_K.PUMP_WELDED, "main", False),
            (_K.SUPPLY_GONE, "", False),
            (_K.VOLTAGE_LOW, "", False),
        )
    ),
)

SOUND_YEARS = (
    ("carolina", 0),
    ("alaska-coast", 0),
    ("carolina-8K", 0),
    ("miami", 0),
    ("invented-carolina", 5),
)
