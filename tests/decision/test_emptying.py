"""What is learned from emptyings: the pump's own speed whatever flows in, and where water comes from."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.decision.emptying import fallen, risen, stopped, undone
from controller.decision.state import Emptied, EmptyingTrend, OutputState
from controller.readings.reading import Level
from tests.decision.world import HOUR_S, HOUSE, MINUTE_S, World, settings_with

PUMP = HOUSE.pump
TINY = 1e-6
BACK_M3_S = 4e-4


class Pit:
    """A pit under a world's float: water in m³ above the fall of the float, exact between its turns.

    Attributes:
        flow: of the pump.
        inflow: of the ground.
        leak: water that runs back after each run.
        deep: whether the pump draws from below the float, so that its run-on lowers the water further.
    """

    def __init__(self, flow: float, inflow: float, leak: float = 0.0, deep: bool = True) -> None:
        self.world = World(settings_with(pump={"minimum_rest_s": 60.0}))
        self.flow, self.inflow, self.leak, self.deep = flow, inflow, leak, deep
        self.volume, self.size, self.back = 0.0, 0.06, 0.0
        self.cycles = 0

    def _net(self) -> float:
        back = BACK_M3_S if self.back > TINY and not self.world.pump() else 0.0
        return self.inflow + back - (self.flow if self.world.pump() else 0.0)

    def _step_s(self, wet: bool) -> float:
        """Until the float turns or the pipe is empty, a tick at the most."""
        asked_s = self.world.decision.look_again_s if self.world.decision is not None else None
        ends = [10.0, *([asked_s] if asked_s is not None else [])]
        net = self._net()
        if wet and net < 0.0:
            ends.append(max(self.volume, 0.0) / -net + TINY)
        if not wet and net > 0.0:
            ends.append(max(self.size - self.volume, 0.0) / net + TINY)
        if self.back > TINY and not self.world.pump():
            ends.append(self.back / BACK_M3_S)
        return max(min(ends), TINY)

    def run(self, for_s: float, cycles: int = 10_000) -> None:
        """Let it rain, drain and pump for a while, or for so many whole cycles."""
        world, end_s, last = self.world, self.world.now_s + for_s, self.cycles + cycles
        while world.now_s < end_s and self.cycles < last:
            wet = world.level["main"] is Level.WET
            step_s, pumped = self._step_s(wet), world.pump()
            if self.back > TINY and not pumped:
                self.back -= step_s * BACK_M3_S
            self.volume += step_s * self._net()
            if not self.deep:
                self.volume = max(self.volume, 0.0)
            if pumped:
                self.back = self.leak
            if not wet and self.volume >= self.size:
                world.level["main"] = Level.WET
                self.cycles += 1
            elif wet and self.volume <= 0.0:
                world.level["main"] = Level.DRY
            world.tick(step_s)


def known(inflow: float = 5e-5, flow: float = 2e-3, **more: float | bool) -> Pit:
    """A pit whose sound pump has been known since a few quiet cycles."""
    pit = Pit(flow, 5e-5, **more)  # type: ignore[arg-type]
    pit.run(10 * HOUR_S, cycles=8)
    assert pit.world.alarms() == set()
    pit.inflow = inflow
    pit.run(3 * HOUR_S, cycles=6)
    return pit


RAIN = [2e-5, 2e-4, 5e-4, 9e-4]


@given(
    flow=st.floats(1e-4, 1e-2),
    share=st.floats(0.0, 0.95),
    size=st.floats(0.01, 1.0),
    run_on_s=st.floats(5.0, 120.0),
    waited_s=st.floats(0.0, 900.0),
)
def test_one_cycle_gives_the_flow_whatever_flows_in(
    flow: float, share: float, size: float, run_on_s: float, waited_s: float
) -> None:
    """A steady inflow, a start that had to wait and any run-on leave V/D as it is."""
    inflow = max(share * flow, 1e-7)
    on_s = (size + inflow * waited_s) / (flow - inflow)
    refill_s = (size + (flow - inflow) * run_on_s) / inflow
    rose_s = 1e6
    running = OutputState(on=True, since_mono_s=rose_s + waited_s, starts_mono_s=(rose_s + waited_s,))
    trend = stopped(fallen(EmptyingTrend(), running, rose_s, rose_s + waited_s + on_s), run_on_s)
    trend = risen(trend, refill_s)
    assert trend.usual_s == pytest.approx(size / flow, rel=1e-4)
    assert trend.inflow == pytest.approx(inflow / flow, rel=1e-4)


@pytest.mark.parametrize("deep", [True, False])
@pytest.mark.parametrize("inflow", RAIN)
def test_a_pump_of_half_its_flow_is_told_within_three_cycles(inflow: float, deep: bool) -> None:
    """In quiet weather and in rain, in a deep pit and in one that the run-on finds empty."""
    pit = known(inflow, deep=deep)
    assert "pump-slow" not in pit.world.alarms()
    pit.flow /= 2.0
    pit.run(100 * HOUR_S, cycles=3)
    assert "pump-slow" in pit.world.alarms()


@pytest.mark.parametrize("deep", [True, False])
def test_rain_that_comes_and_goes_makes_no_pump_slow(deep: bool) -> None:
    """Showers of all strengths, each change in the middle of whatever the pump does, raise no alarm of it."""
    pit = known(deep=deep)
    for count in range(60):
        pit.inflow = (5e-5, 1.2e-3, 3e-4, 1.6e-3)[count % 4]
        pit.run((7.0 + count % 5) * MINUTE_S)
        assert not {"pump-slow", "sump-not-emptying"} & pit.world.alarms()
    assert pit.world.state.sumps["main"].trend.usual_s == pytest.approx(30.0, rel=0.1)


def test_the_words_of_a_slow_pump_compare_like_with_like() -> None:
    """Both times leave the inflow out, and the usual one stays what it was."""
    pit = known(5e-4)
    pit.flow /= 2.0
    pit.run(100 * HOUR_S, cycles=3)
    assert pit.world.decision is not None
    (alarm,) = (one for one in pit.world.alarms_now if one.code.value == "pump-slow")
    assert alarm.detail == "took 60 s to empty the pit, inflow left out; it usually takes 30 s"


def test_a_repaired_pump_ends_the_warning_with_its_first_cycle() -> None:
    """A single cycle of the usual speed takes the count back."""
    pit = known(5e-4)
    pit.flow /= 2.0
    pit.run(HOUR_S, cycles=6)
    pit.flow *= 2.0
    pit.run(HOUR_S, cycles=2)
    assert pit.world.state.sumps["main"].trend.slow_runs == 0


@pytest.mark.parametrize("inflow", [6e-4, 1e-3, 1.5e-3])
def test_long_even_rain_is_not_called_a_leaking_valve(inflow: float) -> None:
    """Forty even cycles whose emptyings show the inflow raise nothing about the check valve."""
    pit = known(inflow)
    pit.run(24 * HOUR_S, cycles=40)
    assert "water-returns" not in pit.world.alarms()


def test_a_leaking_valve_is_told_from_inflow_where_the_signals_can() -> None:
    """Water that is back at once and does not make emptying longer has not come in while the pump ran."""
    pit = known(deep=False)
    pit.leak = 0.08
    pit.run(3 * HOUR_S, cycles=8)
    assert pit.world.decision is not None
    (alarm,) = (one for one in pit.world.alarms_now if one.code.value == "water-returns")
    assert alarm.detail.endswith(", but not while the pump ran")


def test_where_the_signals_cannot_tell_only_the_even_returns_are_told() -> None:
    """Inflow too slow to show in an emptying is reported after twenty even returns, without a verdict."""
    pit = known(2.6e-4, deep=False)
    pit.run(24 * HOUR_S, cycles=30)
    assert pit.world.decision is not None
    (alarm,) = (one for one in pit.world.alarms_now if one.code.value == "water-returns")
    assert alarm.detail.startswith("water came back 4 min after each of ")


def test_water_that_comes_after_changing_times_is_weather() -> None:
    """Inflow that grows and fades never brings the same pause twenty times."""
    pit = known()
    for count in range(60):
        pit.inflow = 1.6e-4 * (1.0 + 0.2 * (count % 6))
        pit.run(HOUR_S, cycles=1)
    assert "water-returns" not in pit.world.alarms()


def test_what_is_no_clean_emptying_teaches_nothing() -> None:
    """A fall without the pump, a run from before the rise, a second run of a spell, a cycle undone."""
    rose_s, now_s = 5000.0, 5100.0
    for output in (
        OutputState(on=False, since_mono_s=4000.0),
        OutputState(on=True, since_mono_s=4999.0, starts_mono_s=(4999.0,)),
        OutputState(on=True, since_mono_s=5050.0, starts_mono_s=(5000.0, 5050.0)),
        OutputState(on=True, since_mono_s=rose_s + HOUR_S, starts_mono_s=(rose_s + HOUR_S,)),
    ):
        trend = fallen(EmptyingTrend(), output, rose_s, now_s)
        assert risen(stopped(trend, 20.0), 600.0).usual_s is None
    clean = OutputState(on=True, since_mono_s=rose_s, starts_mono_s=(1000.0, rose_s))
    trend = stopped(fallen(EmptyingTrend(), clean, rose_s, now_s), 20.0)
    assert risen(undone(trend), 600.0).usual_s is None
    assert risen(trend, 600.0).usual_s is not None
    assert risen(trend, TINY).usual_s != risen(trend, 600.0).usual_s


@pytest.mark.parametrize(
    ("before_s", "refill_s", "after_s", "returns"),
    [
        (100.0, 110.0, 100.0, 4),  # within a tenth of the first of the row
        (100.0, 90.0, 100.0, 4),
        (100.0, 110.5, 110.5, 0),  # another pause begins a row of its own
        (100.0, 89.5, 89.5, 0),
        (None, 420.0, 420.0, 0),
        (None, 420.5, None, 0),  # after seven minutes water is not what runs back
        (100.0, 420.5, None, 0),
    ],
)
def test_returns_count_while_water_is_back_after_the_same_short_pause(
    before_s: float | None, refill_s: float, after_s: float | None, returns: int
) -> None:
    """A row goes on while the pause stays within a tenth; a longer one is weather."""
    trend = EmptyingTrend(emptied=Emptied(30.0, 30.0, 20.0, 600.0), return_s=before_s, returns=3)
    after = risen(trend, refill_s)
    assert (after.return_s, after.returns) == (after_s, returns)


@pytest.mark.parametrize(
    ("cycles", "before_s", "on_s", "refill_s", "leaks"),
    [
        (4, 100.0, 30.0, 100.0, 2),  # the pump is not known yet
        (5, 100.0, 30.0, 100.0, 3),
        (9, 100.0, 33.2, 100.0, 3),  # inflow of this strength would make it 13 s longer
        (9, 100.0, 33.3, 100.0, 2),
        (9, 100.0, 36.4, 100.0, 2),
        (9, 100.0, 36.5, 100.0, 0),
        (9, 100.0, 30.0, 180.0, 3),
        (9, 100.0, 30.0, 180.5, 2),  # too slow an inflow to tell
        (9, 180.5, 30.0, 100.0, 2),
        (9, 100.0, 30.0, 420.5, 0),  # it does not run back at all
        (9, None, 30.0, 100.0, 2),
    ],
)
def test_a_leak_is_water_that_is_back_soon_and_does_not_make_the_emptying_longer(
    cycles: int, before_s: float | None, on_s: float, refill_s: float, leaks: int
) -> None:
    """Counted where a quarter of what inflow would add is missing, ended where half of it shows."""
    trend = EmptyingTrend(30.0, 30.0, cycles, emptied=Emptied(on_s, on_s, 20.0, before_s), leaks=2, returns=5)
    after = risen(trend, refill_s)
    assert after.leaks == leaks
    assert leaks or after.returns == 0


@pytest.mark.parametrize(("cycles", "usual_s"), [(1, 35.0), (3, 32.5), (9, 31.0), (99, 31.0)])
def test_what_is_usual_is_the_mean_of_the_first_ten_and_moves_by_a_tenth_from_then_on(
    cycles: int, usual_s: float
) -> None:
    """A pit that took ten seconds longer moves it by so much."""
    long_s = 1e9  # so slow an inflow that the run alone counts
    trend = EmptyingTrend(30.0, 30.0, cycles, emptied=Emptied(40.0, 40.0, 20.0, long_s))
    assert risen(trend, long_s).usual_s == pytest.approx(usual_s, rel=1e-6)
