"""``hypocaust status``."""

from __future__ import annotations

import io
import os
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from controller.cli.status import status
from controller.cli.status_place import runtime_directory
from controller.clock import boot_id
from controller.faults import FaultCode
from controller.settings import ownership
from controller.settings.last_good import copy_of, write_copy
from controller.settings.places import desk_directory
from controller.telemetry.build import Program
from controller.telemetry.status_file import StatusFile
from tests.telemetry import ticks


class StoppedClock:
    """A clock that stands at one moment; waiting ends with the interrupt key after a few rounds."""

    def __init__(self, now_s=1012.0, wall=None, rounds=0):
        self.now_s = now_s
        self.wall = wall
        self.rounds = rounds

    def monotonic_s(self):
        """The one moment."""
        return self.now_s

    def wall_utc(self):
        """The one date, or None."""
        return self.wall

    def wait(self, _wake, timeout_s):
        """Count down, then behave like a person who has seen enough."""
        assert timeout_s == 2.0
        if self.rounds == 0:
            raise KeyboardInterrupt
        self.rounds -= 1
        return False


class Terminal(io.StringIO):
    """Text that claims to be a terminal."""

    def isatty(self):
        """It is."""
        return True


@pytest.fixture(autouse=True)
def directory(tmp_path, monkeypatch):
    """An empty runtime directory; colours not forbidden."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    monkeypatch.delenv("NO_COLOR", raising=False)
    return tmp_path


def write(directory, boot=None):
    """Write the status of a tick at 1000 s."""
    StatusFile(directory, Program("0.1.0", boot_id() if boot is None else boot, 100.0)).observe(ticks.tick())


def shown(clock=None, path=None, out=None):
    """Exit code and text."""
    out = out or io.StringIO()
    code = status(path, out, clock=clock or StoppedClock())
    return code, out.getvalue()


def test_fresh_status_is_printed(directory):
    """Twelve seconds after it was written: the page, exit code 0, no control characters in a pipe."""
    write(directory)
    code, text = shown()
    assert code == 0
    assert "12 s ago" in text
    assert "\x1b" not in text


def test_stale_status_is_printed_as_stale(directory):
    """An hour without news: the page says so and the exit code is 3."""
    write(directory)
    code, text = shown(StoppedClock(1000.0 + 3600.0))
    assert code == 3
    assert "NOT FRESH" in text
    assert "60 min ago" in text


def test_status_of_an_earlier_boot_is_stale(directory):
    """Seconds of another boot mean nothing: however close they look, the status is old."""
    write(directory, boot="another boot")
    code, text = shown()
    assert code == 3
    assert "the board has started again" in " ".join(text.split())


def test_status_without_a_boot_goes_by_the_date_of_the_file(directory):
    """A house in its own time names no boot: the file's date gives its age."""
    write(directory, boot="")
    now = datetime(2026, 3, 7, 12, tzinfo=UTC)
    os.utime(directory / "status.json", (now.timestamp() - 20.0,) * 2)
    code, text = shown(StoppedClock(wall=now))
    assert (code, "20 s ago" in text) == (0, True)
    assert shown(StoppedClock(wall=None))[0] == 3


def test_no_status_says_that_the_controller_does_not_run(directory):
    """No file: one clear message that names the file and the next step, exit code 3."""
    code, text = shown()
    assert code == 3
    assert str(directory / "status.json") in text
    assert "systemctl start hypocaust" in text


def test_numbers_of_any_size_are_survived(directory):
    """A number of hundreds of digits in place of any other is damage, too, and no traceback."""
    write(directory)
    text = (directory / "status.json").read_text(encoding="utf-8")
    for number in re.findall(r"(?<=:)-?[0-9.]+(?=[,}])", text):
        (directory / "status.json").write_text(text.replace(f":{number}", ":1" + "0" * 400))
        assert shown()[0] in (0, 2, 3)
    assert "is damaged" in " ".join(shown()[1].split())


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"seq": 1}', b"\xff\xfe", b"x" * 2_000_000])
def test_damaged_file_is_said_without_a_traceback(directory, content):
    """Whatever stands in the file: a message that it is damaged, exit code 2."""
    (directory / "status.json").write_bytes(content)
    code, text = shown()
    assert code == 2
    assert "is damaged or from another release" in " ".join(text.split())


