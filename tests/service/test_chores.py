"""Calendar chores: planned once the clock is set, planned anew after a jump, never in the way of control."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta, timezone

import pytest
from apscheduler.triggers.date import DateTrigger
from structlog.testing import capture_logs

from controller.service.chores import GRACE_S, Chores

NOW = datetime(
    2090, 3, 14, 12, 0, tzinfo=UTC
)  # a Tuesday, far enough ahead that nothing becomes due by itself


def nothing():
    """Do nothing."""


@pytest.fixture
def make(clock):
    """Make chores on the fake clock; they are closed at the end."""
    made = []

    def build(**given):
        chores = Chores(clock, **given)
        made.append(chores)
        return chores

    yield build
    for chores in made:
        chores.close()


def test_nothing_is_planned_until_the_clock_is_set(make, clock):
    """A board that does not know the date yet has no calendar."""
    chores = make(daily_summary=nothing)
    assert not chores.poll()
    assert chores.next_runs() == {}
    clock.wall = NOW
    assert chores.poll()
    assert chores.next_runs() == {"daily_summary": datetime(2090, 3, 15, 0, 5, tzinfo=UTC)}


def test_every_chore_has_its_time(make, clock):
    """A summary and a look at the backups each night, thinning on Sundays, the float test on the first."""
    clock.wall = NOW
    chores = make(daily_summary=nothing, backup=nothing, thinning=nothing, float_test_reminder=nothing)
    chores.poll()
    assert chores.next_runs() == {
        "daily_summary": datetime(2090, 3, 15, 0, 5, tzinfo=UTC),
        "backup": datetime(2090, 3, 15, 3, 30, tzinfo=UTC),
        "thinning": datetime(2090, 3, 19, 2, 15, tzinfo=UTC),
        "float_test_reminder": datetime(2090, 4, 1, 8, 0, tzinfo=UTC),
    }


def test_chores_that_are_not_given_are_not_planned(make, clock):
    """Without a chore no scheduler thread is started at all."""
    clock.wall = NOW
    before = threading.active_count()
    assert not make().poll()
    assert threading.active_count() == before


def test_midnight_is_that_of_the_given_zone(make, clock):
    """The daily summary belongs to the day people lived through."""
    clock.wall = NOW
    chores = make(daily_summary=nothing, timezone=timezone(timedelta(hours=-8)))
    chores.poll()
    assert chores.next_runs()["daily_summary"].astimezone(UTC) == datetime(2090, 3, 15, 8, 5, tzinfo=UTC)


def test_late_and_piled_up_runs_are_bounded(make, clock):
    """A late chore still runs, piled-up runs become one, and no chore runs beside itself."""
    clock.wall = NOW
    chores = make(backup=nothing)
    chores.poll()
    (job,) = chores._scheduler.get_jobs()
    assert (job.misfire_grace_time, job.coalesce, job.max_instances) == (GRACE_S, True, 1)


@pytest.mark.parametrize("jump", [timedelta(days=-40), timedelta(days=400), timedelta(minutes=-6)])
def test_jump_of_the_clock_plans_anew(make, clock, jump):
    """After a jump either way each chore is due at its next regular time, once."""
    clock.wall = NOW
    chores = make(daily_summary=nothing)
    chores.poll()
    clock.now_mono_s += 10.0
    clock.wall = NOW + timedelta(seconds=10) + jump
    chores.poll()
    due = chores.next_runs()["daily_summary"]
    assert timedelta(0) < due - clock.wall <= timedelta(days=1)
    assert len(chores._scheduler.get_jobs()) == 1


def test_small_steps_of_network_time_do_not_plan_anew(make, clock):
    """Seconds of correction leave the plan alone, so that no chore is pushed along for ever."""
    clock.wall = NOW
    chores = make(backup=nothing)
    chores.poll()
    (before,) = chores._scheduler.get_jobs()
    clock.now_mono_s += 3600.0
    clock.wall = NOW + timedelta(hours=1, seconds=20)
    with capture_logs() as logged:
        chores.poll()
    assert chores._scheduler.get_jobs() == [before]
    assert logged == []


def test_failing_chore_is_logged_and_the_others_go_on(make, clock):
    """An exception in one chore ends in the log and nowhere else."""
    clock.wall = NOW
    done, logged_enough = threading.Event(), threading.Event()

    def broken():
        raise RuntimeError("card gone")

    chores = make(backup=broken, thinning=done.set)
    with capture_logs() as logged:
        chores.poll()
        chores._scheduler.add_listener(lambda _event: logged_enough.set())
        for name in ("backup", "thinning"):
            chores._scheduler.modify_job(name, next_run_time=datetime.now(UTC))
        assert done.wait(20.0)
        assert logged_enough.wait(20.0)
    failed = [entry for entry in logged if entry["event"] == "chore_failed"]
    assert [(entry["chore"], entry["log_level"]) for entry in failed] == [("backup", "error")]
    assert "card gone" in failed[0]["problem"]


def test_missed_chore_is_logged(make, clock):
    """A chore that was due longer ago than its grace is skipped, and that can be read."""
    clock.wall = NOW
    told = threading.Event()
    chores = make(backup=nothing)
    with capture_logs() as logged:
        chores.poll()
        chores._scheduler.add_listener(lambda _event: told.set(), 1 << 14)
        # Due then and never again: by its own timetable it would be due anew at some hours of the day.
        long_ago = DateTrigger(datetime.now(UTC) - timedelta(days=2))
        chores._scheduler.reschedule_job("backup", trigger=long_ago)
        assert told.wait(20.0)
    assert {"event": "chore_not_run", "chore": "backup", "log_level": "warning"} in logged


def test_closing_twice_and_before_the_start_is_harmless(make, clock):
    """Stopping never fails, whatever was planned."""
    chores = make(backup=nothing)
    chores.close()
    clock.wall = NOW
    chores.poll()
    chores.close()
    chores.close()
    assert chores.next_runs() == {}
