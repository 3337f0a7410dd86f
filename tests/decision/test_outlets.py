"""What outlets tell about fans: dead, without a command, connected crosswise, or shut off by water."""

from __future__ import annotations

import pytest

from controller.decision.heat import plan_for
from controller.diagnosis.outlets import WELDED_S, air_moves, is_known
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World

(NORTH, *_) = plan_for(HOUSE).loops
UNKNOWN = Missing(Why.SILENT, 0.0)


def moves(ceiling_c: float | None, bench_c: float | None, soil_c: float, outlet_c: float) -> float | None:
    """How much the north outlet looks like moving air."""

    def reading(value: float | None) -> Reading:
        return UNKNOWN if value is None else Good(value, 0.0)

    loop = LoopReadings(Good(soil_c, 0.0), UNKNOWN, Good(outlet_c, 0.0))
    return air_moves(NORTH, reading(ceiling_c), reading(bench_c), loop)


@pytest.mark.parametrize(
    ("ceiling_c", "bench_c", "soil_c"), [(30.0, 26.0, 14.0), (30.0, None, 14.0), (1.0, 2.0, 12.0)]
)
def test_air_near_the_soils_temperature_moves_and_air_halfway_to_the_house_is_still(
    ceiling_c: float, bench_c: float | None, soil_c: float
) -> None:
    """By day and by night, with and without a bench probe."""
    house_c = ceiling_c if bench_c is None else bench_c
    still = moves(ceiling_c, bench_c, soil_c, soil_c + 0.5 * (house_c - soil_c))
    assert still == pytest.approx(0.0)
    moving = moves(ceiling_c, bench_c, soil_c, soil_c + 0.15 * (ceiling_c - soil_c))
    assert moving == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("ceiling_c", "bench_c", "soil_c"),
    [(18.9, 18.9, 14.0), (30.0, 18.0, 14.0), (None, 20.0, 14.0), (14.0, 14.0, 14.0)],
    ids=["small difference", "cool bench", "no ceiling", "none"],
)
def test_an_outlet_is_not_judged_where_moving_and_still_air_are_alike(
    ceiling_c: float | None, bench_c: float | None, soil_c: float
) -> None:
    """Below 5 K between ceiling and soil, or where both would read about the same, there is no answer."""
    assert moves(ceiling_c, bench_c, soil_c, 15.0) is None


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
    assert proven.state.outlets.known
    assert any(is_known(signs) for signs in proven.state.outlets.records.values())
    before = proven.state.outlets.records
    proven.restart(same_boot=False)
    assert proven.state.outlets.known
    assert proven.state.outlets.records == before


def test_a_dead_fan_is_told_although_its_outlet_is_cooler_than_the_roof(proven: Fans) -> None:
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
    """Outlets that have never looked moving may sit where they cannot tell; nobody is called."""
    fans = Fans()
    fans.moved_by = dict.fromkeys(fans.moved_by, None)
    fans.sunny()
    fans.run(6 * HOUR_S, MINUTE_S)
    assert fans.events == []
    assert not fans.state.outlets.known


def test_a_loop_that_never_moved_much_heat_is_not_taken_for_dead(proven: Fans) -> None:
    """Its air comes out as warm as still air on a sunny day; with a low share learned that is no sign."""
    weak = proven.state.fans["north"].response._replace(share=0.6)
    proven.state = proven.state._replace(
        fans={**proven.state.fans, "north": proven.state.fans["north"]._replace(response=weak)}
    )
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


def test_a_fan_that_runs_without_a_command_is_told_within_hours(proven: Fans) -> None:
    """Its outlet goes on looking moving on a night on which its fan is off."""
    proven.welded.add("middle")
    proven.ceiling_c, proven.bench_c = 6.5, 6.5
    proven.run(WELDED_S - 5 * MINUTE_S, MINUTE_S)
    assert proven.events == []
    proven.run(HOUR_S, MINUTE_S)
    assert proven.events == [("fan-unasked", "middle", True)]
    proven.welded.clear()
    proven.run(HOUR_S, MINUTE_S)
    assert proven.events[1:] == [("fan-unasked", "middle", False)]


def test_it_is_told_again_after_a_restart(proven: Fans) -> None:
    """What took an hour to see is not forgotten with the program."""
    proven.welded.add("middle")
    proven.ceiling_c, proven.bench_c = 6.5, 6.5
    proven.run(2 * HOUR_S, MINUTE_S)
    proven.events.clear()
    proven.restart()
    proven.tick()
    assert proven.events == [("fan-unasked", "middle", True)]


def test_fans_connected_crosswise_are_told_once_with_both_names(proven: Fans) -> None:
    """The loop that starts alone moves the other one's air; both together look sound and say nothing."""
    proven.moved_by |= {"north": "south", "south": "north"}
    for _ in range(3):
        proven.day()
    told = [event for event in proven.events if event[0] == "fan-swapped"]
    assert told == [("fan-swapped", "north", True)]
    assert proven.decision is not None
    (alarm,) = (one for one in proven.decision.alarms if one.code.value == "fan-swapped")
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
    before = proven.state.outlets.records
    proven.welded.add("middle")
    proven.ceiling_c, proven.bench_c = 12.0, 12.0
    proven.run(12 * HOUR_S, MINUTE_S)
    assert proven.state.outlets.records == before
    assert proven.events == []
