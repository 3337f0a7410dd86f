"""Random days: whatever is seen, set, lost or restarted, in any order, no promise is broken."""

from __future__ import annotations

from copy import deepcopy
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from controller.decision.decide import decide
from controller.decision.driven import as_driven
from controller.faults import FaultCode
from controller.readings.reading import Level, Why
from controller.record.motor_watch import SeenMotor
from controller.record.promises import PromiseWatch
from controller.settings.orders import ORDERS
from tests.decision.world import HOUR_S, HOUSE, World, settings_with, two_sumps

if TYPE_CHECKING:
    from typing import Any

    from controller.decision.command import Decision
    from controller.settings.schema import Settings

LOST = st.sampled_from([Why.SILENT, Why.STALE, Why.JUMP, Why.NEVER_READ, Why.OUTVOTED, Why.NOT_FITTED])
# Below 40 °C a change of the air is weather however fast; fires have their own rule.
AIR_C = st.floats(-15.0, 39.0) | LOST
# Where the thresholds of the house are, and a hair on either side of them.
CRITICAL_C = st.sampled_from([1.9, 2.0, 2.1, 3.0, 5.0, 6.0, 12.0, 13.0, 19.0, 20.0, 27.0, 28.0, 31.0, 32.0])
GROUND_C = st.floats(0.0, 38.0) | st.sampled_from([6.0, 6.4, 6.5, 25.5, 26.0, 35.5, 36.0]) | LOST
LEVEL = st.sampled_from([Level.DRY, Level.DRY, Level.DRY, Level.WET, Level.WET, Why.UNREADABLE, Why.STALE])
LOOPS = st.sampled_from(list(HOUSE.loops))
STEP_S = st.sampled_from([0.05, 0.2, 1.0, 5.0, 10.0, 29.0, 30.0, 60.0, 119.0, 301.0, 600.0, 1800.0, 7200.0])
DATES = (
    None,
    datetime(1970, 1, 1, tzinfo=UTC),
    datetime(2026, 3, 1, tzinfo=UTC),
    datetime(2099, 1, 1, tzinfo=UTC),
)

FANS = st.fixed_dictionaries(
    {},
    optional={
        "minimum_run_s": st.sampled_from([300.0, 600.0, 1800.0]),
        "minimum_rest_s": st.sampled_from([60.0, 300.0, 1800.0]),
        "starts_per_hour": st.integers(1, 12),
        "stagger_s": st.sampled_from([5.0, 30.0, 120.0]),
        "purge_s": st.sampled_from([60.0, 300.0]),
        "useful_difference_k": st.sampled_from([1.5, 3.0, 8.0]),
        "return_difference_k": st.sampled_from([0.5, 0.8, 5.0]),
        "return_spread_k": st.sampled_from([0.0, 0.5, 5.0]),
        "proven_heat_per_watt": st.sampled_from([0.0, 1.5, 6.0]),
        "heat_per_watt": st.sampled_from([1.0, 4.0, 25.0]),
        "run_in_frost_with_float_unreadable": st.booleans(),
    },
)
PUMP = st.fixed_dictionaries(
    {},
    optional={
        "run_on_s": st.sampled_from([5.0, 20.0, 50.0]),
        "longest_run_s": st.sampled_from([900.0, 1800.0, 3600.0]),
        "minimum_rest_s": st.sampled_from([30.0, 90.0, 360.0]),
        "rest_s": st.sampled_from([30.0, 90.0, 360.0]),
        "starts_per_hour": st.integers(4, 20),
        "duty_run_s": st.sampled_from([10.0, 60.0, 180.0]),
        "duty_rest_s": st.sampled_from([600.0, 840.0, 3600.0]),
        "exercise_every_s": st.sampled_from([86400.0, 604800.0]),
        "drain_down_s": st.sampled_from([60.0, 1800.0, 7200.0]),
    },
)
SETPOINTS = st.fixed_dictionaries(
    {},
    optional={
        "heat_below_c": st.sampled_from([3.0, 5.0, 12.0]),
        "root_zone_max_c": st.sampled_from([20.0, 26.0]),
        "root_zone_rescue_max_c": st.sampled_from([26.0, 30.0]),
        "cool_above_c": st.sampled_from([20.0, 28.0, 32.0]),
        "night_purge": st.booleans(),
        "comfort_floor_c": st.sampled_from([0.0, 5.0, 12.0]),
        "cooling": st.booleans(),
        "root_zone_min_c": st.sampled_from([2.0, 6.0]),
        "air_deadband_k": st.sampled_from([0.2, 1.0, 5.0]),
    },
)


