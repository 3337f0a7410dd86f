"""Clearing a latched fire by a request on the machine."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime, timedelta

import pytest

from controller.clock import SystemClock
from controller.diagnosis.attendance import Deadline, Note
from controller.faults import FaultCode
from controller.readings.said import Act
from controller.service.mailbox import NobodyRunsError, leave
from controller.service.operator_requests import (
    Answer,
    OperatorRequests,
    ask_to_clear_fire,
    leave_request,
    next_dawn,
    say,
)
from controller.service.running import AlreadyRunningError, marked
from controller.settings import ownership
from controller.settings.ownership import NotOursError, open_directory
from tests.telemetry import ticks

FIRE = frozenset({FaultCode.FIRE})
NOBODY = frozenset()


def a_tick(latched=None):
    """A finished tick with this fire latch."""
    tick = ticks.tick()
    return tick._replace(state=tick.state._replace(fire=tick.state.fire._replace(latched_detail=latched)))


class AnsweringClock(SystemClock):
    """While somebody waits, the controller has its next tick."""

    def __init__(self, *next_ticks):
        self.next_ticks = list(next_ticks)
        self.ahead_s = 0.0

    def monotonic_s(self):
        """Seconds; a wait takes as long as it says."""
        return self.ahead_s

    def wait(self, _wake, timeout_s):
        """Let the controller tick."""
        self.ahead_s += timeout_s
        if self.next_ticks:
            self.next_ticks.pop(0)()
        return False


def asked(directory, *next_ticks):
    """What the person is answered."""
    return ask_to_clear_fire(directory, AnsweringClock(*next_ticks))


@pytest.mark.parametrize(
    ("before", "after", "answer"),
    [
        ("ridge reads 70 °C", None, Answer.CLEARED),
        ("ridge reads 70 °C", "ridge reads 71 °C", Answer.STILL_THERE),
        (None, None, Answer.NOTHING_LATCHED),
    ],
)
def test_a_request_is_taken_once_and_answered(tmp_path, before, after, answer):
    """The next tick sees it, the person hears what came of it, the tick after sees nothing more of it."""
    with marked(tmp_path) as run:
        requests = OperatorRequests(tmp_path, run, SystemClock())
        requests.observe(a_tick(before))
        taken = []

        def tick():
            taken.append(requests.take())
            requests.observe(a_tick(after))

        assert asked(tmp_path, tick, tick) is answer
        assert requests.take() == NOBODY
        assert taken == [FIRE]
    assert [path.name for path in tmp_path.iterdir()] == ["running.lock"]


def test_nobody_is_asked_where_no_controller_runs(tmp_path):
    """Before the first start, and after an end however it came, the person hears that nobody was asked."""
    with pytest.raises(NobodyRunsError):
        asked(tmp_path)
    with marked(tmp_path):
        pass
    with pytest.raises(NobodyRunsError):
        asked(tmp_path)
    assert not (tmp_path / "clear-fire").exists()
    with pytest.raises(FileNotFoundError):
        asked(tmp_path / "gone")


def test_a_request_left_behind_clears_nothing(tmp_path):
    """Made for an earlier run, or lying there at the start: it is removed and does not count."""
    with marked(tmp_path) as earlier, open_directory(tmp_path) as directory:
        leave_request(directory, earlier)
    with marked(tmp_path) as run, open_directory(tmp_path) as directory:
        requests = OperatorRequests(tmp_path, run, SystemClock())
        assert not (tmp_path / "clear-fire").exists()
        leave_request(directory, earlier)
        assert requests.take() == NOBODY
        assert not (tmp_path / "clear-fire").exists()


def test_a_controller_that_does_not_answer_is_said_and_the_request_taken_back(tmp_path):
    """It hangs: the person hears so within half a minute, and nothing is cleared when it wakes up."""
    with marked(tmp_path) as run:
        requests = OperatorRequests(tmp_path, run, SystemClock())
        assert asked(tmp_path) is Answer.SILENCE
        assert requests.take() == NOBODY


@pytest.mark.parametrize("content", [b"", b"\xff\xfe", b"fire\n", b"a b c\n", b"x" * 5000])
def test_other_content_asks_and_says_nothing(tmp_path, content):
    """A file that is touched by hand clears no fire and mutes nothing."""
    requests = OperatorRequests(tmp_path, "this run", SystemClock())
    for name in ("clear-fire", "say"):
        (tmp_path / name).write_bytes(content)
    assert requests.take() == NOBODY
    assert requests.said() == ()
    requests.observe(ticks.tick())
    assert list(tmp_path.iterdir()) == []


def test_links_are_replaced_and_never_followed(tmp_path):
    """A link in place of the request, the mark or the answer leaves its target as it was."""
    runtime, target = tmp_path / "run", tmp_path / "target"
    runtime.mkdir()
    with marked(runtime) as run:
        requests = OperatorRequests(runtime, run, SystemClock())
        (runtime / "clear-fire").symlink_to(target)
        (runtime / "clear-fire-answer").symlink_to(target)
        taken = []

        def tick():
            taken.append(requests.take())
            requests.observe(a_tick())

        with pytest.raises(NotOursError, match="is a link"):
            asked(runtime)  # somebody else's answer is not read
        (runtime / "clear-fire-answer").unlink()
        assert asked(runtime, tick) is Answer.NOTHING_LATCHED
        (runtime / "clear-fire").symlink_to(target)
        assert requests.take() == NOBODY
    (runtime / "running.lock").unlink()
    (runtime / "running.lock").symlink_to(target)
    with pytest.raises(OSError, match="symbolic link"), marked(runtime):
        pass
    assert taken == [FIRE]
    assert not target.exists()


def test_a_request_that_cannot_be_removed_does_not_count(tmp_path):
    """Otherwise it would clear the latch again in every tick, and the latch would be none."""
    requests = OperatorRequests(tmp_path, "this run", SystemClock())
    (tmp_path / "clear-fire").mkdir()
    assert requests.take() == NOBODY
    assert OperatorRequests(tmp_path / "gone", "this run", SystemClock()).take() == NOBODY


def test_what_strangers_may_have_made_is_not_believed(tmp_path, monkeypatch):
    """A directory or a request of another user asks nobody, neither here nor there."""
    with marked(tmp_path) as run, open_directory(tmp_path) as directory:
        requests = OperatorRequests(tmp_path, run, SystemClock())
        leave_request(directory, run)
        monkeypatch.setattr(ownership, "believed_users", lambda: frozenset({os.getuid() + 1}))
        assert requests.take() == NOBODY
        with pytest.raises(NotOursError, match="belongs to"):
            asked(tmp_path)
        monkeypatch.undo()
        tmp_path.chmod(0o777)
        with pytest.raises(NotOursError, match="can be written by everybody"):
            asked(tmp_path)
        tmp_path.chmod(0o700)
        assert requests.take() == FIRE


def test_the_mark_is_held_once_and_given_back_at_the_end(tmp_path):
    """Two controllers never run at once; one after the other each has a word of its own."""
    with marked(tmp_path) as first, pytest.raises(AlreadyRunningError), marked(tmp_path):
        pass
    (tmp_path / "running.lock").chmod(0o644)
    with marked(tmp_path) as second:
        assert first != second
        assert (tmp_path / "running.lock").stat().st_mode & 0o777 == 0o600, "others could hold the lock"


def test_a_mark_that_root_has_left_does_not_keep_the_service_from_starting(tmp_path, monkeypatch):
    """One that cannot be written is replaced where the directory is ours, unless a controller holds it."""
    real_open = os.open

    def refusing(path, flags, *args, **kwargs):
        if str(path).endswith("running.lock") and flags & os.O_RDWR and not flags & os.O_EXCL:
            raise PermissionError(13, "Permission denied", str(path))
        return real_open(path, flags, *args, **kwargs)

    with marked(tmp_path):
        monkeypatch.setattr(os, "open", refusing)
        with pytest.raises(AlreadyRunningError), marked(tmp_path):
            pass
    before = (tmp_path / "running.lock").stat().st_ino
    keeper = (tmp_path / "running.lock").open("rb")  # keeps the number of the old file from being used again
    with keeper, marked(tmp_path):
        assert (tmp_path / "running.lock").stat().st_ino != before


EVENING = datetime(2026, 3, 7, 20, 0, tzinfo=UTC)


class EveningClock(SystemClock):
    """The controller's clock, at one moment or not set."""

    def __init__(self, wall=EVENING):
        self.wall = wall

    def wall_utc(self):
        """The one moment."""
        return self.wall


