"""Logs: lines for people on a terminal, one JSON object a line otherwise, from every library."""

from __future__ import annotations

import contextlib
import json
import logging
import math
import os
import sys
from typing import TYPE_CHECKING, Any, TextIO

import structlog

from controller.letters import plain, visible, visible_json
from controller.settings.toml_file import SECRET_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, MutableMapping

    from structlog.typing import Processor

    from controller.clock import Clock

LEVELS = {
    "debug": logging.DEBUG,
    "info": logging.INFO,
    "warning": logging.WARNING,
    "error": logging.ERROR,
}
# Priorities of sd-daemon(3), which journald takes from the start of a line.
JOURNAL_PRIORITY = {"debug": 7, "info": 6, "warning": 4, "error": 3, "critical": 2}
# These libraries log every run and every packet at info.
TALKATIVE = ("apscheduler", "paho", "asyncio")


def configure(
    clock: Clock,
    level: str | None = None,
    stream: TextIO | None = None,
    environ: Mapping[str, str] | None = None,
) -> None:
    """Set logging up for the whole process; may be called again.

    Args:
        clock: gives each line its monotonic time (``mono_s``) and the time of day (``at``, null until set).
        level: "debug", "info", "warning" or "error"; HYPOCAUST_LOG if None, "info" if neither is known.
        stream: where lines go; standard error if None.
        environ: the environment to read HYPOCAUST_LOG and JOURNAL_STREAM from.
    """
    source = os.environ if environ is None else environ
    target = sys.stderr if stream is None else stream
    wanted = (level or source.get("HYPOCAUST_LOG") or "info").lower()
    threshold = LEVELS.get(wanted, logging.INFO)
    shared: list[Processor] = [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        _times(clock),
        _hide_secrets,
    ]
    handler = logging.StreamHandler(plain(target))
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            foreign_pre_chain=[*shared, structlog.stdlib.ExtraAdder(), _hide_secrets],
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                *_renderers(target, source),
            ],
        )
    )
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(threshold)
    logging.raiseExceptions = False  # a closed or full log must never disturb control
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(max(threshold, logging.WARNING))
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            structlog.stdlib.PositionalArgumentsFormatter(),
            *shared,
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        wrapper_class=structlog.stdlib.BoundLogger,
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=False,
    )
    if wanted not in LEVELS:
        structlog.get_logger(__name__).warning(
            "log_level_unknown", given=wanted, expected=sorted(LEVELS), used="info"
        )


def _renderers(target: TextIO, environ: Mapping[str, str]) -> list[Processor]:
    """How a finished event becomes a line on this stream."""
    if target.isatty():
        # No colours: they consist of the control letters that are kept from the terminal.
        traceback = structlog.dev.plain_traceback
        return [_one_line, structlog.dev.ConsoleRenderer(colors=False, exception_formatter=traceback)]
    render = _journal_line if _is_journal(target, environ) else _json_line
    return [structlog.processors.format_exc_info, render]


def _is_journal(target: TextIO, environ: Mapping[str, str]) -> bool:
    """Whether a stream ends in the journal: JOURNAL_STREAM holds its device and inode (systemd.exec(5))."""
    try:
        about = os.fstat(target.fileno())
    except (OSError, ValueError):
        return False
    return environ.get("JOURNAL_STREAM") == f"{about.st_dev}:{about.st_ino}"


@contextlib.contextmanager
def silenced() -> Iterator[None]:
    """Log nothing: a loop that runs in another time than this one leaves all it has to say in its outcome."""
    before = structlog.get_config()
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    try:
        yield
    finally:
        structlog.configure(**before)


def _times(clock: Clock) -> Processor:
    """A processor that stamps each event with both times."""

    def add_times(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
        wall = clock.wall_utc()
        event["mono_s"] = round(clock.monotonic_s(), 3)
        event["at"] = None if wall is None else wall.isoformat(timespec="milliseconds")
        return event

    return add_times


def _hide_secrets(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """Replace values whose key says that they are secret."""
    for key in event:
        if any(word in key.lower() for word in SECRET_WORDS):
            event[key] = "(hidden)"
    return event


def _one_line(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """Keep a message of another library on one line; values are quoted by the renderer."""
    event["event"] = visible(str(event.get("event", "")))
    return event


def _json_line(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> str:
    """The event as one JSON object."""
    return visible_json(json.dumps(_plain(event), allow_nan=False, ensure_ascii=False))


def _journal_line(logger: Any, method: str, event: MutableMapping[str, Any]) -> str:
    """The same with the priority in front that journald takes off again."""
    priority = JOURNAL_PRIORITY.get(str(event.get("level")), JOURNAL_PRIORITY["info"])
    return f"<{priority}>{_json_line(logger, method, event)}"


def _plain(value: Any) -> Any:
    """A value as JSON can hold it: no NaN, no infinity, no foreign objects."""
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "items"):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [_plain(each) for each in value]
    return str(value)
