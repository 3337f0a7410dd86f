"""Voting between the probes of one place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.vote import Ballot, vote

SPREAD_K = 6.0
SILENT = Missing(Why.SILENT, 5.0)


def good(*values_c: float, at_s: float = 10.0) -> list[Reading]:
    """Good readings of one moment."""
    return [Good(value_c, at_s) for value_c in values_c]


@pytest.mark.parametrize(
    ("readings", "reading", "dropped"),
    [
        ([SILENT, Missing(Why.NOISY, 6.0)], SILENT, ()),
        ([Good(20.0, 10.0)], Good(20.0, 10.0), ()),
        ([SILENT, Good(20.0, 10.0), SILENT], Good(20.0, 10.0), ()),
        ([Good(20.0, 10.0), Good(26.0, 12.0)], Good(23.0, 10.0), ()),
        (good(20.0, 26.1), Missing(Why.OUTVOTED, 10.0), (0, 1)),
        (good(20.0, 40.0, 21.0), Good(20.5, 10.0), (1,)),
        (good(26.0, 21.0, 20.0), Good(21.0, 10.0), ()),
        (good(25.0, 22.0, 20.0, 21.0), Good(21.5, 10.0), ()),
        (good(0.0, 10.0, 20.0), Missing(Why.OUTVOTED, 10.0), (0, 1, 2)),
        ([Good(28.0, 140.0), Good(30.0, 200.0)], Good(29.0, 140.0), ()),
        ([Good(20.0, 139.0), Good(30.0, 200.0)], Good(30.0, 200.0), ()),
    ],
    ids=[
        "no good probe: the cause of the first",
        "one probe speaks for itself",
        "whatever the others lack",
        "two within the spread: their mean, as old as the older",
        "two further apart: nobody can say which is wrong",
        "the third settles the dispute of two",
        "three that agree: the middle one",
        "four: the mean of the two in the middle",
        "three in dispute: at least two must agree",
        "a minute is not old",
        "older news has no vote beside a fresh value",
    ],
)
def test_the_probes_of_a_place_vote(
    readings: list[Reading], reading: Reading, dropped: tuple[int, ...]
) -> None:
    """One reading for the place, and which of its probes it does not believe."""
    assert vote(readings, SPREAD_K) == (reading, dropped)


def test_agreed_value_outlasts_a_dispute_for_the_hold_time() -> None:
    """A short dispute does not take the temperature away; a lasting one does."""
    ballot = Ballot()
    agreed = ballot.count(good(20.0, 21.0, at_s=10.0), SPREAD_K, 300.0, 10.0)
    assert agreed == Good(20.5, 10.0)
    assert ballot.count(good(20.0, 30.0, at_s=100.0), SPREAD_K, 300.0, 100.0) == agreed
    assert ballot.dropped == (0, 1)
    assert ballot.settled_until_s == 310.0
    assert ballot.count(good(20.0, 30.0, at_s=310.0), SPREAD_K, 300.0, 310.0) == agreed
    assert ballot.count(good(20.0, 30.0, at_s=310.0), SPREAD_K, 300.0, 310.5) == Missing(Why.OUTVOTED, 310.0)
    assert ballot.count(good(20.0, 30.0, at_s=400.0), SPREAD_K, 300.0, 400.0) == Missing(Why.OUTVOTED, 310.0)
    assert ballot.count(good(20.0, 21.0, at_s=410.0), SPREAD_K, 300.0, 410.0) == Good(20.5, 410.0)
    assert ballot.dropped == ()
    again = ballot.count(good(20.0, 30.0, at_s=800.0), SPREAD_K, 300.0, 800.0)
    assert again == Missing(Why.OUTVOTED, 800.0), "a second dispute has its own beginning"


def test_first_vote_may_be_a_dispute() -> None:
    """Where nothing was ever agreed on, a dispute gives nothing from its beginning on."""
    ballot = Ballot()
    for at_s in (100.0, 115.0):
        count = ballot.count(good(20.0, 30.0, at_s=at_s), SPREAD_K, 300.0, at_s)
        assert count == Missing(Why.OUTVOTED, 100.0)


@given(st.lists(st.floats(-40.0, 120.0), min_size=1, max_size=7), st.floats(1.0, 20.0))
def test_result_lies_among_the_probes_and_at_least_two_stand_behind_it(
    values_c: list[float], spread_k: float
) -> None:
    """A voted value is never outside what was measured, and of several probes two are close to it."""
    reading, dropped = vote(good(*values_c), spread_k)
    assert len(dropped) <= len(values_c)
    if isinstance(reading, Good):
        assert min(values_c) <= reading.value <= max(values_c)
        close = sum(abs(value_c - reading.value) <= 2 * spread_k for value_c in values_c)
        assert close >= min(2, len(values_c))