class WatchedWorld(World):
    """A world in which every tick is also decided a second time, on another date."""

    def tick(self, after_s: float = 10.0) -> Decision:
        """Decide; the same input gives the same output whatever the date, and stays as it was."""
        if self.lost is not None:  # decided from another state than the last
            return super().tick(after_s)
        before = self.state
        kept = deepcopy(before)
        decision = super().tick(after_s)
        assert self.record is not None
        seen = self.record.snapshot
        kept_seen = deepcopy(seen)
        elsewhen = seen._replace(wall_utc=DATES[self.seq % len(DATES)])
        again, after = decide(elsewhen, before, self.settings, self.now_s, self.rule, self.known)
        assert (again, as_driven(after, self.record.pins)) == (decision, self.state)
        assert before == kept
        assert seen == kept_seen
        assert self.broken == []
        return decision


class House(RuleBasedStateMachine):
    """Everything that can happen to a house, as rules."""

    world: WatchedWorld

    @initialize(two=st.booleans(), settle=st.booleans(), coldest_c=st.floats(-10.0, 20.0))
    def build(self, two: bool, settle: bool, coldest_c: float) -> None:
        """Begin with one sump or two, freshly started or long settled."""
        self.base = two_sumps() if two else HOUSE
        self.world = WatchedWorld(self.base, settle=settle)
        self.world.remember_need(coldest_c)

    @rule(ceiling=AIR_C | CRITICAL_C, bench=AIR_C | CRITICAL_C, ticks=st.integers(1, 5))
    def weather(self, ceiling: float | Why, bench: float | Why, ticks: int) -> None:
        """The air changes."""
        self.world.ceiling_c, self.world.bench_c = ceiling, bench
        self.world.run(10.0 * ticks)

    @rule(kind=st.sampled_from(["sunny", "frosty", "hot"]), for_s=st.sampled_from([60.0, 900.0, 5400.0]))
    def ordinary_weather(self, kind: str, for_s: float) -> None:
        """A spell in which the fans have something to do, ticked as the loop would."""
        world = self.world
        if kind == "hot":
            world.ceiling_c, world.bench_c = 39.0, 33.0
        else:
            getattr(world, kind)()
        world.run(for_s, 60.0)

    @rule(loop=LOOPS, soil=GROUND_C, root=GROUND_C)
    def ground(self, loop: str, soil: float | Why, root: float | Why) -> None:
        """The ground of one loop changes, or a probe in it is lost or back."""
        self.world.soil_c[loop], self.world.root_c[loop] = soil, root

    @rule()
    def good_ground(self) -> None:
        """All ground probes are back and read what they usually do."""
        self.world.soil_c = dict.fromkeys(HOUSE.loops, 14.0)
        self.world.root_c = dict.fromkeys(HOUSE.loops, 14.0)

    @rule(loop=LOOPS, outlet=st.none() | st.floats(-5.0, 60.0) | LOST)
    def outlet(self, loop: str, outlet: float | Why | None) -> None:
        """An outlet reads something, is lost, or follows its loop again."""
        if outlet is None:
            self.world.outlet_c.pop(loop, None)
        else:
            self.world.outlet_c[loop] = outlet

    @rule(data=st.data(), level=LEVEL, after_s=STEP_S)
    def water(self, data: st.DataObject, level: Level | Why, after_s: float) -> None:
        """A float changes and a tick follows."""
        sump = data.draw(st.sampled_from(list(self.base.sumps)))
        self.world.level[sump] = level
        self.world.run(after_s, after_s)

    @rule(levels=st.lists(LEVEL, min_size=4, max_size=12), after_s=st.sampled_from([0.05, 1.0, 6.0, 130.0]))
    def chatter(self, levels: list[Level | Why], after_s: float) -> None:
        """A float bounces."""
        for level in levels:
            self.world.level["main"] = level
            self.world.run(after_s, after_s)

    @rule(for_s=st.sampled_from([400.0, 2400.0, 9000.0, 50_000.0]), level=LEVEL)
    def long_water(self, for_s: float, level: Level | Why) -> None:
        """A float stays as it is for long, ticked as the loop would."""
        self.world.level["main"] = level
        self.world.run(for_s, 120.0)

    @rule(after_s=STEP_S, ticks=st.integers(1, 6))
    def time_passes(self, after_s: float, ticks: int) -> None:
        """Ticks come at any pace, and sooner where the decision asks for one."""
        for _ in range(ticks):
            self.world.run(after_s, after_s)

    @rule(fans=FANS, pump=PUMP, setpoints=SETPOINTS)
    def new_settings(self, fans: dict[str, Any], pump: dict[str, Any], setpoints: dict[str, Any]) -> None:
        """A person edits the file; what contradicts itself never gets here."""
        changed = settings_with(self.base, fans=fans, pump=pump, setpoints=setpoints)
        if consistent(changed):
            self.world.settings = changed
            self.world.tick(1.0)

    @rule(same_boot=st.booleans(), down_s=st.sampled_from([0.5, 5.0, 200.0, 3 * HOUR_S]))
    def restart(self, same_boot: bool, down_s: float) -> None:
        """The program or the board starts again and remembers; the watch goes on across it."""
        self.world.restart(down_s, same_boot=same_boot)
        self.world.tick(0.05)

    @rule(silent_s=st.sampled_from([35.0, 60.0, 700.0, 2 * HOUR_S]), times=st.integers(1, 4))
    def lease(self, silent_s: float, times: int) -> None:
        """Ticks stop for longer than the lease, once or again and again."""
        for _ in range(times):
            self.world.lease_runs_out(silent_s)

    @rule(late_s=st.sampled_from([0.05, 0.2, 5.0, 30.0]), after_s=STEP_S)
    def late_drive(self, late_s: float, after_s: float) -> None:
        """The outputs follow a decision late, but before the lease is over."""
        self.world.late_s = late_s
        self.world.tick()
        self.world.late_s = 0.0
        self.world.tick(max(after_s, late_s))

    @rule(data=st.data())
    def output_fails(self, data: st.DataObject) -> None:
        """A motor goes off although it is commanded on."""
        self.world.output_fails(data.draw(st.sampled_from(list(self.world.state.outputs))))

    @rule()
    def restart_without_memory(self) -> None:
        """The card was lost: every motor rests first, every tube may be wet, and no more can be promised."""
        world = self.world
        world.forget()
        world.watch = resting_watch(world.settings, world.now_s)
        world.tick(0.05)

    @rule(probe=st.sampled_from(["ceiling-west", "bench", "north-outlet"]), value_c=st.floats(60.0, 120.0))
    def fire(self, probe: str, value_c: float) -> None:
        """One probe gets hot and cools again; a person clears it some time later."""
        world = self.world
        world.probe_c[probe] = value_c
        world.tick()
        world.probe_c.clear()
        world.run(60.0)
        if value_c >= world.settings.fire.level_c:
            assert world.fans_on() == 0

    @rule()
    def clear_fire(self) -> None:
        """A person clears the fire, whether there is one or not."""
        self.world.cleared = frozenset({FaultCode.FIRE})
        self.world.tick()

    @invariant()
    def every_promise_holds(self) -> None:
        """Nothing the watch has seen was broken, and what is commanded is what is remembered."""
        world = self.world
        assert world.broken == []
        if world.decision is not None and world.seq:
            commands = world.decision.commands
            assert set(commands) == set(world.state.outputs)


