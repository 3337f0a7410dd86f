"""Judging one probe: ranges, jumps, stuck and silent probes, hold times."""

from __future__ import annotations

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.readings.judge import RANGE_C, ProbeJudge, limits_for
from controller.readings.reading import Good, Missing, RawFailure, RawSample, RawTemperature, Reading, Why
from controller.settings.schema import Judging

EVERY_S = 15.0
FAILURES = [Why.SILENT, Why.NOISY, Why.POWER_ON, Why.NO_POWER, Why.ALL_ZERO]


class Probe:
    """One probe with its judge and its own time, a sample every 15 s."""

    def __init__(self, place: str = "ceiling", offset_k: float = 0.0) -> None:
        self.judge = ProbeJudge(limits_for(place, Judging()), offset_k)
        self.now_s = 1000.0
        self.newest: RawSample | None = None

    def gives(self, *values_c: float) -> Reading:
        """Samples of these temperatures, one after the other."""
        for value_c in values_c:
            self.now_s += EVERY_S
            self.newest = RawTemperature(value_c, self.now_s)
            self.judge.judge(self.newest, self.now_s)
        return self.now()

    def fails(self, *causes: Why) -> Reading:
        """Failed samples with these causes."""
        for why in causes:
            self.now_s += EVERY_S
            self.newest = RawFailure(why, self.now_s)
            self.judge.judge(self.newest, self.now_s)
        return self.now()

    def now(self, after_s: float = 0.0) -> Reading:
        """What is believed after some time without anything new."""
        self.now_s += after_s
        return self.judge.judge(self.newest, self.now_s)


def why(reading: Reading) -> Why | None:
    """The cause of a missing reading, None for a good one."""
    return reading.why if isinstance(reading, Missing) else None


def test_good_sample_is_believed_with_its_own_time() -> None:
    """A reading carries the time of its measurement, not of its judging."""
    probe = Probe()
    assert probe.gives(21.5) == Good(21.5, 1015.0)
    assert probe.now(after_s=60.0) == Good(21.5, 1015.0)


def test_unread_probe_is_missing_and_becomes_a_fault_later() -> None:
    """A probe that was never read is missing at once, and trouble for a person after five minutes."""
    probe = Probe()
    assert probe.now() == Missing(Why.NEVER_READ, 1000.0)
    assert probe.judge.trouble is None
    assert probe.now(after_s=301.0) == Missing(Why.NEVER_READ, 1000.0)
    assert probe.judge.trouble is Why.NEVER_READ


def test_offset_is_added_before_the_range_is_checked() -> None:
    """The correction from the ice-point check is in every reading."""
    probe = Probe("soil", offset_k=-0.5)
    assert probe.gives(10.0) == Good(9.5, 1015.0)
    assert probe.gives(10.25) == Good(9.75, 1030.0), "steps are between corrected values"
    assert Probe("soil", offset_k=-0.5).gives(50.25) == Good(49.75, 1015.0)
    assert why(Probe("soil", offset_k=0.5).gives(49.75)) is Why.OUT_OF_RANGE


@pytest.mark.parametrize("place", RANGE_C)
def test_ranges_of_every_place(place: str) -> None:
    """What a place cannot have is refused, its ends are allowed."""
    low_c, high_c = RANGE_C[place]
    assert isinstance(Probe(place).gives(low_c), Good)
    assert isinstance(Probe(place).gives(high_c), Good)
    assert why(Probe(place).gives(low_c - 0.1)) is Why.OUT_OF_RANGE
    assert why(Probe(place).gives(high_c + 0.1)) is Why.OUT_OF_RANGE


@pytest.mark.parametrize("value_c", [nan, inf, -inf])
def test_what_is_no_number_is_refused(value_c: float) -> None:
    """Not-a-number and infinities are never believed."""
    assert why(Probe().gives(value_c)) is Why.OUT_OF_RANGE


@pytest.mark.parametrize("cause", FAILURES)
def test_causes_of_the_bus_are_passed_on(cause: Why) -> None:
    """What the bus found wrong is what a person reads."""
    assert Probe().fails(cause) == Missing(cause, 1015.0)


def test_zeros_behind_a_zero_are_not_a_frost() -> None:
    """A 0 °C whose nine bytes are all zero is a shorted line; a true 0 °C is believed."""
    probe = Probe()
    shorted = probe.judge.judge(RawTemperature(0.0, 1.0, bytes(9)), 1.0)
    assert shorted == Missing(Why.ALL_ZERO, 1.0)
    true = RawTemperature(0.0, 2.0, bytes.fromhex("00004b467fff101069"))
    assert probe.judge.judge(true, 2.0) == Good(0.0, 2.0)


def test_air_holds_for_minutes_then_is_missing_since_the_trouble_began() -> None:
    """A silent air probe keeps its last value and its old time until the hold time ends."""
    probe = Probe()
    probe.gives(20.0)
    assert probe.fails(Why.SILENT) == Good(20.0, 1015.0)
    assert probe.now(after_s=1315.0 - probe.now_s) == Good(20.0, 1015.0)
    assert probe.now(after_s=0.001) == Missing(Why.SILENT, 1030.0)
    assert probe.gives(20.1) == Good(20.1, probe.now_s)


