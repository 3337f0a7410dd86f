"""What went off without a decision: the state after it, its record, and who notices if it is ignored."""

from __future__ import annotations

import pytest

from controller.decision.decide import initial_state
from controller.decision.driven import NO_PINS, Lost, Pins, Turn, after_loss, as_driven
from controller.decision.reasons import ReasonCode
from controller.decision.state import Proof, PumpPhase
from controller.equipment import OutputId
from controller.readings.reading import Level
from controller.record.memory import to_memory
from controller.record.restoring import restored
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

NORTH, MIDDLE, SOUTH = (OutputId.fan(name) for name in ("north", "middle", "south"))
MAIN = OutputId.pump("main")
FANS, PUMP, LEASE_S = HOUSE.fans, HOUSE.pump, HOUSE.service.lease_s


def banking() -> World:
    """A sunny noon with every fan on."""
    world = World()
    world.sunny()
    world.run(5 * MINUTE_S)
    assert world.fans_on() == 3
    return world


def pumping() -> World:
    """A sump that has just got wet, with the pump on."""
    world = World()
    world.level["main"] = Level.WET
    world.run(MINUTE_S)
    assert world.pump()
    return world


def test_after_a_lease_every_fan_rests_and_starts_are_staggered() -> None:
    """Three fans go off together; each rests, then they start one after the other as after a restart."""
    world = banking()
    world.lease_runs_out()
    back_s = world.now_s
    assert world.fans_on() == 0
    world.run(20 * MINUTE_S)
    starts_s = sorted(at_s for name in ("north", "middle", "south") for at_s in world.starts(name)[1:])
    assert len(starts_s) == 3
    assert starts_s[0] >= back_s + FANS.minimum_rest_s
    assert starts_s[1] >= starts_s[0] + FANS.stagger_s
    assert starts_s[2] >= starts_s[1] + FANS.stagger_s
    assert world.broken == []


def test_every_output_that_went_off_is_recorded_with_its_reason() -> None:
    """The change says how long no decision came, and how long the motor rests."""
    world = banking()
    world.lease_runs_out()
    assert world.decision is not None
    reasons = {change.output: change.reason for change in world.decision.changes}
    assert set(reasons) == {NORTH, MIDDLE, SOUTH}
    for reason in reasons.values():
        assert reason.code is ReasonCode.NO_DECISION
        assert reason.numbers == {"for_s": LEASE_S, "rest_s": FANS.minimum_rest_s}


def test_pump_that_was_cut_owes_what_a_restart_makes_it_owe() -> None:
    """Output by output and sump by sump the state is that of a restart at this moment."""
    world = pumping()
    now_s = world.now_s + 50.0
    after, changes = after_loss(world.state, Lost(frozenset(), LEASE_S, now_s), HOUSE, now_s)
    fresh = initial_state(HOUSE, now_s)
    again = restored(
        fresh, to_memory(world.state, world.evidence, now_s).data, same_boot=True, now_mono_s=now_s
    )
    assert [change.output for change in changes] == [MAIN]
    assert after.outputs[MAIN] == again.outputs[MAIN]
    assert after.sumps["main"].phase is again.sumps["main"].phase is PumpPhase.RESTING
    assert after.sumps["main"].last_water_s == again.sumps["main"].last_water_s == now_s
    world.lease_runs_out()
    world.run(HOUR_S / PUMP.starts_per_hour + PUMP.rest_s + MINUTE_S)
    assert world.pump_starts()[1] - world.pump_stops()[0] >= PUMP.rest_s


def test_lease_with_nothing_on_is_a_restart_for_every_output() -> None:
    """Nothing is recorded, as nothing changed, but every motor rests before it starts."""
    world = World()
    world.lease_runs_out()
    assert world.decision is not None
    assert world.decision.changes == ()
    world.sunny()
    back_s = world.now_s
    world.run(FANS.minimum_rest_s + 3 * MINUTE_S)
    assert min(world.starts()) >= back_s + FANS.minimum_rest_s


@pytest.mark.parametrize("lease", [True, False])
def test_fan_that_went_off_keeps_only_what_it_has_learned(lease: bool) -> None:
    """Its run, its proof and its weakness are over; a fan that runs on keeps all of it."""
    world = banking()
    weak = {name: fan._replace(weak_since_s=1.0, failed_runs=2) for name, fan in world.state.fans.items()}
    state = world.state._replace(fans=weak)
    lost = Lost(frozenset(), LEASE_S, world.now_s) if lease else Lost(frozenset({MIDDLE}))
    after, _ = after_loss(state, lost, HOUSE, world.now_s)
    code = ReasonCode.NO_DECISION if lease else ReasonCode.OUTPUT_FAILED
    for name, fan in after.fans.items():
        if lease or name == "middle":
            assert (fan.demand, fan.proof, fan.weak_since_s, fan.reason.code) == (
                None,
                Proof.IDLE,
                None,
                code,
            )
            assert (fan.weak_since_s, fan.failed_runs) == (None, 2)
        else:
            assert fan is weak[name]


