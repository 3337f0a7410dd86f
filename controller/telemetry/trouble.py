"""What went wrong between here and the broker, in words that say what to check."""

from __future__ import annotations

import errno
import socket
import ssl
from typing import TYPE_CHECKING

from controller.errors import HypocaustError

if TYPE_CHECKING:
    from controller.settings.schema import Mqtt

# Verification results as OpenSSL numbers them (x509_vfy.h).
NOT_YET_VALID = 9
EXPIRED = 10
WRONG_NAME = (62, 64)
NO_WAY_THERE = (errno.ENETUNREACH, errno.EHOSTUNREACH, errno.ENETDOWN, errno.EHOSTDOWN)


class LinkError(HypocaustError):
    """The connection cannot be made or is over; the message says why in plain words."""


# First match wins; {broker} and {host} are filled in.
_NETWORK: tuple[tuple[type[Exception], str], ...] = (
    (socket.gaierror, "the name {host} is not found; check [mqtt] host and the network's name server"),
    (UnicodeError, "the name {host} is not found; check [mqtt] host and the network's name server"),
    (ConnectionRefusedError, "{broker} refuses connections; check that the broker runs and [mqtt] port"),
    (TimeoutError, "{broker} does not answer; check that it is switched on and reachable"),
)


def words(error: Exception, mqtt: Mqtt) -> str:
    """The cause of a failed connection and what to check, one sentence."""
    broker = f"{mqtt.host}:{mqtt.port}"
    if isinstance(error, LinkError):
        return str(error)
    if isinstance(error, ssl.SSLCertVerificationError):
        return _certificate(error, broker)
    for kind, text in _NETWORK:
        if isinstance(error, kind):
            return text.format(broker=broker, host=mqtt.host)
    if isinstance(error, ssl.SSLError):
        reason = getattr(error, "reason", None) or error
        return f"{broker} does not answer in TLS ({reason}); check [mqtt] tls and port"
    if isinstance(error, OSError) and error.errno in NO_WAY_THERE:
        return f"there is no way to {broker}; check cable, wireless and [mqtt] host"
    return f"{broker}: {type(error).__name__}: {error}"


def refused(reason: str, mqtt: Mqtt) -> str:
    """Why the broker turned the connection down, from the name of its reason code."""
    broker = f"{mqtt.host}:{mqtt.port}"
    match reason.lower():
        case "bad user name or password" | "not authorized":
            return (
                f"{broker} does not accept the user name or password ({reason}); "
                "check [mqtt] user and password_file"
            )
        case "unsupported protocol version":
            return f"{broker} does not speak MQTT {mqtt.version}; check [mqtt] version"
        case "session taken over":
            return (
                f"another client connects to {broker} under the same name; give each its own [mqtt] client_id"
            )
        case _:
            return f"{broker} turned the connection down: {reason}"


def _certificate(error: ssl.SSLCertVerificationError, broker: str) -> str:
    code = getattr(error, "verify_code", None)
    if code == NOT_YET_VALID:
        return f"the certificate of {broker} is not yet valid; check that the clock of this board is set"
    if code == EXPIRED:
        return f"the certificate of {broker} has expired; renew it there, and check the clock of this board"
    if code in WRONG_NAME:
        return f"the certificate of {broker} is made out to another name; set [mqtt] host to the name in it"
    return f"the certificate of {broker} is not trusted ({error.verify_message}); check [mqtt] ca_file"