def noted(said, ends=None):
    """A finished tick that has taken this in."""
    notes = tuple(Note(one.act, "words", one, ends) for one in said)
    return ticks.tick(diagnosis=ticks.diagnosis()._replace(notes=notes))


@pytest.mark.parametrize(
    ("words", "act", "about"),
    [
        (["seen", "frost"], Act.SEEN, "frost"),
        (["seen", "frost", "dawn"], Act.SEEN, "frost"),
        (["house-empty"], Act.EMPTY, ""),
        (["house-planted"], Act.PLANTED, ""),
        (["done", "floats"], Act.DONE, "floats"),
    ],
)
def test_what_somebody_says_reaches_one_tick_and_is_answered(tmp_path, words, act, about):
    """Once; the answer says until when it holds; nothing is left of it."""
    with marked(tmp_path) as run:
        requests = OperatorRequests(tmp_path, run, EveningClock())
        taken = []

        def tick():
            taken.append(requests.said())
            requests.observe(noted(taken[-1], Deadline(1.0, 1_780_000_000.0)))

        assert say(tmp_path, words, AnsweringClock(tick, tick)) == (Answer.NOTED, 1_780_000_000.0)
        assert requests.said() == ()
        assert requests.take() == NOBODY
    (one,) = taken[0]
    assert (one.act, one.about) == (act, about)
    assert [path.name for path in tmp_path.iterdir()] == ["running.lock"]
    if "dawn" in words:
        dawn = one.until_utc.astimezone()
        assert (dawn.hour, dawn.minute, dawn > EVENING) == (7, 0, True)
        assert dawn - EVENING <= timedelta(days=1)


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["seen", "fire"], Answer.REFUSED),
        (["seen", "sump-not-emptying"], Answer.REFUSED),
        (["seen", "no-such-code"], Answer.REFUSED),
        (["seen", "frost", "noon"], Answer.REFUSED),
        (["done", "nothing"], Answer.REFUSED),
        (["on", "fan:north"], Answer.REFUSED),
        ([], Answer.REFUSED),
        (["seen", "frost", "dawn"], Answer.NO_CLOCK),
        (["seen", "frost"], Answer.NO_SUCH_ALARM),
        (["done", "floats"], Answer.NO_CLOCK),
    ],
)
def test_what_is_not_noted_says_why(tmp_path, words, answer):
    """A danger, an unknown word, no such alarm, no time of day: the person hears which, and no tick more."""
    with marked(tmp_path) as run:
        requests = OperatorRequests(tmp_path, run, EveningClock(wall=None))

        def tick():
            requests.said()
            requests.observe(ticks.tick())

        assert say(tmp_path, words, AnsweringClock(tick, tick)) == (answer, None)