def test_pump_that_was_cut_in_its_run_on_has_a_new_one_and_says_why_it_stands() -> None:
    """The dry seconds of a run that is over count no more."""
    world = pumping()
    world.level["main"] = Level.DRY
    world.tick(1.0)
    assert world.state.sumps["main"].fell_dry_s is not None
    after, _ = after_loss(world.state, Lost(frozenset({MAIN})), HOUSE, world.now_s)
    main = after.sumps["main"]
    assert (main.fell_dry_s, main.reason.code) == (None, ReasonCode.OUTPUT_FAILED)


def test_float_that_nobody_looked_at_counts_as_lost_since_the_last_look() -> None:
    """After a lease water may have come and gone: unread since the last decision, water until now."""
    world = World()
    now_s = world.now_s + 60.0
    after, _ = after_loss(world.state, Lost(frozenset(), LEASE_S, world.now_s + LEASE_S), HOUSE, now_s)
    main = after.sumps["main"]
    assert (main.last_water_s, main.unreadable_since_s) == (now_s, world.now_s)


def test_single_output_that_failed_rests_alone() -> None:
    """The other fans run on, and the one that went off tries again after its rest, with a recorded start."""
    world = banking()
    world.output_fails(MIDDLE)
    assert world.decision is not None
    (change,) = world.decision.changes
    assert (change.output, change.reason.code) == (MIDDLE, ReasonCode.OUTPUT_FAILED)
    assert (world.fan("north"), world.fan("middle"), world.fan("south")) == (True, False, True)
    state = world.state.fans["middle"]
    assert (state.demand, state.proof) == (None, Proof.IDLE)
    world.run(FANS.minimum_rest_s + MINUTE_S)
    assert world.fan("middle")
    assert world.broken == []


@pytest.mark.parametrize("late_s", [0.05, 0.2, 20.0])
def test_motor_that_turned_late_counts_from_when_it_turned(late_s: float) -> None:
    """A start that was notably late moves run and stagger with it; one within the accuracy does not."""
    world = World()
    world.sunny()
    world.late_s = late_s
    world.tick()
    started_s = world.now_s + (late_s if late_s > 0.1 else 0.0)
    (output,) = [output for output, one in world.state.outputs.items() if one.on]
    assert world.state.outputs[output].since_mono_s == started_s
    assert world.state.outputs[output].starts_mono_s == (started_s,)
    assert world.state.last_start_s == started_s


def test_stop_that_came_late_is_when_the_rest_begins() -> None:
    """A relay that let go a minute after it was commanded off rests from then on."""
    world = banking()
    off = world.state.outputs[NORTH]._replace(on=False, since_mono_s=world.now_s)
    state = world.state._replace(outputs={**world.state.outputs, NORTH: off})
    turned = as_driven(state, Pins({}, (Turn(NORTH, False, world.now_s + MINUTE_S),)))
    assert turned.outputs[NORTH].since_mono_s == world.now_s + MINUTE_S
    assert turned.last_start_s == state.last_start_s
    assert as_driven(state, NO_PINS) is state


def test_old_commands_driven_again_after_a_trip_are_seen_at_the_pins() -> None:
    """If the decision did not know and everything came back at once, four sentences would say so."""
    world = banking()
    world._all_off_at(world.now_s + LEASE_S)
    world.turns += [Turn(output, True, world.now_s + LEASE_S + 0.003) for output in (NORTH, MIDDLE)]
    world.tick(LEASE_S + 1.0)
    said = [broken.detail for broken in world.broken]
    assert "P13: fan:north went on although no start was recorded" in said
    assert "P4: fan:north was off for 0.003 s of 600.0 s" in said
    assert "P11: fan:middle went on 0.000 s after another motor" in said
    world.tick()
    assert "P13: fan:south went off and no reason was recorded" in [one.detail for one in world.broken]


def test_thirteen_starts_in_twenty_minutes_are_seen_at_the_pins() -> None:
    """Starts that no command shows are counted against the most an hour allows."""
    world = World(settings_with(fans={"starts_per_hour": 12}))
    world.sunny()
    world.run(MINUTE_S)
    for _ in range(12):
        world.turns += [Turn(NORTH, False, world.now_s + 35.0), Turn(NORTH, True, world.now_s + 95.0)]
        world.tick(100.0)
    assert "P4: fan:north went on more than 12 times in an hour" in [one.detail for one in world.broken]


def test_pin_that_ran_shorter_than_commanded_is_seen() -> None:
    """A start that came late and a stop that came in time make a run too short."""
    world = banking()
    world.turns.append(Turn(NORTH, False, world.now_s + 1.0))
    world.ceiling_c = world.bench_c = 14.0
    world.run(FANS.minimum_run_s + MINUTE_S)
    assert any(words.startswith("P13: fan:north went off") for words in (one.detail for one in world.broken))