def consistent(changed: Settings) -> bool:
    """Whether the settings are such as a file may hold."""
    for order in ORDERS:
        low: float = getattr(getattr(changed, order.lower[0]), order.lower[1])
        high: float = getattr(getattr(changed, order.upper[0]), order.upper[1])
        if low > high or (low == high and not order.equal):
            return False
    return changed.pump.rest_s <= 0.1 * changed.pump.longest_run_s


def resting_watch(settings: Settings, now_s: float) -> PromiseWatch:
    """A watch that takes every motor to have stopped and every tube to have got wet just now."""
    watch = PromiseWatch()
    watch.motors.last_start_s = now_s
    for loop in settings.loops:
        watch.motors.motors["fan", loop] = SeenMotor(off_since_s=now_s)
    for sump in settings.sumps:
        watch.motors.motors["pump", sump] = SeenMotor(off_since_s=now_s)
    return watch


def search(examples: int, steps: int, phases: tuple[Phase, ...] = tuple(Phase)) -> settings:
    """How hard to search."""
    return settings(
        max_examples=examples,
        stateful_step_count=steps,
        phases=phases,
        report_multiple_bugs=False,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


def test_no_promise_is_broken_in_random_days() -> None:
    """Some dozens of random histories of a house break no promise, and deciding is pure and repeatable."""
    # A failure is shown as it was found: making it small may take minutes and is left to the campaign.
    run_state_machine_as_test(House, settings=search(40, 30, (Phase.explicit, Phase.reuse, Phase.generate)))


@pytest.mark.campaign
@pytest.mark.timeout(7200)
def test_no_promise_is_broken_in_many_random_days() -> None:
    """Hundreds of longer random histories break no promise either."""
    run_state_machine_as_test(House, settings=search(400, 80))