def test_soil_holds_for_hours() -> None:
    """A silent soil probe keeps its last value for six hours."""
    probe = Probe("soil")
    probe.gives(14.0)
    probe.fails(Why.SILENT)
    assert probe.now(after_s=6 * 3600.0 - EVERY_S) == Good(14.0, 1015.0)
    assert why(probe.now(after_s=1.0)) is Why.SILENT


def test_same_sample_again_is_not_news() -> None:
    """A source that goes on handing out its last sample gives a stale reading, not a fresh one."""
    probe = Probe()
    probe.gives(20.0)
    for _ in range(30):
        probe.now(after_s=10.0)
    assert probe.now(after_s=10.0) == Missing(Why.STALE, 1015.0)


def test_older_sample_is_ignored() -> None:
    """A sample older than the last one changes nothing."""
    probe = Probe()
    good = probe.gives(20.0)
    assert probe.judge.judge(RawTemperature(20.5, 1000.0), probe.now_s) == good


def test_single_jump_is_dropped_and_return_is_believed() -> None:
    """One sample far off the others leaves the reading as it was."""
    probe = Probe()
    probe.gives(20.0)
    assert probe.gives(31.0) == Good(20.0, 1015.0)
    assert probe.gives(20.5) == Good(20.5, 1045.0)
    assert probe.gives(31.0) == Good(20.5, 1045.0), "an earlier jump confirms nothing"


def test_confirmed_jump_is_believed() -> None:
    """A second sample off to the same side confirms a jump."""
    probe = Probe()
    probe.gives(20.0, 31.0)
    assert probe.gives(31.5) == Good(31.5, 1045.0)


def test_jumps_to_both_sides_confirm_nothing() -> None:
    """Samples far above and far below do not confirm one another."""
    probe = Probe()
    probe.gives(20.0)
    assert probe.gives(45.0, -10.0, 45.0) == Good(20.0, 1015.0)


def test_fire_that_climbs_with_every_sample_is_believed() -> None:
    """In a fire each sample is far above the last; the second is believed all the same."""
    probe = Probe()
    probe.gives(25.0)
    assert probe.gives(45.0, 65.0) == Good(65.0, 1045.0)
    assert probe.gives(75.0) == Good(75.0, 1060.0)


def test_failure_between_two_jumps_confirms_nothing() -> None:
    """After a failed read a jump has to be confirmed anew."""
    probe = Probe()
    probe.gives(20.0, 45.0)
    probe.fails(Why.NOISY)
    assert probe.gives(45.0) == Good(20.0, 1015.0)


def test_change_over_a_long_silence_is_no_jump() -> None:
    """Once the hold time is over, the old value is no measure for the new one."""
    probe = Probe()
    probe.gives(5.0)
    probe.now(after_s=3600.0)
    assert probe.gives(28.0) == Good(28.0, probe.now_s)


def test_soil_jumps_are_smaller() -> None:
    """Soil cannot change by 4 K in one sample, air can."""
    soil, air = Probe("soil"), Probe("bench")
    soil.gives(14.0)
    air.gives(14.0)
    assert soil.gives(18.0) == Good(14.0, 1015.0)
    assert air.gives(18.0) == Good(18.0, 1030.0)


def test_unmarked_power_on_value_is_never_confirmed_by_itself() -> None:
    """A chip without the error mark may show exactly 85 °C again and again after each loss of supply."""
    probe = Probe()
    probe.gives(20.0)
    assert probe.gives(85.0, 85.0, 85.0) == Good(20.0, 1015.0)
    assert probe.judge.trouble is Why.POWER_ON
    assert why(Probe().gives(85.0)) is Why.POWER_ON, "nor as the very first sample"


def test_85_on_the_way_up_is_believed() -> None:
    """A temperature that climbs through 85 °C step by step is a measurement."""
    probe = Probe()
    assert probe.gives(70.0, 78.0, 85.0) == Good(85.0, 1045.0)


def test_one_bad_sample_is_nobodys_trouble_three_are() -> None:
    """A person hears of a probe after three failures in a row, and no longer once it answers."""
    probe = Probe("soil")
    probe.gives(14.0)
    probe.fails(Why.SILENT, Why.SILENT)
    assert probe.judge.trouble is None
    assert isinstance(probe.fails(Why.SILENT), Good)
    assert probe.judge.trouble is Why.SILENT
    probe.gives(14.0)
    assert probe.judge.trouble is None


