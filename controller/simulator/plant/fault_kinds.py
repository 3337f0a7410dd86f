"""What can break in the simulated house, and what a fault script must give for each kind."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum


class FaultKind(Enum):
    """What can break; the value is the word in the script."""

    PROBE_SILENT = "probe-silent"
    PROBE_STUCK = "probe-stuck"
    PROBE_POWER_ON = "probe-85"
    PROBE_NO_POWER = "probe-no-power"
    PROBE_ALL_ZERO = "probe-all-zero"
    PROBE_NOISY = "probe-noisy"
    PROBE_DRIFT = "probe-drift"
    PROBE_OFFSET = "probe-offset"
    PROBE_SWAPPED = "probe-swapped"
    PROBE_IN_SUN = "probe-in-sun"
    BUS_SILENT = "bus-silent"
    BUS_SHORTED = "bus-shorted"
    BUS_HUNG = "bus-hung"
    FLOAT_STUCK_WET = "float-stuck-wet"
    FLOAT_STUCK_DRY = "float-stuck-dry"
    FLOAT_WIRE_CUT = "float-wire-cut"
    FLOAT_UNREADABLE = "float-unreadable"
    FLOAT_CHATTER = "float-chatter"
    PUMP_DEAD = "pump-dead"
    PUMP_CLOGGED = "pump-clogged"
    PUMP_WELDED = "pump-welded"
    CHECK_VALVE_LEAKS = "check-valve-leaks"
    DISCHARGE_FROZEN = "discharge-frozen"
    FAN_DEAD = "fan-dead"
    FAN_BLOCKED = "fan-blocked"
    FAN_WELDED = "fan-welded"
    FAN_SWAPPED = "fan-swapped"
    TUBES_SILTED = "tubes-silted"
    OUTPUT_DEAF = "output-deaf"
    CLOUDBURST = "cloudburst"
    DOOR_LEFT_OPEN = "door-left-open"
    SUPPLY_GONE = "supply-gone"
    VOLTAGE_LOW = "under-voltage"


@dataclass(frozen=True, slots=True)
class Size:
    """How large a fault is.

    Attributes:
        unit: as it is written.
        scale: SI units in one of it.
        most: the largest size, with 0 as the smallest; None allows any number, also a negative one.
        example: how it is written.
    """

    unit: str
    scale: float
    most: float | None
    example: str

    def read(self, written: object) -> float | None:
        """The size in K, as a share, in m³ or m²; None if the text is not such a size."""
        pattern = rf"\s*(-?\d+(?:\.\d+)?)\s*{self.unit}\s*"
        found = re.fullmatch(pattern, written) if isinstance(written, str) else None
        if found is None:
            return None
        number = float(found[1])
        if self.most is not None and not 0.0 <= number <= self.most:
            return None
        return number * self.scale


KELVIN = Size("K", 1.0, None, "0.5 K")
SHARE = Size("%", 0.01, 100.0, "40 %")
WATER = Size("L", 1e-3, 1000.0, "20 L")
AREA = Size("m2", 1.0, 20.0, "2 m2")


@dataclass(frozen=True, slots=True)
class Spec:
    """What a script must give for a kind of fault.

    Attributes:
        subjects: tables of the settings whose names may be its subject; empty if it takes no subject.
        effect: what happens, for people.
        by: how large it is; None if it has no size.
        by_what: what the size is, for people.
        partner: whether it takes a second subject, ``with``.
    """

    subjects: tuple[str, ...]
    effect: str
    by: Size | None = None
    by_what: str = ""
    partner: bool = False


_PROBE, _SUMP, _LOOP = ("probes",), ("sumps",), ("loops",)

SPECS = {
    FaultKind.PROBE_SILENT: Spec(_PROBE, "The probe does not answer: open line, or pulled off."),
    FaultKind.PROBE_STUCK: Spec(_PROBE, "It repeats its last value."),
    FaultKind.PROBE_POWER_ON: Spec(_PROBE, "It gives 85 °C, its value after power-on."),
    FaultKind.PROBE_NO_POWER: Spec(_PROBE, "It gives 127.94 °C, its value with too little supply power."),
    FaultKind.PROBE_ALL_ZERO: Spec(_PROBE, "It answers with nothing but zeros."),
    FaultKind.PROBE_NOISY: Spec(_PROBE, "Some of its answers are damaged.", SHARE, "of its answers"),
    FaultKind.PROBE_DRIFT: Spec(_PROBE, "Its offset grows steadily.", KELVIN, "a day"),
    FaultKind.PROBE_OFFSET: Spec(_PROBE, "It reads too warm, or too cold.", KELVIN, "all the time"),
    FaultKind.PROBE_SWAPPED: Spec(
        _PROBE, "It hangs in the other one's place and the other one in its place.", partner=True
    ),
    FaultKind.PROBE_IN_SUN: Spec(
        _PROBE, "Its shade is gone: it reads too warm in the sun.", KELVIN, "in sun of 1000 W/m²"
    ),
    FaultKind.BUS_SILENT: Spec((), "No probe answers."),
    FaultKind.BUS_SHORTED: Spec((), "Every probe answers with nothing but zeros."),
    FaultKind.BUS_HUNG: Spec((), "Reading hangs: samples stay what they were and grow old."),
    FaultKind.FLOAT_STUCK_WET: Spec(_SUMP, "The float reads wet."),
    FaultKind.FLOAT_STUCK_DRY: Spec(_SUMP, "The float reads dry."),
    FaultKind.FLOAT_WIRE_CUT: Spec(
        _SUMP, "Its wire is cut: it reads wet if it opens on rise, dry if it closes on rise."
    ),
    FaultKind.FLOAT_UNREADABLE: Spec(_SUMP, "The input of the float cannot be read."),
    FaultKind.FLOAT_CHATTER: Spec(_SUMP, "The float bounces between wet and dry."),
    FaultKind.PUMP_DEAD: Spec(_SUMP, "The pump does not turn: motor, breaker or relay open."),
    FaultKind.PUMP_CLOGGED: Spec(_SUMP, "The pump moves less.", SHARE, "of its flow is lost"),
    FaultKind.PUMP_WELDED: Spec(_SUMP, "The pump runs without a command."),
    FaultKind.CHECK_VALVE_LEAKS: Spec(
        _SUMP, "Water runs back into the pit when the pump stops.", WATER, "after each run"
    ),
    FaultKind.DISCHARGE_FROZEN: Spec(
        _SUMP, "While the last twelve hours outdoors were below 0 °C in the mean, nothing leaves the pump."
    ),
    FaultKind.FAN_DEAD: Spec(_LOOP, "The fan does not turn: motor, breaker or relay open."),
    FaultKind.FAN_BLOCKED: Spec(_LOOP, "Leaves or a filter block the intake.", SHARE, "of its area is shut"),
    FaultKind.FAN_WELDED: Spec(_LOOP, "The fan runs without a command."),
    FaultKind.FAN_SWAPPED: Spec(_LOOP, "Each of the two outputs drives the other loop's fan.", partner=True),
    FaultKind.TUBES_SILTED: Spec(
        _LOOP,
        "Silt has shut some of the tubes, those beside the loop's probes in the soil first.",
        SHARE,
        "of the tubes is shut",
    ),
    FaultKind.OUTPUT_DEAF: Spec((*_LOOP, *_SUMP), "The output cannot be driven, as with a dead GPIO."),
    FaultKind.CLOUDBURST: Spec(_SUMP, "30 mm of water an hour soak into the ground that drains to the sump."),
    FaultKind.DOOR_LEFT_OPEN: Spec(
        (), "A door stands open and nobody shuts it, besides all that the settings can open.", AREA, "of it"
    ),
    FaultKind.SUPPLY_GONE: Spec((), "Fans and pumps have no supply: a power cut that spares the computer."),
    FaultKind.VOLTAGE_LOW: Spec((), "The computer's own supply sags; nothing but the kernel shows it."),
}
