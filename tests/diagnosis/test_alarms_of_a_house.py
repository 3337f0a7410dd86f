"""What calls a person in the life of a house: heat, frost, probes and water, and nothing in a sound week."""

from __future__ import annotations

from controller.decision.state import FireState
from controller.diagnosis.learn import nothing_learned
from controller.faults import FaultCode, Finding
from controller.readings.reading import Level, Why
from tests.decision.world import HOUR_S, MINUTE_S, World, two_sumps


def test_a_healthy_week_raises_nothing() -> None:
    """Sunny days, cold nights and a little rain bring no alarm in a week."""
    world = World()
    world.remember_need(4.0)
    for _ in range(7):
        world.sunny()
        world.run(6 * HOUR_S, 120.0)
        world.ceiling_c = world.bench_c = 15.0
        world.level["main"] = Level.WET
        world.run(30.0)
        world.level["main"] = Level.DRY
        world.run(6 * HOUR_S, 120.0)
        world.ceiling_c = world.bench_c = 4.0
        world.run(12 * HOUR_S, 120.0)
    assert world.events == []
    assert world.broken == []


def test_missing_temperatures_raise_alarms_with_their_cause() -> None:
    """A lost ceiling and a lost soil each get an alarm that says what their probe does."""
    world = World()
    world.ceiling_c, world.soil_c["south"] = Why.OUTVOTED, Why.STUCK
    world.run(11 * MINUTE_S)
    assert world.decision is not None
    assert {(a.code.value, a.subject, a.detail) for a in world.alarms_now} == {
        ("ceiling-unknown", "", "ceiling disagrees with the other probes of its place"),
        ("soil-unknown", "south", "soil probe shows the same value while the others change"),
    }


def test_findings_of_others_become_alarms_too() -> None:
    """What storage, link and settings report reaches a person the same way."""
    world = World()
    world.findings = (Finding(FaultCode.STORAGE, "", "card is read-only"),)
    world.run(6 * MINUTE_S)
    assert world.decision is not None
    (alarm,) = world.alarms_now
    assert (alarm.code, alarm.detail) == (FaultCode.STORAGE, "card is read-only")


def test_a_hot_bench_calls_for_vents_after_half_an_hour() -> None:
    """Heat that fans cannot take away raises an alarm, which is hidden while a fire explains it."""
    world = World()
    for step in range(120):
        world.ceiling_c, world.bench_c = 15.0 + step / 4.0, 14.0 + step / 4.7
        world.tick(30.0)
    world.ceiling_c, world.bench_c = 45.0, 41.0
    world.run(29 * MINUTE_S)
    assert world.alarms() == set()
    world.run(2 * MINUTE_S)
    assert world.alarms() == {"too-hot"}
    world.probe_c["ceiling-west"] = world.probe_c["bench"] = 70.0
    world.tick()
    assert world.alarms() == {"fire"}


def test_two_sumps_raise_two_alarms() -> None:
    """The same fault at two sumps is two alarms, each with its sump."""
    world = World(two_sumps())
    world.level = {"main": Level.WET, "low": Level.WET}
    world.run(HOUR_S)
    assert world.decision is not None
    assert {(a.code.value, a.subject) for a in world.alarms_now} == {
        ("sump-not-emptying", "main"),
        ("sump-not-emptying", "low"),
    }


def test_where_learning_fails_alarms_of_others_and_of_fire_still_come_and_nothing_is_forgotten() -> None:
    """What was learned stays as it is; what a person must know is raised, and ends when it is over."""
    world = World()
    world.run(HOUR_S)
    evidence = world.evidence
    found = world.snapshot()._replace(findings=(Finding(FaultCode.STORAGE, "", "card is read-only"),))
    burning = world.state._replace(fire=FireState("bench reads 70.0 °C", world.now_s))
    codes = []
    over = (world.snapshot(), world.state)
    for seen, state in ((found, burning), (found, burning), over, over):
        world.now_s += HOUR_S
        after = nothing_learned(evidence, seen, state, world.now_s)
        assert after.evidence._replace(alarms=evidence.alarms) == evidence
        evidence = after.evidence
        codes.append({alarm.code for alarm in after.alarms})
    assert codes == [{FaultCode.FIRE}, {FaultCode.FIRE, FaultCode.STORAGE}, {FaultCode.STORAGE}, set()]
