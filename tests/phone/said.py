"""What a house says to its broker in these tests: messages of a small house, partly changed."""

from __future__ import annotations

import functools
import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from controller.telemetry import build
from controller.telemetry.curves import STEP_S, TwoDays
from tests.broker import LONGEST_WAIT_S
from tests.telemetry import ticks

if TYPE_CHECKING:
    from tests.shipped import Shipped

FROST = {
    "code": "frost",
    "priority": "act now",
    "cause": "The crop is colder than its limit.",
    "consequence": "The crop freezes before the morning.",
    "action": "light a flued or electric heater",
    "time_to_act_s": 3600.0,
    "subject": "",
    "detail": "air 1.2 °C",
    "since": None,
    "since_s": 600.0,
    "seen": False,
    "seen_at": None,
    "muted": False,
}
PROBE = FROST | {"code": "probe", "priority": "this week", "subject": "ridge", "time_to_act_s": 604_800.0}
MONTH = {
    "month": "2026-10",
    "days": 31,
    "air_min_c": 2.0,
    "air_max_c": 31.0,
    "electricity_j": 36_000_000,
    "banked_j": 720_000_000,
    "returned_j": 360_000_000,
}


def moment(ago_s: float = 0.0) -> str:
    """A time of a message."""
    return f"{datetime.now(tz=UTC) - timedelta(seconds=ago_s):%Y-%m-%dT%H:%M:%SZ}"


STATUS = build.build_status(ticks.tick(), ticks.PROGRAM, valid_s=180.0).model_dump(mode="json")


@functools.cache
def curves() -> dict[str, Any]:
    """Two days as the controller collects them."""
    two_days, tick = TwoDays(), ticks.tick()
    for step in range(193):
        at_s = step * STEP_S
        last = tick._replace(now_mono_s=at_s, snapshot=ticks.snapshot(at_s))
        two_days.note(last)
    message = two_days.message(last)
    assert message is not None
    return message.model_dump(mode="json")


class House:
    """Publishes for one site, with its own account."""

    def __init__(self, broker: Shipped, site: str = "fellside") -> None:
        self._site = site
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        self._client.username_pw_set(f"hypocaust-{site}", broker.password(site))
        self._client.connect(broker.host, broker.port)
        self._client.loop_start()

    def say(self, ending: str, message: object) -> None:
        """Publish a retained message; None deletes it, bytes go as they are."""
        payload = message if isinstance(message, bytes) else json.dumps(message)
        sent = self._client.publish(
            f"hypocaust/{self._site}/{ending}", b"" if message is None else payload, qos=1, retain=True
        )
        sent.wait_for_publish(LONGEST_WAIT_S)

    def online(self, *, online: bool = True, why: str = "running", ago_s: float = 0.0) -> None:
        """Say whether the controller talks to the broker."""
        at = None if why == "connection lost" else moment(ago_s)
        self.say("online", {"at": at, "seq": 1, "valid_for_s": None, "online": online, "why": why})

    def status(self, *, ago_s: float = 0.0, **changes: Any) -> None:
        """A status as the controller builds it, true so long ago, with other values at its top."""
        self.say("status", STATUS | {"at": moment(ago_s)} | changes)

    def past(self) -> None:
        """Two days of curves and a year, as the controller builds them."""
        self.say("curves", curves() | {"at": moment()})
        self.say("year", {"at": moment(), "seq": 1, "valid_for_s": None, "months": [MONTH]})

    def nothing(self) -> None:
        """Let the broker forget all of it."""
        for ending in ("online", "status", "curves", "year", "tonight", "alarm/frost"):
            self.say(ending, None)

    def close(self) -> None:
        """Leave the broker."""
        self._client.disconnect()
        self._client.loop_stop()
