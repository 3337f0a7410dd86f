"""When a fan that is wanted may start, how long it runs at least, and who waits for another."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from controller.decision.fans import FanIntent
from controller.decision.state import Demand, FanState, Lockout, OutputState, Proof
from controller.decision.wish import LoopView, Wish
from controller.diagnosis.heat_share import UNKNOWN_SHARE, HeatShare
from controller.equipment import OutputId
from tests.decision.loop import A_MOMENT_S, FANS, NEED, NOTHING, OVER, PLAN, SETTINGS, TRUSTED, WANTED, Loop
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("heat_share", "share"),
    [(UNKNOWN_SHARE, 1.0), (TRUSTED, 0.9), (TRUSTED._replace(judged_s=3 * HOUR_S - 1.0), 1.0)],
)
def test_the_demand_rule_is_shown_what_it_may_decide_on(heat_share: HeatShare, share: float) -> None:
    """Settings, temperatures, need, turn, what the fan runs for, and the heat its outlet has taught."""
    loop = Loop()
    loop.air_c, loop.share = 39.0, heat_share
    loop.look()
    heat_w_per_k = share * PLAN.expected_w_per_k
    expected = LoopView(SETTINGS, PLAN, 40.0, 0.0, 39.0, NEED, None, loop.rank, heat_w_per_k, "ceiling")
    assert loop.view == expected
    loop.look(10.0)
    assert loop.view == expected._replace(running_for=Demand.BANK)


@pytest.mark.parametrize(("soil_c", "difference_k"), [(10.0, 30.0), (56.0, 16.0)])
def test_a_start_is_asked_for_with_its_difference(soil_c: float, difference_k: float) -> None:
    """A wanted loop at rest asks, with the reason of the demand and the difference whatever its sign."""
    loop = Loop()
    loop.soil = soil_c
    loop.state = loop.state._replace(lockouts=(Lockout.RESTING,))
    loop.look()
    state = FanState(Demand.BANK, WANTED, Proof.PURGING)
    assert loop.intent == FanIntent(state, on=False, asks_to_start=True, difference_k=difference_k)


def test_a_loop_that_is_not_wanted_stays_off_and_keeps_its_failures() -> None:
    """Demand, proof and lockouts are gone; what failed, until when, and what was learned is kept."""
    loop = Loop()
    failed = (2, loop.now_s + HOUR_S)
    loop.share = TRUSTED._replace(at_mono_s=loop.now_s - 1.0)
    loop.state = FanState(Demand.BANK, WANTED, Proof.WEAK, 5.0, *failed, (Lockout.BACK_OFF,))
    loop.wish = NOTHING
    assert not loop.look()
    assert loop.failures() == failed
    assert (loop.state.demand, loop.state.reason) == (None, OVER)
    assert (loop.state.proof, loop.state.weak_since_s) == (Proof.IDLE, None)
    assert (loop.state.lockouts, loop.share) == ((), TRUSTED)


@pytest.mark.parametrize(("ran_s", "runs_on"), [(-A_MOMENT_S, True), (0.0, False)])
def test_a_fan_runs_its_minimum_run_after_its_demand_is_over(ran_s: float, runs_on: bool) -> None:
    """To the moment; until then it keeps what it was started for, with the reason."""
    loop = Loop().run()
    loop.wish = NOTHING
    assert loop.look(FANS.minimum_run_s - FANS.purge_s + ran_s) is runs_on
    expected = (Demand.BANK, WANTED) if runs_on else (None, OVER)
    assert (loop.state.demand, loop.state.reason) == expected


def test_a_running_fan_takes_over_what_it_is_wanted_for_now() -> None:
    """Banking that has become cooling is shown as cooling."""
    loop = Loop().run()
    loop.wish = Wish(Demand.COOL, OVER)
    loop.look(10.0)
    assert (loop.state.demand, loop.state.reason) == (Demand.COOL, OVER)


def stopped(loop: Loop) -> None:
    """It has stopped, and its rest is over in a moment."""
    loop.output = OutputState(on=False, since_mono_s=loop.now_s - FANS.minimum_rest_s + A_MOMENT_S)


def failed(loop: Loop) -> None:
    """Its last run moved no heat, and its back-off is over in a moment."""
    loop.state = loop.state._replace(back_off_until_s=loop.now_s + A_MOMENT_S, failed_runs=1)


def started_often(loop: Loop) -> None:
    """It has had its starts of the hour, the first of which is an hour old in a moment."""
    starts_s = (loop.now_s - HOUR_S + A_MOMENT_S, *[loop.now_s - 1000.0] * (FANS.starts_per_hour - 1))
    loop.output = loop.output._replace(starts_mono_s=starts_s)


@pytest.mark.parametrize(
    ("happened", "lockout", "number", "value"),
    [
        (stopped, Lockout.RESTING, "left_s", A_MOMENT_S),
        (failed, Lockout.BACK_OFF, "left_s", A_MOMENT_S),
        (started_often, Lockout.STARTS_SPENT, "starts", FANS.starts_per_hour),
    ],
)
def test_a_start_waits_to_the_moment(
    happened: Callable[[Loop], None], lockout: Lockout, number: str, value: float
) -> None:
    """For its rest, its back-off and the starts of the hour, and the reason counts them."""
    loop = Loop()
    happened(loop)
    assert not loop.look()
    assert (loop.state.lockouts, loop.number(number)) == ((lockout,), value)
    assert loop.state.reason.code.name == lockout.name
    assert loop.look(A_MOMENT_S)


@pytest.mark.parametrize(("failed_runs", "pause_s"), [(0, 1800.0), (1, 1800.0), (3, 7200.0)])
def test_in_frost_a_failed_loop_waits_for_the_shortest_back_off(failed_runs: int, pause_s: float) -> None:
    """From the end of the last run, however long its pause has become; nothing else shortens it."""
    loop = Loop(demand=Demand.FROST)
    loop.state = loop.state._replace(failed_runs=failed_runs, back_off_until_s=loop.now_s + pause_s)
    assert not loop.look(FANS.back_off_s - A_MOMENT_S)
    assert (loop.state.lockouts, loop.number("left_s")) == ((Lockout.BACK_OFF,), A_MOMENT_S)
    assert loop.look(A_MOMENT_S)


def test_starts_per_hour_hold_for_hours_of_a_demand_that_comes_and_goes() -> None:
    """Each start waits until the one that many starts ago is an hour old, and says so meanwhile."""
    world = World(settings_with(fans={"minimum_run_s": 60.0, "purge_s": 60.0, "minimum_rest_s": 60.0}))
    world.remember_need(2.0)
    said = set()
    for turn in range(360):
        world.sunny()
        if turn % 2:
            world.ceiling_c = world.bench_c = 14.0
        world.run(2 * MINUTE_S)
        said.add(world.why())
    assert any(
        f"starts in the last hour: {FANS.starts_per_hour}, the most allowed" in words for words in said
    )
    starts = world.starts()
    assert len(starts) > 9
    later = starts[FANS.starts_per_hour :]
    assert all(next_s - first_s >= HOUR_S for first_s, next_s in zip(starts, later, strict=False))
    assert world.broken == []


def test_fans_start_one_after_the_other() -> None:
    """Three fans wanted at once start a stagger apart; those that wait are shown idle and say why."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    decision = world.tick()
    assert decision.look_again_s == FANS.stagger_s
    waiting = [loop for loop in HOUSE.loops if not world.fan(loop)]
    assert [world.state.fans[loop].proof for loop in waiting] == [Proof.IDLE, Proof.IDLE]
    assert all("two motors never start together" in world.why(loop) for loop in waiting)
    world.run(2 * MINUTE_S)
    at_s = sorted(at for at, _, on in world.switched if on)
    assert [later - first for first, later in pairwise(at_s)] == [FANS.stagger_s] * 2


def test_every_switching_carries_its_reason() -> None:
    """Each change of a fan names the numbers it was decided on, and the command repeats the reason."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    decision = world.tick()
    (change,) = decision.changes
    assert change.reason == decision.commands[OutputId.fan(change.output.name)].reason
    assert change.reason.numbers["ceiling_c"] == world.ceiling_c