def test_frequent_noise_is_trouble_although_the_reading_is_good() -> None:
    """A cable that damages every tenth answer is named; one that damages every hundredth is not."""
    for good_between, trouble in ((9, Why.NOISY), (99, None)):
        probe = Probe()
        for _ in range(600 // (good_between + 1) + 1):
            probe.fails(Why.NOISY)
            probe.gives(*[20.0 + 0.1 * (n % 2) for n in range(good_between)])
        assert isinstance(probe.now(), Good)
        assert probe.judge.trouble is trouble


def test_single_damaged_answer_is_never_trouble() -> None:
    """Not even where it is the first answer of all, or the first after a long silence."""
    probe = Probe()
    probe.fails(Why.NOISY)
    probe.gives(20.0)
    assert probe.judge.trouble is None
    probe.now(after_s=7200.0)
    probe.fails(Why.NOISY)
    probe.gives(20.0)
    assert probe.judge.trouble is None


def test_noise_is_forgotten_after_quiet_hours() -> None:
    """Once the cable is mended, the trouble ends by itself."""
    probe = Probe()
    for _ in range(40):
        probe.fails(Why.NOISY)
        probe.gives(20.0, 20.1)
    assert probe.judge.trouble is Why.NOISY
    probe.gives(*[20.0 + 0.1 * (n % 2) for n in range(4 * 240)])
    assert probe.judge.trouble is None


def together(places: list[str], hours: float, traces: list[list[float]]) -> list[Probe]:
    """Probes of one house that give their traces over and over, a sample every minute."""
    probes = [Probe(place) for place in places]
    for probe in probes:
        probe.judge.kin = [other.judge for other in probes if other is not probe]
    for minute in range(int(hours * 60)):
        for probe, trace in zip(probes, traces, strict=True):
            probe.now_s = 60.0 * (minute + 1) - EVERY_S
            probe.gives(trace[minute % len(trace)])
    return probes


RISING_AND_FALLING = [10.0 + abs(n - 300) / 60.0 for n in range(600)]


def test_frozen_air_probe_is_found_while_others_move() -> None:
    """A ceiling probe on one digit for more than six hours, while another moves, is not believed."""
    frozen, _ = together(["ceiling", "bench"], 6.1, [[12.0], RISING_AND_FALLING])
    assert why(frozen.now()) is Why.STUCK
    assert frozen.judge.trouble is Why.STUCK
    assert isinstance(frozen.gives(12.0625), Good), "it is believed again when it moves"


def test_frozen_air_probe_is_believed_before_its_time() -> None:
    """Less than six hours on one digit proves nothing."""
    frozen, _ = together(["ceiling", "bench"], 5.9, [[12.0], RISING_AND_FALLING])
    assert isinstance(frozen.now(), Good)


def test_calm_night_is_no_fault() -> None:
    """Where nothing moves but the last digit, nobody is stuck."""
    probes = together(["ceiling", "bench"], 24.0, [[4.0], [4.0, 4.0625, 4.125]])
    assert [type(probe.now()) for probe in probes] == [Good, Good]


def test_one_move_of_another_proves_nothing() -> None:
    """One step of another probe may be the end of an older movement; it does not make this one stuck."""
    step = [10.0] * 10 + [11.5] * (24 * 60)
    frozen, _ = together(["ceiling", "bench"], 12.0, [[12.0], step])
    assert isinstance(frozen.now(), Good)


def test_probe_without_others_is_never_called_stuck() -> None:
    """A lone probe cannot be compared."""
    (lone,) = together(["outdoor"], 24.0, [[4.0]])
    assert isinstance(lone.now(), Good)


def test_resting_outlet_may_stand_still_for_days() -> None:
    """The outlet of a resting fan takes the temperature of the ground while another loop runs."""
    resting, _ = together(["outlet", "outlet"], 48.0, [[12.0], RISING_AND_FALLING])
    assert isinstance(resting.now(), Good)


SAMPLES = st.one_of(
    st.floats(-60.0, 130.0).map(lambda value_c: (value_c, None)),
    st.sampled_from([85.0, 0.0, 127.9375, nan, inf]).map(lambda value_c: (value_c, None)),
    st.sampled_from(FAILURES).map(lambda cause: (0.0, cause)),
    st.just((None, None)),
)


@given(
    st.sampled_from(sorted(RANGE_C)),
    st.floats(-3.0, 3.0),
    st.lists(st.tuples(SAMPLES, st.floats(0.0, 8 * 3600.0)), max_size=40),
)
def test_no_reading_is_ever_older_than_its_hold_or_out_of_range(
    place: str, offset_k: float, story: list[tuple[tuple[float | None, Why | None], float]]
) -> None:
    """Whatever a probe does: a good reading is a finite sample of its place, within its hold time."""
    limits = limits_for(place, Judging())
    judge = ProbeJudge(limits, offset_k)
    now_s = 500.0
    given_values: dict[float, float] = {}
    sample: RawSample | None = None
    for (value_c, cause), wait_s in story:
        if cause is not None:
            sample = RawFailure(cause, now_s)
        elif value_c is not None:
            sample = RawTemperature(value_c, now_s)
            given_values.setdefault(now_s, value_c + offset_k)
        for _ in range(2):
            reading = judge.judge(sample, now_s)
            if isinstance(reading, Good):
                assert now_s - reading.at_mono_s <= limits.hold_s
                assert limits.low_c <= reading.value <= limits.high_c
                assert given_values[reading.at_mono_s] == reading.value
            else:
                assert reading.since_mono_s <= now_s
            now_s += wait_s
