"""A replay for programs, and the JSON Schema of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from controller.replay.compare import ASSUMED, differing

if TYPE_CHECKING:
    from controller.record.tally import DayTally
    from controller.replay.compare import Result

_NUMBER = {"type": "number", "minimum": 0}
_COUNT = {"type": "integer", "minimum": 0}
_MOMENT = {"type": "string", "format": "date-time"}
_SHARE = {"type": "number", "minimum": 0, "maximum": 1}


def _object(properties: dict[str, Any], description: str = "") -> dict[str, Any]:
    made = {
        "type": "object",
        "additionalProperties": False,
        "required": list(properties),
        "properties": properties,
    }
    return made | ({"description": description} if description else {})


_MOTOR = {"name": {"type": "string"}, "run_s": _NUMBER, "starts": _COUNT, "electricity_j": _NUMBER}
_HEAT = {"banked_j": _NUMBER, "returned_j": _NUMBER}
_DAY = _object(
    {
        "loops": {"type": "array", "items": _object({**_MOTOR, **_HEAT})},
        "pumps": {"type": "array", "items": _object(_MOTOR)},
    },
    "Sums of a day; a motor that never ran may be left out.",
)
_RECORDED = _object({"name": {"type": "string"}, "run_s": _NUMBER, "starts": _COUNT})
_CHANGE = _object(
    {
        "at": _MOMENT,
        "settings": {"enum": ["here", "now", "then"]},
        "output": {"type": "string"},
        "on": {"type": "boolean"},
        "reason": {"type": "string"},
        "sentence": {"type": "string"},
    }
)

SCHEMA = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "hypocaust replay --json",
    "description": "Recorded days replayed with the settings in force (now) and with others (then). SI.",
    **_object(
        {
            "from": _MOMENT,
            "to": _MOMENT,
            "agreement": _object(
                {"same_state": _SHARE, "of_running": _SHARE},
                "Share of the time in which the fans did as in the record; and of the time in which one ran.",
            ),
            "days": {
                "type": "array",
                "items": _object(
                    {
                        "date": {"type": "string", "format": "date"},
                        "recorded": _object({"loops": {"type": "array", "items": _RECORDED}}),
                        "now": _DAY,
                        "then": {"anyOf": [_DAY, {"type": "null"}]},
                    }
                ),
            },
            "changes": {"anyOf": [{"type": "array", "items": _CHANGE}, {"type": "null"}]},
            "assumed": {"type": "array", "items": {"type": "string"}},
        }
    ),
}


def as_json(result: Result, *, changes: bool) -> dict[str, Any]:
    """Both replays as ``SCHEMA`` says."""
    here, other = result.here, result.other
    others = {} if other is None else {str(day.date): day for day in other.days}
    days = [
        {
            "date": str(day.date),
            "recorded": {
                "loops": [
                    {
                        "name": loop,
                        "run_s": round(here.ran_s.get((str(day.date), loop), 0.0), 1),
                        "starts": here.started.get((str(day.date), loop), 0),
                    }
                    for loop in sorted(
                        {*day.loops, *(name for on, name in here.ran_s if on == str(day.date))}
                    )
                ]
            },
            "now": _day_json(day),
            "then": _day_json(others[str(day.date)]) if str(day.date) in others else None,
        }
        for day in here.days
    ]
    listed = [
        {
            "at": happened.at_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "settings": which,
            "output": str(happened.change.output),
            "on": happened.change.on,
            "reason": happened.change.reason.code.value,
            "sentence": happened.change.reason.sentence(result.unit),
        }
        for which, happened in (differing(result) if changes else [])
    ]
    agreement = here.agreement
    return {
        "from": result.from_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "to": result.to_utc.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "agreement": {"same_state": round(agreement.same, 5), "of_running": round(agreement.of_running, 5)},
        "days": days,
        "changes": listed if changes else None,
        "assumed": list(ASSUMED),
    }


def _day_json(day: DayTally) -> dict[str, Any]:
    def rounded(sums: dict[str, Any]) -> dict[str, Any]:
        return {
            key: value if isinstance(value, str | int) else round(value, 1) for key, value in sums.items()
        }

    return {
        "loops": [rounded({"name": name, **loop._asdict()}) for name, loop in day.loops.items()],
        "pumps": [rounded({"name": name, **pump._asdict()}) for name, pump in day.pumps.items()],
    }
