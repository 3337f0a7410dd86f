"""Times as people read and write them: the local time of the machine the command runs on."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from controller.errors import HypocaustError

SECONDS = {"minute": 60.0, "hour": 3600.0}
DAYS = {"day": 1, "week": 7}
EXPECTED = 'expected "today", "yesterday", "3 days ago", "12 hours ago", 2026-01-31 or "2026-01-31 14:00"'


class NotATimeError(HypocaustError):
    """Words that name no time; the text says what was expected."""


def parsed_utc(text: str | None) -> datetime | None:
    """A time as machines exchange it (RFC 3339), None for None."""
    return None if text is None else datetime.fromisoformat(text).astimezone(UTC)


def moment_text(moment_utc: datetime, now_utc: datetime | None) -> str:
    """A time with as much of its date as is needed: ``14:02``, ``Sat 7 Mar 14:02``, ``7 Mar 2025 14:02``."""
    local = moment_utc.astimezone()
    now = None if now_utc is None else now_utc.astimezone()
    if now is not None and local.date() == now.date():
        return f"{local:%H:%M}"
    if now is not None and local.year != now.year:
        return f"{local.day} {local:%b %Y %H:%M}"
    return f"{local:%a} {local.day} {local:%b %H:%M}"


def day_text(moment_utc: datetime, now_utc: datetime | None) -> str:
    """A day: ``Sat 7 Mar``, or ``7 Mar 2027`` of another year than this."""
    local = moment_utc.astimezone()
    if now_utc is not None and local.year != now_utc.astimezone().year:
        return f"{local.day} {local:%b %Y}"
    return f"{local:%a} {local.day} {local:%b}"


def days_ago(moment_utc: datetime, now_utc: datetime) -> str:
    """How long ago a day was: ``today``, ``yesterday``, ``41 days ago``."""
    days = (now_utc.astimezone().date() - moment_utc.astimezone().date()).days
    if days <= 0:
        return "today"
    return "yesterday" if days == 1 else f"{days} days ago"


def moment_of(text: str, now_utc: datetime) -> datetime:
    """A time as a person writes it, in UTC.

    Raises:
        NotATimeError: the words name no time.
    """
    words = " ".join(text.lower().split())
    midnight = now_utc.astimezone().replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    if words in ("today", "yesterday"):
        return (midnight - timedelta(days=words == "yesterday")).astimezone(UTC)
    if found := re.fullmatch(r"([0-9]{1,4}) (minute|hour|day|week)s? ago", words):
        count, unit = int(found[1]), found[2]
        if unit in DAYS:
            return (midnight - timedelta(days=count * DAYS[unit])).astimezone(UTC)
        return now_utc - timedelta(seconds=count * SECONDS[unit])
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}([ t][0-9]{2}:[0-9]{2})?", words):
        try:
            return datetime.fromisoformat(words.replace("t", " ")).astimezone(UTC)
        except (OverflowError, ValueError, OSError):
            raise NotATimeError(f'"{text}" is not in the calendar') from None
    raise NotATimeError(f'"{text}" is not a time; {EXPECTED}')