def test_file_that_cannot_be_read_is_said(directory):
    """A directory, a pipe or a link in its place: a message with the cause, exit code 2."""
    file = directory / "status.json"
    for put, cause in (
        (file.mkdir, "status.json is not a file"),
        (lambda: (file.rmdir(), os.mkfifo(file)), "status.json is not a file"),
        (lambda: (file.unlink(), file.symlink_to("/etc/passwd")), "status.json is a link"),
    ):
        put()
        code, text = shown()
        assert code == 2
        assert f"is not shown: {cause}" in " ".join(text.split())


def test_what_a_stranger_may_have_written_is_not_shown(directory, monkeypatch):
    """A status of another user than root, the service's or one's own could say anything: exit code 2."""
    write(directory)
    directory.chmod(0o777)
    code, text = shown()
    assert (code, "can be written by everybody" in " ".join(text.split())) == (2, True)
    directory.chmod(0o755)
    assert shown()[0] == 0
    monkeypatch.setattr(ownership, "believed_users", lambda: frozenset({os.getuid() + 1}))
    code, text = shown()
    assert code == 2
    assert "not to root, hypocaust or you" in " ".join(text.split())
    assert "north" not in text


def test_a_desk_directory_that_somebody_else_has_made_is_passed_over(tmp_path, monkeypatch):
    """Anybody can make directories where a simulated house keeps its files; only one's own is looked into."""
    monkeypatch.delenv("RUNTIME_DIRECTORY")
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    file = tmp_path / "house.toml"
    file.write_text(f'[site]\nname = "fellside"\n[service]\nruntime_directory = "{tmp_path / "none"}"\n')
    desk = desk_directory("fellside")
    (desk / "run").mkdir(parents=True)
    write(desk / "run")
    assert shown(path=str(file))[0] == 0
    desk.parent.chmod(0o777)
    assert shown(path=str(file))[0] == 3
    desk.parent.chmod(0o700)
    desk.parent.rename(tmp_path / "elsewhere")
    desk.parent.symlink_to(tmp_path / "elsewhere")
    assert shown(path=str(file))[0] == 3


def test_terminal_gets_bold_headings_unless_colours_are_refused(directory, monkeypatch):
    """On a terminal headings stand out; NO_COLOR turns that off."""
    write(directory)
    assert "\x1b[1mFellside school garden" in shown(out=Terminal())[1]
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b" not in shown(out=Terminal())[1]


def test_watch_redraws_until_interrupted(directory):
    """Every 2 s the page is drawn afresh; the interrupt key ends it without a traceback."""
    write(directory)
    out = Terminal()
    assert status(None, out, watch=True, clock=StoppedClock(rounds=2)) == 0
    assert out.getvalue().count("\x1b[2J") == 3


def test_settings_file_says_where_to_look_even_while_it_is_invalid(tmp_path, monkeypatch):
    """The directory comes from the settings file; errors elsewhere in it do not matter for that."""
    monkeypatch.delenv("RUNTIME_DIRECTORY")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    write(elsewhere)
    file = tmp_path / "house.toml"
    file.write_text(f'[service]\nruntime_directory = "{elsewhere}"\n[setpoints]\nheat_below = "warm"\n')
    assert shown(path=str(file))[0] == 0
    for unusable in ("not toml at all [", "service = 3\n", "[service]\nruntime_directory = 3\n"):
        file.write_text(unusable)
        assert runtime_directory(str(file)) == Path("/run/hypocaust")


