"""What outlets show of the fans over days: dead, without a command, crosswise, or shut off by water."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.decision.world import HOUR_S, MINUTE_S, World

if TYPE_CHECKING:
    from controller.readings.reading import Why


class Fans(World):
    """A house whose outlets follow the fans, each of them as it is wired."""

    def __init__(self) -> None:
        super().__init__(settle=False)
        self.moved_by: dict[str, str | None] = {name: name for name in self.settings.loops}
        self.welded: set[str] = set()
        self.remember_need(2.0)
        self.run(2 * HOUR_S, MINUTE_S)

    def outlet(self, loop: str) -> float | Why:
        """Moving air is near the soil, still air halfway between soil and bench."""
        if loop in self.outlet_c:
            return self.outlet_c[loop]
        fan = self.moved_by[loop] if hasattr(self, "moved_by") else loop
        moving = loop in self.welded or (fan is not None and self.decision is not None and self.fan(fan))
        soil_c, ceiling_c, bench_c = self.soil_c[loop], self.ceiling_c, self.bench_c
        assert isinstance(soil_c, float)
        assert isinstance(ceiling_c, float)
        assert isinstance(bench_c, float)
        return soil_c + (0.15 * (ceiling_c - soil_c) if moving else 0.5 * (bench_c - soil_c))

    def sunny(self) -> None:
        """Sun through the whole house, so that moving and still air differ by more than 2 K."""
        self.ceiling_c, self.bench_c = 28.0, 24.0

    def day(self) -> None:
        """Six hours of sun, then a night that needs some warmth and one that needs none."""
        self.sunny()
        self.run(6 * HOUR_S, MINUTE_S)
        self.ceiling_c, self.bench_c = 4.2, 4.2  # one loop gives back
        self.run(6 * HOUR_S, MINUTE_S)
        self.ceiling_c, self.bench_c = 6.5, 6.5
        self.run(6 * HOUR_S, MINUTE_S)


@pytest.fixture(name="proven")
def _proven() -> Fans:
    """A sound house, two days old."""
    fans = Fans()
    fans.day()
    fans.day()
    assert fans.events == []
    return fans


def test_two_sound_days_show_what_outlets_look_like(proven: Fans) -> None:
    """Outlets that were seen both ways can be judged from then on, also after a restart."""
    assert proven.evidence.outlets.known
    before = proven.evidence.outlets.records
    proven.restart(same_boot=False)
    assert proven.evidence.outlets.known
    assert proven.evidence.outlets.records == before


def test_a_dead_fan_is_found_although_its_outlet_is_cooler_than_the_roof(proven: Fans) -> None:
    """Still air halfway to the soil is no heat moved: three runs are given up, then a person is called."""
    proven.moved_by["north"] = None
    proven.sunny()
    proven.run(6 * HOUR_S, MINUTE_S)
    assert ("fan-no-effect", "north", True) in proven.events
    assert {subject for code, subject, _ in proven.events if code == "fan-no-effect"} == {"north"}
    assert proven.state.fans["north"].back_off_until_s is not None
    assert proven.fan("south")
    assert proven.broken == []


def test_a_house_that_was_never_seen_sound_is_not_judged_by_its_outlets() -> None:
    """Outlets that have never looked moving may sit where they cannot show it; nobody is called."""
    fans = Fans()
    fans.moved_by = dict.fromkeys(fans.moved_by, None)
    fans.sunny()
    fans.run(6 * HOUR_S, MINUTE_S)
    assert fans.events == []
    assert not fans.evidence.outlets.known


def test_a_loop_that_never_moved_much_heat_is_not_taken_for_dead(proven: Fans) -> None:
    """Its air comes out as warm as still air on a sunny day; with a low share learned that is no sign."""
    weak = proven.evidence.heat_shares["north"]._replace(share=0.6)
    shares = proven.evidence.heat_shares | {"north": weak}
    proven.evidence = proven.evidence._replace(heat_shares=shares)
    proven.moved_by["north"] = None
    proven.sunny()
    proven.run(6 * HOUR_S, MINUTE_S)
    assert proven.events == []


def test_a_healed_fan_ends_its_alarm(proven: Fans) -> None:
    """The next run that moves heat, and can be seen to, forgives the failed ones."""
    proven.moved_by["north"] = None
    proven.sunny()
    proven.run(6 * HOUR_S, MINUTE_S)
    proven.moved_by["north"] = "north"
    proven.run(9 * HOUR_S, MINUTE_S)
    assert ("fan-no-effect", "north", False) in proven.events
    assert proven.state.fans["north"].failed_runs == 0


def test_a_fan_that_runs_without_a_command_is_found_within_hours(proven: Fans) -> None:
    """Its outlet goes on looking moving on a night on which its fan is off."""
    proven.welded.add("middle")
    proven.ceiling_c, proven.bench_c = 6.5, 6.5
    proven.run(25 * MINUTE_S, MINUTE_S)
    assert proven.events == []
    proven.run(HOUR_S, MINUTE_S)
    assert proven.events == [("fan-unasked", "middle", True)]
    proven.welded.clear()
    proven.run(HOUR_S, MINUTE_S)
    assert proven.events[1:] == [("fan-unasked", "middle", False)]


def test_its_alarm_comes_again_after_a_restart(proven: Fans) -> None:
    """What took an hour to see is not forgotten with the program."""
    proven.welded.add("middle")
    proven.ceiling_c, proven.bench_c = 6.5, 6.5
    proven.run(2 * HOUR_S, MINUTE_S)
    proven.events.clear()
    proven.restart()
    proven.tick()
    assert proven.events == [("fan-unasked", "middle", True)]


def test_fans_connected_crosswise_raise_one_alarm_with_both_names(proven: Fans) -> None:
    """The loop that starts alone moves the other one's air; both together look sound and say nothing."""
    proven.moved_by |= {"north": "south", "south": "north"}
    for _ in range(3):
        proven.day()
    raised = [event for event in proven.events if event[0] == "fan-swapped"]
    assert raised == [("fan-swapped", "north", True)]
    assert proven.decision is not None
    (alarm,) = (one for one in proven.alarms_now if one.code.value == "fan-swapped")
    assert alarm.detail == "its fan moves the air of loop south"
    assert {code for code, _, _ in proven.events} == {"fan-swapped"}


def test_loops_that_fail_together_point_at_their_sump(proven: Fans) -> None:
    """One alarm for what they share, none for each of them."""
    proven.moved_by = dict.fromkeys(proven.moved_by, None)
    proven.sunny()
    proven.run(8 * HOUR_S, MINUTE_S)
    assert proven.events == [("tubes-shut", "main", True)]


def test_too_little_difference_is_no_sign_either_way(proven: Fans) -> None:
    """In mild weather a fan without a command stays unknown, and is neither called welded nor sound."""
    before = proven.evidence.outlets.records
    proven.welded.add("middle")
    proven.ceiling_c, proven.bench_c = 12.0, 12.0
    proven.run(12 * HOUR_S, MINUTE_S)
    assert proven.evidence.outlets.records == before
    assert proven.events == []
