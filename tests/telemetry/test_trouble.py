"""Network troubles in words."""

from __future__ import annotations

import errno
import socket
import ssl

import pytest

from controller.settings.schema import Mqtt
from controller.telemetry.trouble import LinkError, refused, words

MQTT = Mqtt(host="broker.lan", port=8883)


def bad_certificate(code: int, message: str) -> ssl.SSLCertVerificationError:
    """A refusal as OpenSSL gives it."""
    error = ssl.SSLCertVerificationError(1, "certificate verify failed")
    error.verify_code = code
    error.verify_message = message
    return error


@pytest.mark.parametrize(
    ("error", "says", "check"),
    [
        (ConnectionRefusedError(), "refuses connections", "broker runs"),
        (socket.gaierror(-2, "unknown"), "broker.lan is not found", "[mqtt] host"),
        (UnicodeError("label too long"), "broker.lan is not found", "[mqtt] host"),
        (TimeoutError(), "does not answer", "switched on"),
        (OSError(errno.ENETUNREACH, "unreachable"), "no way to broker.lan:8883", "cable"),
        (bad_certificate(18, "self-signed certificate"), "not trusted (self-signed certificate)", "ca_file"),
        (bad_certificate(9, "not yet valid"), "not yet valid", "clock of this board"),
        (bad_certificate(10, "expired"), "expired", "renew"),
        (bad_certificate(62, "hostname mismatch"), "another name", "[mqtt] host"),
        (ssl.SSLError(1, "wrong version number"), "does not answer in TLS", "[mqtt] tls"),
        (LinkError("as it is"), "as it is", ""),
        (RuntimeError("odd"), "RuntimeError: odd", "broker.lan:8883"),
    ],
)
def test_every_trouble_says_what_and_where_to_look(error, says, check):
    """The cause in plain words, and what a person can check."""
    text = words(error, MQTT)
    assert says in text
    assert check in text


@pytest.mark.parametrize(
    ("reason", "says"),
    [
        ("Bad user name or password", "password_file"),
        ("Not authorized", "password_file"),
        ("Unsupported protocol version", "[mqtt] version"),
        ("Session taken over", "client_id"),
        ("Server busy", "turned the connection down: Server busy"),
    ],
)
def test_every_refusal_says_what_to_change(reason, says):
    """A broker that says no is quoted, with the setting behind it."""
    assert says in refused(reason, MQTT)
