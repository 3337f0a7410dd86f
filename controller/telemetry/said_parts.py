"""What people at the machine have said, as parts of the messages. Pure."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from controller.faults import DAY_S
from controller.telemetry.hand_checks import HAND_CHECKS
from controller.telemetry.payloads import HandCheckParts

if TYPE_CHECKING:
    from controller.record.tick import TickRecord


def by_hand(tick: TickRecord) -> list[HandCheckParts]:
    """Every check by hand, first those never done, then by when they are due."""
    done = tick.diagnosis.evidence.attendance.done
    checks = [
        HandCheckParts(
            name=name,
            what=check.what,
            every_days=check.every_days,
            last_done=moment(done.get(name)),
            due=moment(done[name] + check.every_days * DAY_S) if name in done else None,
        )
        for name, check in HAND_CHECKS.items()
    ]
    return sorted(checks, key=lambda check: check.due or "")


def emptiness(tick: TickRecord) -> dict[str, Any]:
    """Whether the house counts as empty, and until when; nothing while it is planted."""
    until = tick.diagnosis.evidence.attendance.empty_until
    if until is None:
        return {}
    return {"house_empty": True, "house_empty_until": moment(until.utc_s)}


def moment(utc_s: float | None) -> str | None:
    """Seconds since 1970 as machines exchange a time, None for None."""
    return None if utc_s is None else rfc3339(datetime.fromtimestamp(utc_s, UTC))


def rfc3339(wall_utc: datetime | None) -> str | None:
    """A UTC time as machines exchange it (RFC 3339, whole seconds, Z), or None if it is unknown."""
    return None if wall_utc is None else wall_utc.strftime("%Y-%m-%dT%H:%M:%SZ")
