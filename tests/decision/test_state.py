"""What is remembered: the words others read of it, and what it is before anything is known."""

from __future__ import annotations

from controller.decision.command import Decision, Kind, OutputId
from controller.decision.outlet_signs import OutletSigns, OutletWatch
from controller.decision.probe_records import NO_RECORD, Comparisons, ProbeGroups, Record, probe_groups
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.response import Response
from controller.decision.state import (
    AlarmState,
    ControllerState,
    Demand,
    EmptyingTrend,
    FanState,
    FireState,
    Lockout,
    Need,
    OutputState,
    Proof,
    PumpPhase,
    SumpState,
    state_of_unknown_history,
)
from controller.decision.tally import JOULES_PER_KWH, DayTally, LoopTally, PumpTally
from controller.decision.tick import TickRecord
from tests.decision.world import HOUSE, World

NOW_S = 1000.0
WHY = Reason(ReasonCode.STARTED, {"rest_s": 600.0})


def test_what_fans_and_pumps_do_is_told_in_fixed_words() -> None:
    """Messages, records and their readers rely on these words; the demands stand by urgency."""
    assert [demand.value for demand in Demand] == ["frost", "heat", "cool", "bank", "plain"]
    assert [proof.value for proof in Proof] == ["idle", "purging", "proven", "weak", "not testable"]
    phases = ["idle", "emptying", "run-on", "resting", "fault duty", "exercise"]
    assert [phase.value for phase in PumpPhase] == phases
    assert [kind.value for kind in Kind] == ["fan", "pump"]


def test_a_lockout_is_told_in_plain_words() -> None:
    """A person reads them after "locked:"."""
    assert {lockout.name: lockout.value for lockout in Lockout} == {
        "FIRE": "fire signature, until a person clears it",
        "FLOOD": "water in the sump",
        "FLOAT_UNREADABLE": "float cannot be read",
        "DRAIN_DOWN": "tubes still draining",
        "CEILING_UNKNOWN": "ceiling temperature unknown",
        "SOIL_UNKNOWN": "soil temperature unknown",
        "ROOT_ZONE_WARM": "root zone at its upper limit",
        "ROOT_ZONE_COLD": "root zone at its lower limit",
        "BACK_OFF": "last run moved too little heat",
        "RESTING": "motor resting",
        "STARTS_SPENT": "starts of this hour used up",
        "STARTS_SPACED": "starts are spaced over the hour",
    }


def test_outputs_are_named_by_their_kind_and_place() -> None:
    """A fan by its loop, a pump by its sump."""
    fan, pump = OutputId.fan("north"), OutputId.pump("main")
    assert (fan, pump) == (("fan", "north"), ("pump", "main"))
    assert (str(fan), str(pump)) == ("fan:north", "pump:main")


def test_of_unknown_history_all_is_off_since_now_and_all_may_be_wet() -> None:
    """Every rest and every drain-down counts from the start; nothing is learned, nothing alarms."""
    fan, pump = OutputId.fan("north"), OutputId.pump("main")
    off = OutputState(on=False, since_mono_s=NOW_S, starts_mono_s=())
    assert state_of_unknown_history(WHY, {"north": fan}, {"main": pump}, NOW_S) == ControllerState(
        outputs={fan: off, pump: off},
        fans={"north": FanState(None, WHY, Proof.IDLE, None, 0, None, (), Response(1.0, 0.0, None))},
        sumps={
            "main": SumpState(
                PumpPhase.IDLE,
                WHY,
                NOW_S,
                wet_since_s=None,
                unreadable_since_s=None,
                fell_dry_s=None,
                crowded=0,
                trend=EmptyingTrend(None, None, 0, 0, None, None, None, None, 0, 0),
                lockouts=(),
            )
        },
        fire=FireState(None, 0.0, {}),
        need=Need(None, 0.0),
        alarms={},
        last_start_s=NOW_S,
        outlets=OutletWatch(NOW_S, {"north": OutletSigns(0.0, 0.0, 0.0, 0.0, "")}, tells=False),
        comparisons=Comparisons(NOW_S, None, {}, {}, suspicious=False),
    )


def test_what_counts_from_nought_begins_there() -> None:
    """Alarms, records of probes and the sums of a day."""
    assert AlarmState("bench 0.4 °C", 900.0) == ("bench 0.4 °C", 900.0, None, None, False, 0)
    assert NO_RECORD == Record() == (0.0, 0.0, 0, 0, 0.0)
    assert LoopTally() == (0.0, 0, 0.0, 0.0, 0.0)
    assert PumpTally() == (0.0, 0, 0.0)
    assert DayTally() == (None, 0.0, None, None, {}, {})


def test_a_kilowatt_hour_is_3600000_joules() -> None:
    """By definition: 1000 W for 3600 s."""
    assert JOULES_PER_KWH == 1000.0 * 3600.0


def test_what_is_not_said_of_a_tick_is_none() -> None:
    """No day has ended with it, and it need not be looked at again soon."""
    world = World(settle=False)
    world.tick()
    assert world.record is not None
    assert TickRecord(*world.record[:8]).finished_day is None
    assert Decision({}, (), (), ()).look_again_s is None


def test_the_probes_of_the_house_are_compared_with_those_of_their_kind() -> None:
    """Air with air, soil with soil, root zone with root zone; outlets go by their loop."""
    groups = probe_groups(HOUSE)
    assert groups == ProbeGroups(
        ceilings=("ceiling-west", "ceiling-east"),
        benches=("bench",),
        soils=("north-soil", "middle-soil", "south-soil"),
        roots=("north-roots", "middle-roots", "south-roots"),
        outlets=(("north", "north-outlet"), ("middle", "middle-outlet"), ("south", "south-outlet")),
    )
    assert groups.names == set(HOUSE.probes) - {"outdoor"}