def test_watching_never_scrolls(directory, monkeypatch):
    """With more to say than the terminal has lines, it says how much is missing and where that is shown."""
    alarms = [ticks.alarm(code, "south", "word " * 60) for code in FaultCode]
    program = Program("0.1.0", boot_id(), 100.0)
    StatusFile(directory, program).observe(ticks.tick(diagnosis=ticks.diagnosis(*alarms)))
    monkeypatch.setattr("os.get_terminal_size", lambda _: os.terminal_size((80, 20)))
    for everything, where in ((False, "--all"), (True, "without --watch")):
        out = Terminal()
        out.fileno = lambda: 1
        assert status(None, out, watch=True, everything=everything, clock=StoppedClock(rounds=1)) == 0
        screens = out.getvalue().split("\x1b[H\x1b[2J")[1:]
        assert [screen.count("\n") for screen in screens] == [19, 19]
        assert all(where in screen.splitlines()[-1] for screen in screens)


def test_all_of_it_is_longer_than_the_glance(directory):
    """What the glance leaves out stands in ``--all``: reasons, what is not monitored, checks by hand."""
    write(directory)
    out = io.StringIO()
    assert status(None, out, everything=True, clock=StoppedClock()) == 0
    text = " ".join(out.getvalue().split())
    glance = " ".join(shown()[1].split())
    for words in ("Not monitored", "lift every float", "about 2.4 kW for 120 W", "hypocaust 0.1.0"):
        assert (words in text, words in glance) == (True, False), words


@pytest.mark.parametrize("wall", [datetime(2026, 3, 7, 14, 2, tzinfo=UTC), None])
def test_an_orderly_stop_is_told_from_a_crash(directory, wall):
    """At once and for as long as the board runs; without a time of day the hour is left out."""
    file = StatusFile(directory, Program("0.1.0", boot_id(), 100.0))
    file.observe(ticks.tick())
    file.close(wall)
    for later_s in (1.0, 3600.0):
        code, text = shown(StoppedClock(1000.0 + later_s))
        assert code == 3
        assert ("stopped at 14:02, in order" in text) is (wall is not None)
        assert "every output is off" in text
        assert "NOT FRESH" not in text


def test_a_stop_before_the_first_tick_says_nothing_of_the_run_before(directory):
    """The status of an earlier run is not signed as if this one had written it."""
    write(directory)
    StatusFile(directory, Program("0.1.0", boot_id(), 100.0)).close(None)
    assert "STOPPED" not in shown()[1]


def test_the_last_good_copy_says_where_to_look_while_the_file_is_broken(tmp_path, monkeypatch):
    """With a file that is no TOML any more the status is found all the same, of a simulated house as well."""
    monkeypatch.delenv("RUNTIME_DIRECTORY")
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    elsewhere, state = tmp_path / "elsewhere", tmp_path / "state"
    elsewhere.mkdir()
    state.mkdir()
    monkeypatch.setenv("STATE_DIRECTORY", str(state))
    write(elsewhere)
    file = tmp_path / "house.toml"
    good = f'[service]\nruntime_directory = "{elsewhere}"\n'
    write_copy(copy_of(file), file, good)
    file.write_text("[service\nruntime_directory = 3")
    assert shown(path=str(file))[0] == 0
    copy_of(file).unlink()
    assert shown(path=str(file))[0] == 3
    desk = desk_directory("fellside")
    for part in ("run", "state"):
        (desk / part).mkdir(parents=True)
    desk.parent.chmod(0o700)
    write(desk / "run")
    write_copy(desk / "state" / "last-good.toml", file, '[site]\nname = "fellside"\n')
    assert shown(path=str(file))[0] == 0


def test_settings_file_that_is_not_there_is_said(tmp_path):
    """A path with a typing error is said with the path, exit code 2."""
    code, text = shown(path=str(tmp_path / "huose.toml"))
    assert code == 2
    assert "huose.toml" in text
