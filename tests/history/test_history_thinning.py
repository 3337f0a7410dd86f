"""Old readings become hourly means."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.history.database import StorageError
from controller.history.queries import History
from controller.history.thinning import mean_of, thin
from controller.readings.reading import Why


@pytest.fixture
def two_days(path, clock, writer, tick):
    """Two days of five-minute readings: one probe that rises, one that is silent but for a while."""
    for n in range(576):
        writer.observe(tick({"ceiling": n / 10, "soil": 12.0 if n % 12 == 5 and n < 288 else Why.SILENT}))
        clock.advance(300)
    assert writer.close()
    return path


def samples(path, clock):
    """Everything in the file."""
    with History(path) as history:
        return list(history.samples(clock.wall - timedelta(days=30), clock.wall))


def test_old_hours_become_one_row_and_new_ones_stay(two_days, clock):
    """A day is kept fine; each hour before it becomes the mean of its rows."""
    before = samples(two_days, clock)
    done = thin(two_days, clock.wall, keep_fine_days=1)
    after = samples(two_days, clock)
    assert (done.means, done.rows, done.more) == (24, 288, False)
    assert after[24:] == before[288:]
    assert [sample.span_s for sample in after[:24]] == [3600] * 24
    first = after[0].values
    assert first["ceiling"] == pytest.approx(sum(n / 10 for n in range(12)) / 12, abs=0.001)
    assert first["soil"] == 12.0
    assert after[0].when == before[0].when


def test_no_hour_is_thinned_in_part(two_days, clock):
    """The hour in which the limit falls stays fine as a whole until all of it is old enough."""
    done = thin(two_days, clock.wall + timedelta(minutes=30), keep_fine_days=1)
    assert (done.means, done.rows) == (24, 288)


def test_a_probe_that_was_silent_all_hour_keeps_its_cause(two_days, clock):
    """No mean is made of nothing: the commonest cause stands in its place."""
    thin(two_days, clock.wall, keep_fine_days=0)
    assert samples(two_days, clock)[-1].values["soil"] is Why.SILENT


def test_work_of_one_call_is_bounded_and_the_rest_follows(two_days, clock):
    """Calls with a limit do the oldest hours first and say that there is more."""
    first = thin(two_days, clock.wall, keep_fine_days=1, most_hours=10)
    assert (first.means, first.more) == (10, True)
    second = thin(two_days, clock.wall, keep_fine_days=1, most_hours=100)
    assert (second.means, second.more) == (14, False)
    assert thin(two_days, clock.wall, keep_fine_days=1).means == 0
    assert len(samples(two_days, clock)) == 24 + 288


def test_thinning_a_damaged_file_says_so_and_leaves_it(path, clock):
    """Thinning touches no file that fails its check; the writer deals with it."""
    path.write_bytes(b"\xa5" * 20000)
    with pytest.raises(StorageError, match="cannot be used"):
        thin(path, clock.wall, keep_fine_days=1)
    assert path.read_bytes() == b"\xa5" * 20000


def test_room_is_given_back(two_days, clock):
    """Pages that become free leave the file."""
    with closing(sqlite3.connect(two_days)) as connection:
        (before,) = connection.execute("PRAGMA page_count").fetchone()
    thin(two_days, clock.wall, keep_fine_days=0)
    with closing(sqlite3.connect(two_days)) as connection:
        (after,) = connection.execute("PRAGMA page_count").fetchone()
        assert connection.execute("PRAGMA freelist_count").fetchone() == (0,)
    assert after < before


@given(st.lists(st.one_of(st.integers(-55000, 125000), st.just("SILENT")), min_size=1, max_size=20))
def test_a_mean_lies_between_the_lowest_and_the_highest(column):
    """The mean is of the values alone; causes neither raise nor lower it."""
    (mean,) = mean_of([[value] for value in column])
    numbers = [value for value in column if isinstance(value, int)]
    if numbers:
        assert min(numbers) <= mean <= max(numbers)
    else:
        assert mean == "SILENT"


def test_an_old_switching_loses_its_stored_sentence_and_still_says_it(path, clock, writer, tick, change):
    """Its code and numbers stay, from which it is made again; a recent one keeps its own."""
    writer.observe(tick(changes=[change()]))
    clock.advance(2 * 86400)
    writer.observe(tick(changes=[change(on=False)]))
    assert writer.close()
    with History(path) as history:
        before = list(history.changes(clock.wall - timedelta(days=9), None))
    thin(path, clock.wall, keep_fine_days=1)
    with closing(sqlite3.connect(path)) as connection:
        stored = [text for (text,) in connection.execute("SELECT sentence FROM changes ORDER BY wall_ms")]
    assert stored == ["", before[1].sentence]
    with History(path) as history:
        assert list(history.changes(clock.wall - timedelta(days=9), None)) == before


def test_an_old_switching_of_another_release_shows_its_code(path, clock, writer, tick, change):
    """Where no sentence can be made again, the code says what it was."""
    writer.observe(tick(changes=[change()]))
    assert writer.close()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE changes SET sentence = '', code = 'of-old'")
    with History(path) as history:
        (shown,) = history.changes(clock.wall - timedelta(days=9), None)
    assert shown.sentence == "of-old"
