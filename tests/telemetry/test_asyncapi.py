"""The written contract of the messages."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from controller.diagnosis.alarms import AlarmEvent
from controller.faults import FaultCode
from controller.record.tally import MonthSummary
from controller.telemetry import asyncapi, payloads
from controller.telemetry.publisher import Publisher
from tests.telemetry import ticks

COMMITTED = Path(asyncapi.__file__).with_name("asyncapi.json")


def references(node: Any) -> set[str]:
    """Every reference in a document."""
    if isinstance(node, dict):
        own = {node["$ref"]} if isinstance(node.get("$ref"), str) else set()
        return own.union(*(references(value) for value in node.values()))
    if isinstance(node, list):
        return set().union(*(references(value) for value in node))
    return set()


def resolved(document: Any, reference: str) -> Any:
    """What a reference points to; KeyError if nothing is there."""
    for step in reference.removeprefix("#/").split("/"):
        document = document[step]
    return document


def check(channel: str, payload: bytes) -> None:
    """Validate a payload against the schema of its channel."""
    document = json.loads(COMMITTED.read_text(encoding="utf-8"))
    schema = document["components"]["messages"][channel]["payload"]
    jsonschema.Draft7Validator(document | schema).validate(json.loads(payload))


def letters() -> list[tuple[str, bytes]]:
    """One real message of every channel, by channel."""

    class Bag:
        letters: list[Any] = []  # noqa: RUF012 - one bag, one use

        def put(self, letter: Any) -> None:
            self.letters.append(letter)

        def connections(self) -> int:
            return 1

    frost = ticks.alarm(FaultCode.FROST, "", "bench 0.4 °C")
    bag = Bag()
    decided = ticks.diagnosis(frost, events=(AlarmEvent(frost, raised=True),))
    month = MonthSummary(ticks.TODAY._replace(date="2026-03-01"), "March 2026: mild")
    publisher = Publisher(bag, ticks.PROGRAM, month=lambda: month)
    publisher.observe(ticks.tick(diagnosis=decided, finished_day=ticks.TODAY))
    return [(letter.topic.split("/")[2], letter.payload) for letter in bag.letters if letter.payload]


def test_committed_document_is_fresh():
    """The file in the repository is what the models say today."""
    done = subprocess.run(
        [sys.executable, "-m", "controller.telemetry.asyncapi"], capture_output=True, check=True, timeout=60
    )
    assert done.stdout.decode() == COMMITTED.read_text(encoding="utf-8"), (
        "run: python -m controller.telemetry.asyncapi > controller/telemetry/asyncapi.json"
    )


def test_every_reference_leads_somewhere():
    """No dangling reference anywhere in the document."""
    document = asyncapi.document()
    found = references(document)
    assert len(found) > 20
    for reference in found:
        assert resolved(document, reference)


def test_every_operation_only_sends():
    """Seen from the controller everything is sent and nothing is received."""
    operations = asyncapi.document()["operations"].values()
    assert {operation["action"] for operation in operations} == {"send"}


@pytest.mark.parametrize("channel", ["status", "temperature", "loop", "sump", "alarm", "day", "month"])
def test_real_messages_match_their_schema(channel):
    """What the publisher really sends of each kind passes the published schema."""
    payloads_of_channel = [payload for name, payload in letters() if name == channel]
    assert payloads_of_channel
    for payload in payloads_of_channel:
        check(channel, payload)


@pytest.mark.parametrize("why", ["running", "stopped", "connection lost"])
def test_online_matches_its_schema(why):
    """The will and its counterparts pass the published schema, with and without a time."""
    for at in (None, "2026-03-07T12:00:05Z"):
        message = payloads.Online(at=at, seq=1, valid_for_s=None, online=why == "running", why=why)
        check("online", message.model_dump_json().encode())


def test_schema_refuses_what_the_contract_forbids():
    """An extra key, a time without Z and a missing key are all refused by the published schema."""
    good = {"at": None, "seq": 1, "valid_for_s": None, "online": True, "why": "running"}
    check("online", json.dumps(good).encode())
    for bad in (good | {"extra": 1}, good | {"at": "2026-03-07 12:00"}, {"at": None}):
        with pytest.raises(jsonschema.ValidationError):
            check("online", json.dumps(bad).encode())


def test_daemon_does_not_import_it():
    """Printing the contract is no business of the running controller."""
    code = (
        "import sys, controller.telemetry.sender, controller.telemetry.publisher, controller.cli.status;"
        "sys.exit('controller.telemetry.asyncapi' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0
