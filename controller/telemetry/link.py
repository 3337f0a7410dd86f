"""One connection to the broker, from opening to close: the only file that knows the MQTT library.

The library is driven from our own thread through its documented external loop, not through its own thread:
an exception then surfaces in code that survives it, waiting between attempts is ours (with jitter, which the
library lacks), and a fresh client for every attempt leaves no queue behind from a broken connection. Nothing
is ever subscribed to, so nothing that arrives can mean anything, and little of it is even kept.
"""

from __future__ import annotations

import select
import ssl
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from paho.mqtt.client import Client, error_string
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from controller.telemetry.incoming import LARGEST_PACKET_BYTES, Incoming
from controller.telemetry.secret import read_password
from controller.telemetry.trouble import LinkError, refused

if TYPE_CHECKING:
    import socket

    from paho.mqtt.client import ConnectFlags, DisconnectFlags
    from paho.mqtt.reasoncodes import ReasonCode

    from controller.clock import Clock
    from controller.settings.schema import Mqtt
    from controller.telemetry.outbox import Letter

KEEP_ALIVE_S = 60
CONNECT_TIMEOUT_S = 5.0  # each of: name to address to TCP, TLS
PATIENCE_S = 30.0  # for the broker's answer to a connection or to a message
LARGEST_CA_FILE_BYTES = 1_000_000  # a whole system's authorities have about 200 kB
MOST_IN_FLIGHT = 5  # few, so that little is sent twice after a broken connection


class _WaryClient(Client):
    """The library's client, with every byte looked at before it is kept.

    The library has no limit of its own. It reads through this one method of it, which tests pin, and through
    :meth:`seen` a connection shows that it was asked.
    """

    incoming: Incoming
    clock: Clock
    seen = False

    def _sock_recv(self, bufsize: int) -> bytes:
        """Read little at a time.

        Raises:
            LinkError: what has arrived is no answer.
        """
        data = super()._sock_recv(min(bufsize, LARGEST_PACKET_BYTES))
        self.seen = True
        self.incoming.look(data, self.clock.monotonic_s())
        return data


