"""What the outlets teach about a loop, and what is made of it."""

from __future__ import annotations

import math

import pytest

from controller.cli.arguments import LONGEST_PACE_S
from controller.diagnosis.heat_share import (
    FOLLOWS_IN_S,
    LONGEST_GAP_S,
    UNKNOWN_SHARE,
    HeatShare,
    known_share,
    learned,
    paused,
)
from tests.decision.world import HOUR_S, HOUSE, World

EVERY_S = 10.0


def taught(moved_w: float, for_s: float, response: HeatShare = UNKNOWN_SHARE) -> HeatShare:
    """A loop of which 1000 W are expected, looked at every ten seconds."""
    for step in range(int(for_s / EVERY_S) + 1):
        response = learned(response, moved_w, 1000.0, step * EVERY_S)
    return response


def test_nothing_is_known_of_a_loop_before_it_has_run_for_hours() -> None:
    """Its first three hours are watched and not yet believed."""
    assert known_share(UNKNOWN_SHARE) is None
    assert known_share(taught(500.0, 3.0 * HOUR_S - EVERY_S)) is None
    assert known_share(taught(500.0, 3.0 * HOUR_S)) == taught(500.0, 3.0 * HOUR_S).share


@pytest.mark.parametrize("share", [0.5, 1.2])
def test_what_is_known_follows_what_is_seen_like_a_first_order_lag(share: float) -> None:
    """After ten hours, its time constant, 1 - 1/e of the way is made, whatever the tick."""
    followed = 1.0 + (1.0 - math.exp(-1.0)) * (share - 1.0)
    assert taught(1000.0 * share, 10.0 * HOUR_S).share == pytest.approx(followed)
    assert taught(1000.0 * share, 10.0 * HOUR_S).judged_s == pytest.approx(10.0 * HOUR_S)


@pytest.mark.parametrize(("moved_w", "limit"), [(-500.0, 0.3), (9000.0, 1.5)])
def test_what_no_tube_can_do_is_taken_for_the_most_it_could(moved_w: float, limit: float) -> None:
    """Beyond the limits the probes are wrong rather than the tubes."""
    assert taught(moved_w, 20.0 * FOLLOWS_IN_S).share == pytest.approx(limit)


def test_time_in_which_nobody_looked_teaches_nothing() -> None:
    """A stretch begins anew after a stop and after a gap, and its first look has no weight."""
    before = taught(500.0, HOUR_S)
    assert before.at_mono_s is not None
    gap = learned(before, 1500.0, 1000.0, before.at_mono_s + LONGEST_GAP_S + 1.0)
    assert (gap.share, gap.judged_s) == (before.share, before.judged_s)
    stopped = learned(paused(before), 1500.0, 1000.0, before.at_mono_s + EVERY_S)
    assert (stopped.share, stopped.judged_s) == (before.share, before.judged_s)
    looked = learned(before, 1500.0, 1000.0, before.at_mono_s + EVERY_S)
    assert looked.share > before.share


def test_a_look_half_a_second_after_the_last_counts_for_that_half_second() -> None:
    """Ticks that come early, as after an event, teach as much as their time."""
    before = taught(500.0, HOUR_S)
    assert before.at_mono_s is not None
    looked = learned(before, 1500.0, 1000.0, before.at_mono_s + 0.5)
    assert looked.judged_s == before.judged_s + 0.5
    assert looked.share == pytest.approx(before.share + 0.5 / 36000.0 * (1.5 - before.share), abs=1e-9)


def test_a_rehearsal_at_its_slowest_pace_learns_the_share_of_a_loop() -> None:
    """What the device learns in a few hours of running, a rehearsed year of rare ticks has to learn, too."""
    share = UNKNOWN_SHARE
    for number in range(40):
        share = learned(share, 500.0, 1000.0, number * LONGEST_PACE_S)
    assert known_share(share) is not None
    assert share.share < 0.75


def weak_loop(share: float) -> World:
    """A sunny winter day on which the north outlet shows only this share of the expected heat."""
    world = World()
    world.remember_need(2.0)
    world.sunny()
    plan = HOUSE.derived.loops[0]
    world.outlet_c["north"] = 27.0 - share * plan.expected_w_per_k * (27.0 - 14.0) / plan.air_w_per_k
    return world


def test_a_loop_that_moves_less_heat_than_expected_is_expected_to_move_less() -> None:
    """After a long day the reason for the next start gives the heat that was learned."""
    world = weak_loop(0.6)
    world.run(12 * HOUR_S, 30.0)
    share = world.evidence.heat_shares["north"].share
    assert 0.6 < share < 0.8
    plan = HOUSE.derived.loops[0]
    told_w = world.state.fans["north"].reason.numbers["heat_w"]
    assert told_w == pytest.approx(share * plan.expected_w_per_k * 13.0, rel=0.01)
    assert world.broken == []


def test_what_was_learned_outlives_a_restart() -> None:
    """Days of looking are not lost by an update of the program."""
    world = weak_loop(0.6)
    world.run(6 * HOUR_S, 30.0)
    before = world.evidence.heat_shares["north"]
    world.restart(5.0)
    after = world.evidence.heat_shares["north"]
    assert after.at_mono_s is None
    assert after.share == pytest.approx(before.share, abs=0.002)
    assert after.judged_s == pytest.approx(before.judged_s, abs=120.0)
