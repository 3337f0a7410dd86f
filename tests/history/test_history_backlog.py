"""Rows that wait for the card."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.history.backlog import Backlog, rank
from controller.history.rows import AlarmRow, At, ChangeRow, EventCode, EventRow, ReadingRow


def reading(n: int) -> ReadingRow:
    """A row of readings that can be distinguished from others."""
    return ReadingRow(At(n, None), ("ceiling",), "[1]")


def change(n: int) -> ChangeRow:
    """An output change that can be distinguished from others."""
    return ChangeRow(At(n, None), "fan", "north", True, "cool", "{}", "it is hot")


def alarm(n: int) -> AlarmRow:
    """An alarm that can be distinguished from others."""
    return AlarmRow(At(n, None), "frost", "", 1, True, "")


def event(n: int) -> EventRow:
    """An event that can be distinguished from others."""
    return EventRow(At(n, None), EventCode.START)


def times(batch) -> list[int]:
    """When the rows of a batch happened."""
    return [row.at.mono_ms for _, row in batch]


def test_rows_come_out_in_the_order_they_went_in():
    """Kinds are kept apart inside, and still leave in order."""
    backlog = Backlog(10)
    backlog.put([reading(1), change(2), event(3), reading(4), alarm(5)])
    assert times(backlog.take(3)) == [1, 2, 3]
    assert times(backlog.take(3)) == [4, 5]


def test_readings_go_first_then_events_and_reasons_last():
    """With room for three, the readings and the event are dropped and counted, changes and alarms stay."""
    backlog = Backlog(3)
    backlog.put([change(1), reading(2), event(3), reading(4), alarm(5), change(6)])
    assert times(backlog.take(10)) == [1, 5, 6]
    assert backlog.take_dropped() == 3
    assert backlog.take_dropped() == 0


def test_readings_alone_wait_for_company_and_nothing_else_does():
    """Half an hour of readings is worth a write of its own and nothing less is; a reason always is."""
    backlog = Backlog(10)
    assert not backlog.due()
    backlog.put([reading(n) for n in range(5)])
    assert not backlog.due()
    backlog.put([reading(5)])
    assert backlog.due()
    for row in (change(6), alarm(6), event(6)):
        other = Backlog(10)
        other.put([row])
        assert other.due()


def test_of_equal_rows_the_oldest_goes():
    """When nothing but output changes is left, the newest are kept."""
    backlog = Backlog(2)
    backlog.put([change(1), change(2), change(3)])
    assert times(backlog.take(10)) == [2, 3]


def test_a_batch_that_failed_comes_out_again_in_its_place():
    """Giving a batch back restores the order before the rows that came meanwhile."""
    backlog = Backlog(10)
    backlog.put([reading(1), change(2), reading(3)])
    batch = backlog.take(2)
    backlog.put([alarm(4)])
    backlog.give_back(batch)
    assert times(backlog.take(10)) == [1, 2, 3, 4]


@given(st.lists(st.sampled_from([reading, change, alarm, event]), max_size=60), st.integers(1, 20))
def test_never_more_than_the_limit_and_nothing_uncounted(makers, limit):
    """Whatever comes, at most ``limit`` rows wait, and what is kept and what is counted adds up."""
    backlog = Backlog(limit)
    for n, make in enumerate(makers):
        backlog.put([make(n)])
        assert len(backlog) <= limit
    kept = backlog.take(1000)
    assert len(kept) + backlog.take_dropped() == len(makers)
    assert times(kept) == sorted(times(kept))
    reasons = sum(rank(make(0)) == 2 for make in makers)
    assert sum(rank(row) == 2 for _, row in kept) == min(reasons, limit)