def test_nobody_hears_what_is_said_to_another_run(tmp_path):
    """Left behind or said to nobody: it does not count, and is taken back where no answer comes."""
    with marked(tmp_path) as earlier, open_directory(tmp_path) as directory:
        leave(directory, "say", earlier, "house-empty")
    with marked(tmp_path) as run, open_directory(tmp_path) as directory:
        requests = OperatorRequests(tmp_path, run, EveningClock())
        leave(directory, "say", earlier, "house-empty")
        assert requests.said() == ()
        assert say(tmp_path, ["house-empty"], AnsweringClock()) == (Answer.SILENCE, None)
        assert requests.said() == ()
    with pytest.raises(NobodyRunsError):
        say(tmp_path, ["house-empty"], AnsweringClock())


@pytest.mark.parametrize(
    ("now_utc", "dawn_utc"),
    [
        ("2026-03-07T20:00", "2026-03-08T05:00"),
        ("2026-03-08T04:59", "2026-03-08T05:00"),
        ("2026-03-08T05:00", "2026-03-09T05:00"),
        ("2026-03-28T20:00", "2026-03-29T04:00"),
        ("2026-10-24T20:00", "2026-10-25T05:00"),
    ],
    ids=["evening", "a minute before", "at dawn", "night of a short spring", "night of a long autumn"],
)
def test_dawn_is_the_next_seven_in_the_morning_of_the_place(monkeypatch, now_utc, dawn_utc):
    """Two hours east, three in summer (POSIX rules): also where the hours are moved in that night."""
    monkeypatch.setenv("TZ", "EET-2EEST,M3.5.0/3,M10.5.0/4")
    time.tzset()
    try:
        assert next_dawn(datetime.fromisoformat(f"{now_utc}+00:00")).isoformat() == f"{dawn_utc}:00+00:00"
    finally:
        monkeypatch.undo()
        time.tzset()
