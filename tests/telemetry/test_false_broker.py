"""A false broker: the real library behind our guard keeps little, hangs up, and tries again."""

from __future__ import annotations

import ssl
import tracemalloc
from datetime import UTC, datetime

import pytest

from controller.clock import SystemClock
from controller.settings.schema import Mqtt
from controller.telemetry.incoming import Incoming
from controller.telemetry.sender import Sender
from controller.telemetry.trouble import LinkError
from tests.broker import make_certificates, until
from tests.false_broker import (
    ACCEPTED,
    AUTH,
    CONNACK,
    PINGRESP,
    PUBACK,
    PUBLISH,
    SUBACK,
    FalseBroker,
    drip,
    flood,
    garbage,
    header,
    huge,
)

MOST_BYTES = 3_000_000
DROPPED = "the connection was dropped"


class ImpatientClock(SystemClock):
    """Twenty seconds a second, so that patience and pauses are short."""

    def monotonic_s(self):
        """Seconds, faster."""
        return super().monotonic_s() * 20.0

    def wall_utc(self):
        """Always the same noon."""
        return datetime(2026, 3, 7, 12, tzinfo=UTC)

    def wait(self, wake, timeout_s):
        """A twentieth of a second stands for any pause."""
        return super().wait(wake, min(timeout_s, 0.05))


def said(port: int, words: str, **mqtt) -> int:
    """Let a sender meet the listener there, until it has said so; the most memory that took, in bytes."""
    sender = Sender(Mqtt(host="127.0.0.1", port=port, **mqtt), "fellside", ImpatientClock())
    tracemalloc.start()
    try:
        sender.start()
        until(lambda: any(words in finding.detail for finding in sender.findings()), f"it says: {words}")
        assert sender.alive()
    finally:
        stopped = sender.stop()
        peak_bytes = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert stopped
    return peak_bytes


ATTACKS = {
    "a greeting of 100 MB": (lambda _: huge(CONNACK), "bytes at once"),
    "a message of 100 MB": (lambda hello: huge(PUBLISH, hello), "nobody asked for (MQTT packet type 3)"),
    "a confirmation of 100 MB": (lambda hello: huge(PUBACK, hello), "bytes at once"),
    "a subscription of 100 MB": (lambda hello: huge(SUBACK, hello), "nobody asked for (MQTT packet type 9)"),
    "a log-in of 100 MB": (lambda hello: huge(AUTH, hello), "nobody asked for (MQTT packet type 15)"),
    "a length without end": (lambda _: flood(b"\xff", bytes([CONNACK])), "bytes at once"),
    "a length of zeros": (lambda _: flood(b"\x80", bytes([CONNACK])), "bytes at once"),
    "short messages": (lambda hello: flood(b"\x30\x04\x00\x01a!", hello), "nobody asked for"),
    "answers to nothing": (lambda hello: flood(header(PINGRESP, 0), hello), "more answers than"),
    "confirmations of nothing": (lambda hello: flood(b"\x40\x02\x00\x07", hello), "more answers than"),
    "many greetings": (flood, "more answers than"),
    "a greeting that drips": (lambda _: drip(header(CONNACK, 4000) + bytes(4000)), "silent for 30 s"),
    "garbage": (lambda _: garbage, DROPPED),
}


@pytest.mark.parametrize("version", ["3.1.1", "5"])
@pytest.mark.parametrize("attack", ATTACKS)
def test_whatever_a_false_broker_sends_it_is_dropped_and_little_is_kept(attack, version):
    """100 MB in any packet, floods, drips and garbage: a finding in plain words, and a few MB at most."""
    make, words = ATTACKS[attack]
    broker = FalseBroker(make(ACCEPTED[version]))
    try:
        assert said(broker.port, words, version=version) < MOST_BYTES
    finally:
        broker.close()


def test_a_broker_with_a_good_certificate_may_send_no_more(tmp_path):
    """The limit holds behind TLS as well, where bytes come decrypted from the library's own buffer."""
    make_certificates(tmp_path, "20200101000000Z")
    trust = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    trust.load_cert_chain(tmp_path / "broker.crt", tmp_path / "broker.key")
    for attack, words in ((huge(CONNACK), "bytes at once"), (huge(PUBLISH, ACCEPTED["5"]), "nobody asked")):
        broker = FalseBroker(attack, trust=trust)
        try:
            peak_bytes = said(broker.port, words, tls=True, ca_file=str(tmp_path / "ca.crt"))
        finally:
            broker.close()
        assert peak_bytes < MOST_BYTES


def test_a_library_that_reads_another_way_is_not_trusted(monkeypatch):
    """Should a new release of the library pass our guard by, nothing is sent and the finding says why."""
    from controller.telemetry import link  # noqa: PLC0415 - changed for this test only

    monkeypatch.delattr(link._WaryClient, "_sock_recv")
    broker = FalseBroker(lambda connection: connection.sendall(ACCEPTED["5"]))
    try:
        said(broker.port, "reads past our limits")
    finally:
        broker.close()


def test_answers_that_are_due_are_never_too_many():
    """One confirmation for each message and a keep-alive each second, for a day: nothing is objected to."""
    incoming = Incoming("broker:1883", 0.0)
    incoming.look(ACCEPTED["5"], 0.0)
    for second in range(86_400):
        for _ in range(second % 4):
            incoming.expect_answer()
            for byte in b"\x40\x02\x00\x07":
                incoming.look(bytes([byte]), float(second))
        incoming.look(b"\xd0\x00", second + 1.0)
    with pytest.raises(LinkError, match="more answers"):
        incoming.look(b"\xd0\x00" * 20, 86_400.0)
