"""The JSON Schema of what ``hypocaust replay --json`` prints."""

from __future__ import annotations

from typing import Any

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
