"""What a broker may send to a client without subscriptions: short answers, and no more than are due.

The library keeps a packet in memory until it is whole, and MQTT lets one announce 256 MB (MQTT 5, section
1.5.5). Without TLS anybody on the way can play the broker, so every byte is looked at here before the library
keeps it. Pure, but for its own count.
"""

from __future__ import annotations

from controller.telemetry.trouble import LinkError

# Answers have a few bytes; with MQTT 5 a reason in words and properties may come along, and a broker must
# leave out what would make them longer than the client allows (MQTT 5, section 3.1.2.11.4).
LARGEST_PACKET_BYTES = 4096
# Packet types (MQTT 5, section 2.1.2) that answer what we send. A DISCONNECT is the broker's goodbye.
CONNACK, PUBACK, PINGRESP, DISCONNECT = 2, 4, 13, 14
ANSWERS = frozenset({CONNACK, PUBACK, PINGRESP, DISCONNECT})
# Answers beyond those to our messages: greeting and goodbye, then one a second for keep-alives (the shortest
# interval a broker may ask for; MQTT 5, section 3.2.2.3.14).
SPARE_ANSWERS = 10
KEEP_ALIVES_PER_S = 1.0
MORE_FOLLOWS, LENGTH_BITS, LONGEST_LENGTH_BYTES = 0x80, 7, 4


class Incoming:
    """Reads packet headers as they arrive and objects to what cannot be an answer.

    Args:
        broker: what messages call it.
        opened_s: monotonic time of the connection.
    """

    def __init__(self, broker: str, opened_s: float) -> None:
        self._broker = broker
        self._opened_s = opened_s
        self._answers_due = SPARE_ANSWERS
        self._packets = 0
        self._body_left = 0
        self._length: list[int] | None = (
            None  # bytes of a length that is not whole yet; None: a packet begins
        )

    def expect_answer(self) -> None:
        """A message was sent that the broker has to confirm."""
        self._answers_due += 1

    def look(self, data: bytes, now_s: float) -> None:
        """Take note of bytes that have arrived.

        Raises:
            LinkError: they belong to no answer, or to one too many; the connection is to be dropped.
        """
        at = 0
        while at < len(data):
            if self._body_left:
                taken = min(self._body_left, len(data) - at)
                self._body_left -= taken
                at += taken
                continue
            self._header_byte(data[at], now_s)
            at += 1

    def _header_byte(self, byte: int, now_s: float) -> None:
        """One byte of a packet's type or length."""
        if self._length is None:
            self._begin(byte >> 4, now_s)
            return
        self._length.append(byte)
        size = sum((part & ~MORE_FOLLOWS) << LENGTH_BITS * n for n, part in enumerate(self._length))
        if size > LARGEST_PACKET_BYTES or len(self._length) > LONGEST_LENGTH_BYTES:
            raise self._objection(
                f"announced more than {LARGEST_PACKET_BYTES} bytes at once where a few would do"
            )
        if not byte & MORE_FOLLOWS:
            self._length, self._body_left = None, size

    def _begin(self, kind: int, now_s: float) -> None:
        """A packet begins."""
        if kind not in ANSWERS:
            raise self._objection(f"sent something that nobody asked for (MQTT packet type {kind})")
        self._packets += 1
        due = self._answers_due + (now_s - self._opened_s) * KEEP_ALIVES_PER_S
        if self._packets > due:
            raise self._objection("sent more answers than there were messages")
        self._length = []

    def _objection(self, what: str) -> LinkError:
        """Why the connection is dropped and what to check."""
        return LinkError(
            f"{self._broker} {what}; the connection was dropped. Check that this is your broker and that "
            "no other machine takes its place ([mqtt] tls prevents that)"
        )
