"""Judging one probe: ranges, jumps, silent probes, hold times."""

from __future__ import annotations

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.readings.judge import RANGE_C, ProbeJudge, limits_for
from controller.readings.reading import Good, Missing, RawFailure, RawSample, RawTemperature, Why
from controller.settings.schema import Judging
from tests.readings.probe import EVERY_S, Probe, why

FAILURES = [Why.SILENT, Why.NOISY, Why.POWER_ON, Why.NO_POWER, Why.ALL_ZERO]


def test_good_sample_is_believed_with_its_own_time() -> None:
    """A reading carries the time of its measurement, not of its judging."""
    probe = Probe()
    assert probe.gives(21.5) == Good(21.5, 1015.0)
    assert probe.judge.last_why is None
    assert probe.judge.settled_until_s == 1315.0, "nothing changes by itself before the hold time is over"
    assert probe.now(after_s=60.0) == Good(21.5, 1015.0)


def test_nothing_is_said_of_a_probe_before_it_is_judged() -> None:
    """A judge that has not been asked yet has no reading, no trouble and nothing that was refused."""
    judge = Probe().judge
    assert (judge.reading, judge.trouble, judge.last_why) == (None, None, None)


def test_unread_probe_is_missing_and_becomes_a_fault_later() -> None:
    """A probe that was never read is missing at once, and trouble for a person after five minutes."""
    probe = Probe()
    assert probe.now() == Missing(Why.NEVER_READ, 1000.0)
    assert probe.judge.settled_until_s == 1300.0
    assert probe.now(after_s=300.0) == Missing(Why.NEVER_READ, 1000.0)
    assert probe.judge.trouble is None
    assert probe.now(after_s=1.0) == Missing(Why.NEVER_READ, 1000.0)
    assert probe.judge.trouble is Why.NEVER_READ


def test_offset_is_added_before_the_range_is_checked() -> None:
    """The correction from the ice-point check is in every reading."""
    probe = Probe("soil", offset_k=-0.5)
    assert probe.gives(10.0) == Good(9.5, 1015.0)
    assert probe.gives(10.25) == Good(9.75, 1030.0), "steps are between corrected values"
    assert Probe("soil", offset_k=-0.5).gives(50.25) == Good(49.75, 1015.0)
    assert why(Probe("soil", offset_k=0.5).gives(49.75)) is Why.OUT_OF_RANGE


@pytest.mark.parametrize(
    ("place", "low_c", "high_c"),
    [
        ("ceiling", -45.0, 125.0),
        ("bench", -45.0, 125.0),
        ("outlet", -45.0, 125.0),
        ("outdoor", -50.0, 60.0),
        ("soil", -20.0, 50.0),
        ("root-zone", -20.0, 50.0),
    ],
)
def test_ranges_of_every_place(place: str, low_c: float, high_c: float) -> None:
    """House air may read up to the end of a DS18B20's range, so that fire shows; soil and outdoors not."""
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


@pytest.mark.parametrize("place", ["soil", "root-zone"])
def test_soil_holds_for_hours(place: str) -> None:
    """A silent soil probe keeps its last value for six hours."""
    probe = Probe(place)
    probe.gives(14.0)
    probe.fails(Why.SILENT)
    assert probe.now(after_s=6 * 3600.0 - EVERY_S) == Good(14.0, 1015.0)
    assert why(probe.now(after_s=1.0)) is Why.SILENT


def test_a_loss_that_goes_on_is_the_same_reading() -> None:
    """Failure after failure gives the very same reading, so that nothing has to be worked out anew."""
    probe = Probe()
    first = probe.fails(Why.SILENT)
    assert probe.fails(Why.SILENT) is first
    assert probe.fails(Why.NOISY) == Missing(Why.NOISY, 1015.0)


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


@pytest.mark.parametrize(
    ("place", "samples_c", "believed"),
    [
        ("bench", [20.0, 30.0], 1),
        ("bench", [30.0, 20.0], 1),
        ("bench", [20.0, 30.5], 0),
        ("bench", [30.5, 20.0], 0),
        ("soil", [14.0, 17.0], 1),
        ("soil", [14.0, 17.5], 0),
        ("bench", [20.0, 31.0, 20.5], 2),
        ("bench", [20.0, 31.0, 31.5], 2),
        ("bench", [20.0, 31.0, 20.5, 31.0], 2),
        ("bench", [20.0, 45.0, Why.NOISY, 45.0], 0),
        ("bench", [20.0, 45.0, -10.0, 45.0], 0),
        ("bench", [25.0, 45.0, 65.0], 2),
        ("bench", [25.0, 45.0, 65.0, 75.0], 3),
        ("ceiling", [70.0, 78.0, 85.0], 2),
    ],
    ids=[
        "ten kelvin up are believed",
        "and down",
        "more are a jump",
        "up or down",
        "soil may change by three",
        "and not by more",
        "the return is believed",
        "a second sample confirms",
        "an earlier jump confirms nothing",
        "nor does one before a failure",
        "nor one to the other side",
        "fire climbs with every sample",
        "and goes on",
        "even through 85 degrees",
    ],
)
def test_a_jump_is_believed_once_a_second_sample_confirms_it(
    place: str, samples_c: list[float | Why], believed: int
) -> None:
    """Until then the last believed sample is the reading, with the time at which it was measured."""
    probe = Probe(place)
    for sample_c in samples_c:
        reading = probe.fails(sample_c) if isinstance(sample_c, Why) else probe.gives(sample_c)
    assert reading == Good(samples_c[believed], 1000.0 + EVERY_S * (believed + 1))


def test_small_jumps_to_both_sides_confirm_nothing_either() -> None:
    """With the smallest limit that may be set, a step up and a step down are still distinguished."""
    judge = ProbeJudge(limits_for("soil", Judging.model_validate({"soil_jump": "0.5 K"})), 0.0)
    for at_s, value_c in ((1.0, 14.0), (2.0, 14.75), (3.0, 13.25), (4.0, 14.75)):
        assert judge.judge(RawTemperature(value_c, at_s), at_s) == Good(14.0, 1.0)


def test_change_over_a_long_silence_is_no_jump() -> None:
    """Once the hold time is over, the old value is no measure for the new one."""
    probe = Probe()
    probe.gives(5.0)
    probe.now(after_s=3600.0)
    assert probe.gives(28.0) == Good(28.0, probe.now_s)
    probe.now_s += 300.0 - EVERY_S
    assert why(probe.gives(5.0)) is None, "until its very end the old value is the measure"
    assert probe.judge.last_why is Why.JUMP


def test_correction_does_not_turn_a_jump_around() -> None:
    """Two samples off to the same side confirm one another whatever the probe's correction is."""
    probe = Probe("soil", offset_k=3.0)
    probe.gives(11.0)
    assert probe.gives(15.0, 15.0) == Good(18.0, 1045.0)
    assert probe.gives(11.0, 11.0) == Good(14.0, 1075.0)


def test_unmarked_power_on_value_is_never_confirmed_by_itself() -> None:
    """A chip without the error mark may show exactly 85 °C again and again after each loss of supply."""
    probe = Probe()
    probe.gives(20.0)
    assert probe.gives(85.0, 85.0, 85.0) == Good(20.0, 1015.0)
    assert probe.judge.trouble is Why.POWER_ON
    assert why(Probe().gives(85.0)) is Why.POWER_ON, "nor as the very first sample"


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
