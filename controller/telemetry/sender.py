"""The thread that empties the outbox to the broker and outlives every failure of the network."""

from __future__ import annotations

import contextlib
import random
import socket
import threading
from typing import TYPE_CHECKING, Literal

import structlog

from controller.faults import FaultCode, Finding
from controller.letters import visible_json
from controller.telemetry.backoff import Backoff
from controller.telemetry.build import topic_root
from controller.telemetry.link import Link
from controller.telemetry.outbox import Letter, Outbox
from controller.telemetry.payloads import Online
from controller.telemetry.said_parts import rfc3339
from controller.telemetry.trouble import words

if TYPE_CHECKING:
    from controller.clock import Clock
    from controller.settings.schema import Mqtt

TURN_S = 5.0  # a quiet connection is looked after this often; anything to do wakes it at once
STEADY_AFTER_S = 60.0  # a connection that lasted this long was good: the next attempt may come soon
FAREWELL_S = 2.0
JOIN_S = 5.0
LONGEST_SILENCE_S = 300.0  # longest pause 45 s, plus a name look-up and a connection that take their time

log = structlog.get_logger()


class Sender:
    """Sends letters from the outbox, in its own thread; no method of it waits for the network but `stop`.

    Args:
        mqtt: where the broker is, and how many letters may wait.
        site: name of the site, for the topics and the client identity.
        clock: time.
        dice: randomness for the pauses between attempts.
    """

    def __init__(self, mqtt: Mqtt, site: str, clock: Clock, dice: random.Random | None = None) -> None:
        self._mqtt = mqtt
        self._client_id = mqtt.client_id or f"hypocaust-{site}"
        self._topic = f"{topic_root(site)}/online"
        self._clock = clock
        self._outbox = Outbox(mqtt.outbox_limit)
        self._backoff = Backoff(dice or random.Random())  # noqa: S311 - jitter, not a secret
        self._stop = threading.Event()
        self._wake, self._waker = socket.socketpair()
        self._wake.setblocking(False)
        self._waker.setblocking(False)
        self._thread = threading.Thread(target=self._work, name="telemetry", daemon=True)
        self._turned_s = clock.monotonic_s()
        self._seq = 0
        self._connections = 0
        self._connected = False
        self._trouble: str | None = None
        self._denied: frozenset[str] = frozenset()

    def start(self) -> None:
        """Begin to connect and send."""
        self._thread.start()

    def put(self, letter: Letter) -> None:
        """Take a letter for the broker; returns at once, broker or not."""
        self._seq = letter.seq
        self._outbox.put(letter)
        self._nudge()

    def connections(self) -> int:
        """How many times the broker has accepted us so far."""
        return self._connections

    def connected(self) -> bool:
        """Whether the broker has accepted the present connection."""
        return self._connected

    def waiting(self) -> int:
        """Letters in the outbox."""
        return len(self._outbox)

    def alive(self) -> bool:
        """Whether the thread exists; a name look-up that hangs must not restart the controller."""
        return self._thread.is_alive()

    def _stalled(self) -> bool:
        silent_s = self._clock.monotonic_s() - self._turned_s
        return not self._thread.is_alive() or silent_s >= LONGEST_SILENCE_S

    def findings(self) -> tuple[Finding, ...]:
        """What keeps people from seeing the house, in plain words."""
        trouble, denied = self._trouble, self._denied
        if trouble is None and denied:
            trouble = f"the broker does not let this client write to {min(denied)}; check its access rules"
        if self._thread.ident is not None and self._stalled() and not self._stop.is_set():
            trouble = "the sending thread makes no progress; restart the controller when no fan is needed"
        if trouble is None:
            return ()
        if dropped := self._outbox.dropped:
            trouble += f" ({dropped} messages given up)"
        return (Finding(FaultCode.LINK, "", trouble),)

    def stop(self) -> bool:
        """Say goodbye to the broker and end the thread; returns whether it ended within a few seconds."""
        self._stop.set()
        self._nudge()
        if self._thread.ident is not None:
            self._thread.join(JOIN_S)
        if self._thread.is_alive():
            return False
        self._wake.close()
        self._waker.close()
        return True

    def _nudge(self) -> None:
        # A full pipe wakes as well as one more byte; a closed one belongs to a sender that was stopped.
        with contextlib.suppress(OSError):
            self._waker.send(b"\0")

    def _work(self) -> None:
        while not self._stop.is_set():
            began_s = self._clock.monotonic_s()
            try:
                self._connection()
            except Exception as error:  # noqa: BLE001 - no defect of a network or a library ends this thread
                self._note_trouble(words(error, self._mqtt))
            self._turned_s = self._clock.monotonic_s()
            if self._turned_s - began_s > STEADY_AFTER_S:
                self._backoff.reset()
            if not self._stop.is_set():
                self._clock.wait(self._stop, self._backoff.pause_s())

    def _connection(self) -> None:
        """Run one connection from opening to its end.

        Raises:
            Exception: whatever ended it, unless it was `stop`.
        """
        will = self._letter(online=False, why="connection lost")
        link = Link(self._mqtt, self._client_id, will, self._clock)
        try:
            link.open()
            greeted_s = self._clock.monotonic_s()
            while not self._stop.is_set():
                self._turned_s = self._clock.monotonic_s()
                link.turn(self._wake, TURN_S)
                if link.accepted and not self._connected:
                    self._greet(link)
                    greeted_s = self._clock.monotonic_s()
                if self._connected and self._clock.monotonic_s() - greeted_s > STEADY_AFTER_S:
                    self._trouble = None  # not before: a connection that breaks each second is no good one
                while link.has_room() and (letter := self._outbox.take()) is not None:
                    link.send(letter)
                self._denied = frozenset(link.denied)
            self._farewell(link)
        finally:
            self._connected = False
            self._outbox.give_back([letter for letter in link.unconfirmed() if letter.topic != self._topic])
            link.close(clean=self._stop.is_set())

    def _greet(self, link: Link) -> None:
        link.send(self._letter(online=True, why="running"))
        self._connections += 1
        self._connected = True
        log.info("broker_connected", broker=self._mqtt.host, port=self._mqtt.port)

    def _farewell(self, link: Link) -> None:
        if not link.accepted:
            return
        link.send(self._letter(online=False, why="stopped"))
        until_s = self._clock.monotonic_s() + FAREWELL_S
        while link.unconfirmed() and self._clock.monotonic_s() < until_s:
            link.turn(self._wake, FAREWELL_S / 10)

    def _letter(self, *, online: bool, why: Literal["running", "stopped", "connection lost"]) -> Letter:
        # The moment at which a connection will break is not known beforehand: the will carries no time.
        at = None if why == "connection lost" else rfc3339(self._clock.wall_utc())
        message = Online(at=at, seq=self._seq, valid_for_s=None, online=online, why=why)
        return Letter(self._topic, visible_json(message.model_dump_json()).encode(), qos=1, retain=True)

    def _note_trouble(self, trouble: str) -> None:
        if trouble != self._trouble:
            log.warning("broker_trouble", detail=trouble)
        self._trouble = trouble
