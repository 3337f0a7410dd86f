"""Finished ticks of a small house, to be reported."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from controller.decision.command import Command, Decision, OutputChange
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import (
    ControllerState,
    Demand,
    FanState,
    Lockout,
    Proof,
    PumpPhase,
    state_of_unknown_history,
)
from controller.diagnosis.alarms import Alarm, AlarmEvent
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.learn import Diagnosis
from controller.diagnosis.signals import NO_SIGNALS, Known, Signals, decided_signals
from controller.equipment import OutputId
from controller.faults import FAULTS, FaultCode
from controller.readings.reading import Good, Level, Missing, Why
from controller.readings.snapshot import LoopReadings, Snapshot
from controller.record.tally import DayTally, LoopTally, PumpTally
from controller.record.tick import TickRecord
from controller.settings.schema import Settings
from controller.telemetry.build import Program

NOON = datetime(2026, 3, 7, 12, 0, 5, 900_000, tzinfo=UTC)
PROGRAM = Program(version="0.1.0", boot_id="a-boot", started_mono_s=100.0)

LOOP = {
    "sump": "low-corner",
    "flow": "0.30 m3/s",
    "power": "120 W",
    "tubes": 24,
    "tube_length": "9 m",
    "tube_diameter": "80 mm",
    "depth": "0.8 m",
}
PROBES = (
    ("ridge", "ceiling", None),
    ("bench", "bench", None),
    ("north-soil", "soil", "north"),
    ("north-root", "root-zone", "north"),
    ("north-out", "outlet", "north"),
    ("south-soil", "soil", "south"),
)


def settings(
    mqtt: dict[str, Any] | None = None, signal: dict[str, Any] | None = None, **site: Any
) -> Settings:
    """A house with two loops, one of them short of probes, and one sump."""
    return Settings.model_validate(
        {
            "site": {"name": "fellside", "title": "Fellside school garden"} | site,
            "loops": {"north": LOOP | {"fan_pin": 5}, "south": LOOP | {"fan_pin": 6}},
            "sumps": {"low-corner": {"float_pin": 17, "pump_pin": 27}},
            "probes": {
                name: {"id": f"28-{number:012x}", "place": place} | ({"loop": loop} if loop else {})
                for number, (name, place, loop) in enumerate(PROBES)
            },
            "mqtt": {} if mqtt is None else mqtt,
        }
        | ({} if signal is None else {"signal": signal})
    )


def alarm(
    code: FaultCode, subject: str = "", detail: str = "", since_mono_s: float = 940.0, **said: Any
) -> Alarm:
    """An active alarm, and what was said of it."""
    return Alarm(code, subject, detail, FAULTS[code].priority, since_mono_s, **said)


BANKING = Reason(
    ReasonCode.BANK,
    {
        "ceiling_c": 31.2,
        "soil_c": 14.2,
        "difference_k": 17.0,
        "until_k": 1.0,
        "heat_w": 2400.0,
        "power_w": 120.0,
    },
)
NO_SOIL = Reason(ReasonCode.SOIL_UNKNOWN, {"why": Why.SILENT.value, "for_s": 400.0})
DRY = Reason(ReasonCode.PUMP_DRY, {"for_s": 900.0})
WET = Reason(ReasonCode.PUMP_WET, {"starts": 2.0, "most": 10.0})
NORTH, SOUTH, PUMP = OutputId.fan("north"), OutputId.fan("south"), OutputId.pump("low-corner")


def decision(*, changes: tuple[OutputChange, ...] = (), wet: bool = False) -> Decision:
    """North runs, south is locked out, the pump follows the water."""
    commands = {
        NORTH: Command(True, BANKING),
        SOUTH: Command(False, NO_SOIL),
        PUMP: Command(wet, WET if wet else DRY),
    }
    return Decision(commands, changes)


def diagnosis(*alarms: Alarm, events: tuple[AlarmEvent, ...] = (), **evidence: Any) -> Diagnosis:
    """Alarms and what has been learned so far, by default nothing."""
    return Diagnosis(no_evidence(("north", "south"), 0.0)._replace(**evidence), alarms, events)


def state(since_mono_s: float, *, wet: bool = False) -> ControllerState:
    """What goes with that decision."""
    begin = state_of_unknown_history(
        DRY, {"north": NORTH, "south": SOUTH}, {"low-corner": PUMP}, since_mono_s
    )
    sump = begin.sumps["low-corner"]
    return begin._replace(
        fans={
            "north": FanState(Demand.BANK, BANKING, Proof.PROVEN),
            "south": FanState(None, NO_SOIL, lockouts=(Lockout.SOIL_UNKNOWN, Lockout.RESTING)),
        },
        sumps={"low-corner": sump._replace(phase=PumpPhase.EMPTYING) if wet else sump},
    )


def snapshot(now_mono_s: float, *, wet: bool = False, wall_utc: datetime | None = NOON) -> Snapshot:
    """A sunny noon; the soil probe of the south loop does not answer."""

    def good(value_c: float) -> Good[float]:
        return Good(value_c, now_mono_s - 3.0)

    silent, unfitted = Missing(Why.SILENT, now_mono_s - 400.0), Missing(Why.NOT_FITTED, 0.0)
    probes = dict(
        zip([name for name, _, _ in PROBES], map(good, (31.2, 24.04, 14.2, 16.1, 19.8, 0.0)), strict=True)
    )
    return Snapshot(
        ceiling=good(31.2),
        bench=good(24.04),
        outdoor=unfitted,
        loops={
            "north": LoopReadings(good(14.2), good(16.1), good(19.8)),
            "south": LoopReadings(silent, unfitted, unfitted),
        },
        sumps={"low-corner": Good(Level.WET if wet else Level.DRY, now_mono_s)},
        probes=probes | {"south-soil": silent},
        wall_utc=wall_utc,
    )


def signals(fitted: Settings, *alarms: Alarm) -> Signals:
    """What the signals show some minutes after the start, and two ticks into these alarms."""
    shown, outputs = NO_SIGNALS, fitted.derived.signals
    for now_s, active in ((0.0, ()), (100.0, ()), (110.0, alarms), (200.0, alarms)):
        shown = decided_signals(shown, outputs, Known(active, snapshot(now_s), None, now_s))
    return shown


TODAY = DayTally(
    date="2026-03-07",
    covered_s=43_200.0,
    air_min_c=8.123,
    air_max_c=24.3,
    loops={"north": LoopTally(11_100.0, 4, 1.332e6, 29.2e6, 3.6e5), "south": LoopTally()},
    pumps={"low-corner": PumpTally(80.0, 2, 32_000.0)},
)


def tick(seq: int = 7, now_mono_s: float = 1000.0, *, wet: bool = False, **changed: Any) -> TickRecord:
    """A finished tick; any field can be given instead."""
    record = TickRecord(
        seq=seq,
        now_mono_s=now_mono_s,
        settings=settings(),
        snapshot=snapshot(now_mono_s, wet=wet),
        decision=decision(wet=wet),
        state=state(now_mono_s - 720.0, wet=wet),
        diagnosis=diagnosis(),
        heat_w={"north": 2412.4, "south": None},
        today=TODAY,
    )
    return record._replace(**changed)
