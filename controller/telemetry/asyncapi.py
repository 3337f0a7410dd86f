"""Writes down what is published: ``python -m controller.telemetry.asyncapi`` prints an AsyncAPI 3 document.

Form: AsyncAPI specification 3.0.0 with the MQTT operation binding 0.2.0; schemas are generated from the
message models. The daemon does not need this file.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from typing import Any

from pydantic.json_schema import models_json_schema

from controller.telemetry import past, payloads

CONTRACT_VERSION = "1.0.0"  # first number: something a reader relied on has changed or gone

DESCRIPTION = """\
A greenhouse controller reports what it sees, does and needs. It only sends: it subscribes to nothing, and no
message can change anything in the house. Numbers are SI with the unit in the key; temperatures are in °C. A
temperature that cannot be believed is null with the cause in `why`. `at` is null until the clock of the board
is set. A message older than `valid_for_s` must not be taken for the present; with MQTT 5 the broker drops it
by then.
"""


@dataclass(frozen=True, slots=True)
class Channel:
    """One kind of topic.

    Attributes:
        name: its first level below the site.
        model: the message.
        qos: MQTT quality of service.
        retain: whether the broker keeps the last one.
        summary: when it is sent.
        parameter: name of the level below, empty if there is no such level.
        stands_for: what that level is.
    """

    name: str
    model: type[payloads.Message]
    qos: int
    retain: bool
    summary: str
    parameter: str = ""
    stands_for: str = ""

    @property
    def address(self) -> str:
        """The topic with its parameters in braces."""
        below = f"/{{{self.parameter}}}" if self.parameter else ""
        return f"hypocaust/{{site}}/{self.name}{below}"


CHANNELS = (
    Channel(
        "online",
        payloads.Online,
        qos=1,
        retain=True,
        summary="At every connection, at a stop, and by the broker when the connection breaks.",
    ),
    Channel(
        "status",
        payloads.Status,
        qos=1,
        retain=True,
        summary="Everything at a glance: at every change and from time to time.",
    ),
    Channel(
        "temperature",
        payloads.Temperature,
        qos=0,
        retain=False,
        summary="One probe, from time to time.",
        parameter="probe",
        stands_for="Name of the probe.",
    ),
    Channel(
        "loop",
        payloads.LoopReport,
        qos=0,
        retain=False,
        summary="One loop: when its fan turns on or off and from time to time.",
        parameter="loop",
        stands_for="Name of the loop.",
    ),
    Channel(
        "sump",
        payloads.SumpReport,
        qos=0,
        retain=False,
        summary="One sump: when float or pump change and from time to time.",
        parameter="sump",
        stands_for="Name of the sump.",
    ),
    Channel(
        "alarm",
        payloads.AlarmReport,
        qos=1,
        retain=True,
        summary="While the alarm is active; an empty retained message takes it away when it is not.",
        parameter="code",
        stands_for="Name of the fault.",
    ),
    Channel(
        "day",
        payloads.Day,
        qos=1,
        retain=False,
        summary="The sums of a finished day.",
    ),
    Channel(
        "curves",
        past.Curves,
        qos=1,
        retain=True,
        summary="The last two days: every quarter of an hour and at every connection.",
    ),
    Channel(
        "year",
        past.Year,
        qos=1,
        retain=True,
        summary="The heat of each month: after a start, after each finished day and at every connection.",
    ),
    Channel(
        "tonight",
        payloads.Tonight,
        qos=1,
        retain=True,
        summary="How cold the night gets, or why that is not known: every quarter of an hour, and when a "
        "heater or a forecast changes it.",
    ),
    Channel(
        "month",
        payloads.Month,
        qos=1,
        retain=True,
        summary="The sums of the last finished month, shortly after its end.",
    ),
)


def document() -> dict[str, Any]:
    """The AsyncAPI document."""
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": "hypocaust status and alarms",
            "version": CONTRACT_VERSION,
            "description": DESCRIPTION,
            "license": {"name": "MIT"},
        },
        "defaultContentType": "application/json",
        "channels": {channel.name: _channel(channel) for channel in CHANNELS},
        "operations": {f"send-{channel.name}": _operation(channel) for channel in CHANNELS},
        "components": {
            "messages": {channel.name: _message(channel) for channel in CHANNELS},
            "schemas": _schemas(),
        },
    }


def text() -> str:
    """The document as it stands in the repository."""
    return json.dumps(document(), indent=2, ensure_ascii=False) + "\n"


def _channel(channel: Channel) -> dict[str, Any]:
    parameters = {"site": {"description": "Name of the site, [site] name in the settings."}}
    if channel.parameter:
        parameters[channel.parameter] = {"description": channel.stands_for}
    return {
        "address": channel.address,
        "parameters": parameters,
        "messages": {channel.name: {"$ref": f"#/components/messages/{channel.name}"}},
    }


def _operation(channel: Channel) -> dict[str, Any]:
    return {
        "action": "send",
        "channel": {"$ref": f"#/channels/{channel.name}"},
        "summary": channel.summary,
        "messages": [{"$ref": f"#/channels/{channel.name}/messages/{channel.name}"}],
        "bindings": {"mqtt": {"qos": channel.qos, "retain": channel.retain, "bindingVersion": "0.2.0"}},
    }


def _message(channel: Channel) -> dict[str, Any]:
    return {
        "name": channel.name,
        "summary": channel.summary,
        "payload": {"$ref": f"#/components/schemas/{channel.model.__name__}"},
    }


def _schemas() -> dict[str, Any]:
    _, schemas = models_json_schema(
        [(channel.model, "serialization") for channel in CHANNELS],
        ref_template="#/components/schemas/{model}",
    )
    definitions: dict[str, Any] = schemas["$defs"]
    return definitions


if __name__ == "__main__":
    sys.stdout.write(text())