class Link:
    """One connection. Every method belongs to one thread; after a `LinkError` only `close` may follow.

    Args:
        mqtt: where the broker is.
        client_id: fixed identity, so that a second connection replaces the first.
        will: what the broker sends to others when the connection breaks.
        clock: time.
    """

    def __init__(self, mqtt: Mqtt, client_id: str, will: Letter, clock: Clock) -> None:
        self._mqtt = mqtt
        self._clock = clock
        self._v5 = mqtt.version == "5"
        self._client = _WaryClient(
            CallbackAPIVersion.VERSION2,
            client_id=client_id,
            protocol=MQTTProtocolVersion.MQTTv5 if self._v5 else MQTTProtocolVersion.MQTTv311,
            reconnect_on_failure=False,
        )
        self._client.connect_timeout = CONNECT_TIMEOUT_S
        self._client.will_set(will.topic, will.payload, will.qos, will.retain)
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect
        self._client.on_publish = self._on_publish
        self._opened_s = clock.monotonic_s()
        self._trust: _Trust | None = None
        self._ending: str | None = None
        self._window = MOST_IN_FLIGHT
        self._unconfirmed: dict[int, tuple[Letter, float]] = {}
        self.accepted = False
        self.denied: set[str] = set()

    def open(self) -> None:
        """Connect; the broker's consent comes later, in `turn`.

        Raises:
            LinkError: password or certificate files cannot be used.
            OSError: there is no connection (also in TLS, where it says why).
        """
        if self._mqtt.user:
            password = read_password(self._mqtt.password_file) if self._mqtt.password_file else None
            self._client.username_pw_set(self._mqtt.user, password)
        if self._mqtt.tls:
            self._trust = _trust(self._mqtt.ca_file)
            self._client.tls_set_context(self._trust)
        # A publisher has no session worth keeping: each connection starts clean (3.1.1: the default).
        self._opened_s = self._clock.monotonic_s()
        self._client.clock = self._clock
        self._client.incoming = Incoming(f"{self._mqtt.host}:{self._mqtt.port}", self._opened_s)
        clean: dict[str, Any] = {"clean_start": True, "properties": _little()} if self._v5 else {}
        self._check(self._client.connect(self._mqtt.host, self._mqtt.port, KEEP_ALIVE_S, **clean))
        self._opened_s = self._clock.monotonic_s()

    def has_room(self) -> bool:
        """Whether another message may be handed over: all written, and few not yet confirmed."""
        return self.accepted and len(self._unconfirmed) < self._window and not self._client.want_write()

    def send(self, letter: Letter) -> None:
        """Hand one message over.

        Raises:
            LinkError: the connection is gone; the message counts as unconfirmed.
        """
        info = self._client.publish(
            letter.topic, letter.payload, letter.qos, letter.retain, properties=self._properties(letter)
        )
        if letter.qos:
            self._client.incoming.expect_answer()
            self._unconfirmed[info.mid] = (letter, self._clock.monotonic_s())
        self._check(info.rc)

    def unconfirmed(self) -> list[Letter]:
        """Messages the broker has not confirmed, oldest first."""
        return [letter for letter, _ in self._unconfirmed.values()]

    def turn(self, wake: socket.socket, timeout_s: float) -> None:
        """Wait for the network or for a byte on ``wake``, at most ``timeout_s``, and do what is due.

        Raises:
            LinkError: the connection is over, or the broker has been silent for too long.
            OSError: the same, from the network.
        """
        sock: Any = self._client.socket()
        if sock is None:
            self._check(MQTTErrorCode.MQTT_ERR_NO_CONN)
        # Bytes that TLS has already decrypted do not wake a select.
        decrypted = isinstance(sock, ssl.SSLSocket) and sock.pending() > 0
        to_write = [sock] if self._client.want_write() else []
        readable, writable, _ = select.select([sock, wake], to_write, [], 0.0 if decrypted else timeout_s)
        if wake in readable:
            wake.recv(4096)
        if decrypted or sock in readable:
            self._check(self._client.loop_read())
        if sock in writable:
            self._check(self._client.loop_write())
        self._check(self._client.loop_misc())
        self._check_patience()

    def close(self, *, clean: bool) -> None:
        """End the connection; ``clean`` says goodbye, so that the broker keeps the will to itself."""
        sock: Any = self._client.socket()
        if sock is not None and clean:
            self._client.disconnect()
        if sock is not None:
            sock.close()
        if self._trust is not None and self._trust.wrapped is not None:
            self._trust.wrapped.close()

    def _check(self, code: MQTTErrorCode) -> None:
        if self._ending is not None:
            raise LinkError(self._ending)
        if code == MQTTErrorCode.MQTT_ERR_SUCCESS:
            return
        broker = f"{self._mqtt.host}:{self._mqtt.port}"
        if self.accepted:
            raise LinkError(
                f"the connection to {broker} broke ({error_string(code).rstrip('.')}); "
                "if that repeats, look for a second client with the same [mqtt] client_id"
            )
        raise LinkError(
            f"{broker} closed the connection before accepting it; check [mqtt] port, tls and version"
        )

    def _check_patience(self) -> None:
        now_s = self._clock.monotonic_s()
        oldest_s = min((sent_s for _, sent_s in self._unconfirmed.values()), default=now_s)
        waiting_since_s = oldest_s if self.accepted else self._opened_s
        if now_s - waiting_since_s > PATIENCE_S:
            raise LinkError(
                f"{self._mqtt.host}:{self._mqtt.port} is connected but has been silent for {PATIENCE_S:.0f} s"
            )

    def _properties(self, letter: Letter) -> Properties | None:
        if not self._v5:
            return None
        properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        if letter.payload:
            properties.PayloadFormatIndicator = 1
            properties.ContentType = "application/json"
        if letter.expires_s is not None:
            properties.MessageExpiryInterval = max(round(letter.expires_s), 1)
        return properties

    def _on_connect(
        self,
        _client: Client,
        _data: Any,
        _flags: ConnectFlags,
        code: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if code.is_failure:
            self._ending = refused(code.getName(), self._mqtt)
            return
        if not self._client.seen:
            self._ending = "this MQTT library reads past our limits; install the one in requirements.lock"
            return
        self.accepted = True
        self._window = min(self._window, getattr(properties, "ReceiveMaximum", self._window))

    def _on_disconnect(
        self,
        _client: Client,
        _data: Any,
        flags: DisconnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if flags.is_disconnect_packet_from_server and self._ending is None:
            self._ending = refused(code.getName(), self._mqtt)

    def _on_publish(
        self, _client: Client, _data: Any, mid: int, code: ReasonCode, _properties: Properties | None
    ) -> None:
        letter, _ = self._unconfirmed.pop(mid, (None, 0.0))
        if letter is None:
            return
        if code.is_failure:
            self.denied.add(letter.topic)
        else:
            self.denied.discard(letter.topic)


def _little() -> Properties:
    """What makes an honest MQTT 5 broker keep its answers short."""
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.MaximumPacketSize = LARGEST_PACKET_BYTES
    return properties


class _Trust(ssl.SSLContext):
    """Checks certificate and name, and remembers its socket: the library drops it if the handshake fails."""

    wrapped: ssl.SSLSocket | None = None

    def wrap_socket(self, *args: Any, **kwargs: Any) -> ssl.SSLSocket:
        """As in `ssl`."""
        self.wrapped = super().wrap_socket(*args, **kwargs)
        return self.wrapped


def _trust(ca_file: str) -> _Trust:
    trust = _Trust(ssl.PROTOCOL_TLS_CLIENT)
    try:
        if ca_file:
            about = Path(ca_file).stat()
            if not stat.S_ISREG(about.st_mode) or about.st_size > LARGEST_CA_FILE_BYTES:
                raise LinkError(
                    f"[mqtt] ca_file {ca_file} is not a file of certificates; is it the right file?"
                )
            trust.load_verify_locations(cafile=ca_file)
        else:
            trust.load_default_certs()
    except ssl.SSLError:
        raise LinkError(f"[mqtt] ca_file {ca_file} holds no certificate; is it the right file?") from None
    except OSError as error:
        raise LinkError(f"[mqtt] ca_file {ca_file} cannot be read: {error.strerror}") from None
    return trust
