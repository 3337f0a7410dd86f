"""Something to remember in every place, written down and read back as a restart does."""

from __future__ import annotations

import json
from typing import Any

from controller.decision.decide import initial_state
from controller.decision.state import (
    ControllerState,
    Doubt,
    DryBefore,
    Emptied,
    EmptyingTrend,
    FireState,
    Need,
    OutputState,
    PumpPhase,
)
from controller.diagnosis.attendance import Attendance, Deadline, Seen
from controller.diagnosis.evidence import Evidence, no_evidence
from controller.diagnosis.heat_share import HeatShare
from controller.diagnosis.house_shut import NO_NIGHTS, UsualNight
from controller.diagnosis.outlet_records import OutletRecord
from controller.diagnosis.probe_records import Record, Warmth
from controller.equipment import OutputId
from controller.faults import FaultCode
from controller.readings.reading import Level
from controller.record.memory import to_memory
from controller.record.restoring import restored, restored_evidence
from tests.decision.world import HOUSE, MINUTE_S, World

SAVED_S = 1000.0
NOON_UTC_S = 1_780_000_000.0
NORTH, MAIN = OutputId.fan("north"), OutputId.pump("main")
FRESH = initial_state(HOUSE, 0.0)
FANS, PUMP = HOUSE.fans, HOUSE.pump


def full() -> ControllerState:
    """A state with something to remember in every place."""
    north = FRESH.fans["north"]._replace(failed_runs=2, back_off_until_s=1500.0)
    main = FRESH.sumps["main"]._replace(
        phase=PumpPhase.RESTING,
        last_water_s=990.0,
        unreadable_since_s=700.0,
        doubt=Doubt.BLIND,
        dry_before=DryBefore(700.0, -4000.0, Doubt.BLIND),
        crowded=2,
        trend=EmptyingTrend(
            usual_s=30.0,
            last_s=31.5,
            cycles=7,
            slow_runs=1,
            steady=2,
            emptied=Emptied(32.0, 33.0, 20.0, 600.0),
            refill_s=700.0,
            inflow=0.1,
            return_s=300.0,
            returns=3,
            leaks=1,
            brisk=2,
        ),
    )
    return FRESH._replace(
        outputs={
            **FRESH.outputs,
            NORTH: OutputState(on=True, since_mono_s=900.0, starts_mono_s=(100.0, 900.0)),
            MAIN: OutputState(on=False, since_mono_s=500.0, starts_mono_s=(400.0,)),
        },
        fans={**FRESH.fans, "north": north},
        sumps={"main": main},
        fire=FireState("bench reads 70.0 °C", 600.0),
        need=Need(2.0, 990.0, 1.5),
        last_start_s=900.0,
    )


def learned() -> Evidence:
    """Evidence with something to remember in every place."""
    nothing = no_evidence(HOUSE.loops, 0.0)
    record = OutletRecord(1800.0, 1700.0, 10.0, 20.0, "south")
    return nothing._replace(
        heat_shares={**nothing.heat_shares, "north": HeatShare(0.8, 4000.0, 950.0)},
        outlets=nothing.outlets._replace(records={**nothing.outlets.records, "north": record}),
        comparisons=nothing.comparisons._replace(
            records={"bench": Record(0.1, 0.2, 5, 1, 2.5)},
            shares={"south": Record(0.3, 0.4, 6, 2)},
            warmths={"north": Warmth(0.07, 4, 600.0)},
        ),
        house=NO_NIGHTS._replace(usual={0: UsualNight(0.4, 0.2, 50), 3: UsualNight(0.6, -0.3, 9)}),
        attendance=Attendance(
            {
                (FaultCode.FROST, ""): Seen(
                    2, 700.0, NOON_UTC_S - 300.0, Deadline(4600.0, NOON_UTC_S + 3600.0)
                ),
                (FaultCode.LOOP_WEAK, "north side"): Seen(0, 900.0, None, None),
            },
            Deadline(90_000.0, NOON_UTC_S + 89_000.0),
            {"floats": NOON_UTC_S - 500.0},
        ),
    )


def on_the_card(state: ControllerState, evidence: Evidence, now_s: float) -> dict[str, Any]:
    """The memory as it comes back from a JSON file."""
    data: dict[str, Any] = json.loads(json.dumps(to_memory(state, evidence, now_s).data))
    return data


def written(**changed: Any) -> dict[str, Any]:
    """What is written down of all that, a table of it replaced where a test says so."""
    return on_the_card(full(), learned(), SAVED_S) | changed


def back(now_s: float, same_boot: bool = True, **changed: Any) -> ControllerState:
    """The state that comes of that memory at this time."""
    return restored(initial_state(HOUSE, now_s), written(**changed), same_boot, now_s)


def lessons(now_s: float, **changed: Any) -> Evidence:
    """What is known again after a start at this time."""
    return restored_evidence(no_evidence(HOUSE.loops, now_s), written(**changed), True, now_s)


def lively() -> World:
    """A house with something to remember: fans on, a back-off, a learned trend."""
    world = World()
    world.remember_need(2.0)
    for _ in range(6):
        world.level["main"] = Level.WET
        world.run(MINUTE_S)
        world.level["main"] = Level.DRY
        world.run(10 * MINUTE_S)
    world.run(PUMP.drain_down_s)
    world.sunny()
    world.outlet_c["north"] = 27.0
    world.run(FANS.minimum_run_s + 5 * MINUTE_S)
    return world
