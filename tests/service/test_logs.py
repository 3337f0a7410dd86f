"""Logs: one JSON object a line, from every library, with nothing secret and nothing that is not JSON."""

from __future__ import annotations

import io
import json
import logging
import os
from datetime import UTC, datetime

import pytest
import structlog

from controller.service import logs

pytestmark = pytest.mark.usefixtures("clean_logging")


def lines(stream):
    """Every line as JSON; a line that is not fails the test."""

    def refuse(word):
        raise ValueError(f"{word} is not JSON")

    return [json.loads(line, parse_constant=refuse) for line in stream.getvalue().splitlines()]


@pytest.fixture
def stream():
    """Where the log goes."""
    return io.StringIO()


def test_event_is_one_json_object_with_both_times(clock, stream):
    """Names, values and units arrive as data; the time of day is null until the clock is set."""
    logs.configure(clock, stream=stream, environ={})
    log = structlog.get_logger("controller.loop")
    log.info("fan_started", loop="north", ceiling_c=31.4)
    clock.wall = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
    log.warning("fan_stopped", loop="north")
    first, second = lines(stream)
    assert first == {
        "event": "fan_started",
        "loop": "north",
        "ceiling_c": 31.4,
        "level": "info",
        "logger": "controller.loop",
        "mono_s": 1000.0,
        "at": None,
    }
    assert second["at"] == "2026-03-01T12:00:00.000+00:00"
    assert second["level"] == "warning"


def test_other_libraries_log_in_the_same_shape(clock, stream):
    """A line from the standard library's logging has the same keys, and its extras."""
    logs.configure(clock, stream=stream, environ={})
    logging.getLogger("some.library").warning("lost %d of %d", 2, 5, extra={"broker": "shed"})
    (line,) = lines(stream)
    assert line["event"] == "lost 2 of 5"
    assert (line["level"], line["logger"], line["broker"]) == ("warning", "some.library", "shed")
    assert line["mono_s"] == 1000.0


def test_traceback_stays_inside_its_line(clock, stream):
    """An exception is one line whichever library logs it, so that the journal keeps it together."""
    logs.configure(clock, stream=stream, environ={})
    try:
        int("first\nsecond")
    except ValueError:
        structlog.get_logger().exception("chore_failed")
        logging.getLogger("lib").exception("library failed")
    ours, theirs = lines(stream)
    for line in (ours, theirs):
        assert "Traceback (most recent call last)" in line["exception"]
        assert "ValueError: invalid literal" in line["exception"]
        assert "\n" in line["exception"]


def test_values_that_json_cannot_hold_are_made_plain(clock, stream):
    """Not-a-number becomes null, foreign objects become text, at any depth."""
    logs.configure(clock, stream=stream, environ={})
    structlog.get_logger().info(
        "odd", a_c=float("nan"), b={"c": [float("inf"), OSError("x")], 3: {1.5}}, path=os
    )
    (line,) = lines(stream)
    assert line["a_c"] is None
    assert line["b"] == {"c": [None, "x"], "3": [1.5]}
    assert "module" in line["path"]


@pytest.mark.parametrize("key", ["password", "mqtt_password", "api_token", "ClientSecret"])
def test_secrets_are_hidden(clock, stream, key):
    """A value whose key says that it is secret never reaches the log, from whichever library."""
    logs.configure(clock, stream=stream, environ={})
    structlog.get_logger().info("connecting", **{key: "open sesame"})
    logging.getLogger("lib").warning("connecting", extra={key: "open sesame"})
    assert "sesame" not in stream.getvalue()
    assert [line[key] for line in lines(stream)] == ["(hidden)", "(hidden)"]


@pytest.mark.parametrize(
    ("parameter", "environment", "shown"),
    [
        (None, {}, ["info", "error"]),
        (None, {"HYPOCAUST_LOG": "DEBUG"}, ["debug", "info", "error"]),
        (None, {"HYPOCAUST_LOG": "error"}, ["error"]),
        ("debug", {"HYPOCAUST_LOG": "error"}, ["debug", "info", "error"]),
    ],
)
def test_level_comes_from_the_parameter_or_the_environment(clock, stream, parameter, environment, shown):
    """The parameter wins over the environment, and the default is info."""
    logs.configure(clock, parameter, stream, environment)
    log = structlog.get_logger()
    log.debug("tick")
    log.info("tick")
    log.error("tick")
    assert [line["level"] for line in lines(stream)] == shown


def test_unknown_level_is_said_and_info_used(clock, stream):
    """A typing error in the environment does not silence the log."""
    logs.configure(clock, stream=stream, environ={"HYPOCAUST_LOG": "loud"})
    (line,) = lines(stream)
    assert (line["event"], line["given"], line["used"]) == ("log_level_unknown", "loud", "info")


def test_talkative_libraries_start_at_warning(clock, stream):
    """The scheduler and the link report trouble, not every run and packet."""
    logs.configure(clock, stream=stream, environ={})
    logging.getLogger("apscheduler.executors.default").info("Running job")
    logging.getLogger("apscheduler.scheduler").warning("missed")
    assert [line["event"] for line in lines(stream)] == ["missed"]


def test_journal_lines_begin_with_their_priority(clock, tmp_path):
    """Where the stream is the journal's, each line carries the priority journald expects."""
    with (tmp_path / "journal").open("w", encoding="utf-8") as journal:
        about = os.fstat(journal.fileno())
        logs.configure(clock, "debug", journal, {"JOURNAL_STREAM": f"{about.st_dev}:{about.st_ino}"})
        log = structlog.get_logger()
        for level in ("debug", "info", "warning", "error", "critical"):
            getattr(log, level)("event")
    written = (tmp_path / "journal").read_text(encoding="utf-8").splitlines()
    assert [line[:3] for line in written] == ["<7>", "<6>", "<4>", "<3>", "<2>"]
    assert all(json.loads(line[3:])["event"] == "event" for line in written)


def test_stream_that_is_not_the_journal_gets_no_priority(clock, tmp_path):
    """Every program started from a service inherits JOURNAL_STREAM; only the very same stream counts."""
    with (tmp_path / "file").open("w", encoding="utf-8") as file:
        logs.configure(clock, stream=file, environ={"JOURNAL_STREAM": "1:1"})
        structlog.get_logger().info("event")
    assert (tmp_path / "file").read_text(encoding="utf-8").startswith("{")


def test_terminal_gets_lines_for_people(clock, stream, monkeypatch):
    """On a terminal there is no JSON."""
    monkeypatch.setattr(stream, "isatty", lambda: True)
    logs.configure(clock, stream=stream, environ={})
    structlog.get_logger().info("fan_started", loop="north")
    try:
        int("here")
    except ValueError:
        structlog.get_logger().exception("failed")
    assert "fan_started" in stream.getvalue()
    assert "{" not in stream.getvalue().splitlines()[0]
    assert "ValueError: invalid literal" in stream.getvalue()


def test_log_that_cannot_be_written_never_disturbs(clock, stream):
    """A closed stream is silent, not an exception in the tick."""
    logs.configure(clock, stream=stream, environ={})
    stream.close()
    structlog.get_logger().error("event")


def test_configuring_again_replaces_the_old_set_up(clock, stream):
    """A logger that exists already follows the new set-up, and no line is written twice."""
    log = structlog.get_logger()
    logs.configure(clock, stream=io.StringIO(), environ={})
    log.info("before")
    logs.configure(clock, stream=stream, environ={})
    log.info("after")
    assert [line["event"] for line in lines(stream)] == ["after"]
