"""What a person asks for or says on the machine itself: clearing a latched fire; what they saw and did.

Each goes by a file of its own in the runtime directory, see ``controller.service.mailbox``. The answer says
what happened.
"""

from __future__ import annotations

import re
from datetime import UTC, timedelta
from enum import Enum
from typing import TYPE_CHECKING

from controller.faults import MAY_BE_SEEN, FaultCode
from controller.readings.said import Act, Said
from controller.service.mailbox import PATIENCE_S, Mailbox, ask, leave
from controller.telemetry.hand_checks import HAND_CHECKS

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from controller.clock import Clock
    from controller.record.tick import TickRecord

CLEAR_FIRE, SAY = "clear-fire", "say"
UNTIL_DAWN = "dawn"
# No place is set for the sun to rise at, so dawn is when growers are up. [practice]
DAWN_HOUR = 7


class Answer(Enum):
    """What came of a request."""

    CLEARED = "cleared"
    STILL_THERE = "still-there"
    NOTHING_LATCHED = "nothing-latched"
    NOTED = "noted"
    NO_SUCH_ALARM = "no-such-alarm"
    NO_CLOCK = "no-clock"
    REFUSED = "refused"
    SILENCE = "silence"


def ask_to_clear_fire(runtime_dir: Path, clock: Clock, patience_s: float = PATIENCE_S) -> Answer:
    """Ask the running controller to clear a latched fire.

    Raises:
        NobodyRunsError, NotOursError, OSError: as ``controller.service.mailbox.ask``.
    """
    said = ask(runtime_dir, CLEAR_FIRE, "", clock, patience_s)
    return Answer.SILENCE if said is None else Answer(said)


def say(
    runtime_dir: Path, words: list[str], clock: Clock, patience_s: float = PATIENCE_S
) -> tuple[Answer, float | None]:
    """Say something to the running controller.

    Args:
        runtime_dir: where it looks.
        words: the act, what it is about, and until when.
        clock: time.
        patience_s: how long to wait for the answer.

    Returns:
        The answer, and until when it holds in seconds since 1970; None if it did not say.

    Raises:
        NobodyRunsError, NotOursError, OSError: as ``controller.service.mailbox.ask``.
        ValueError: the answer makes no sense.
    """
    said = ask(runtime_dir, SAY, " ".join(words), clock, patience_s)
    if said is None:
        return Answer.SILENCE, None
    answer, _, ends = said.partition(" ")
    return Answer(answer), float(ends) if ends else None


def leave_request(directory: int, run: str) -> str:
    """Leave a request to clear a fire, for one run of the controller; returns what it is called.

    Raises:
        OSError: the directory does not allow it.
    """
    return leave(directory, CLEAR_FIRE, run)


class OperatorRequests:
    """The controller's side: takes requests before a tick and answers them after it. Never raises."""

    def __init__(self, runtime_dir: Path, run: str, clock: Clock) -> None:
        """Begin with nothing asked; what an earlier run has left is removed.

        Args:
            runtime_dir: where requests are left.
            run: the word that names this run.
            clock: the controller's own; says when the next dawn is.
        """
        self._fire = Mailbox(runtime_dir, CLEAR_FIRE, run)
        self._said = Mailbox(runtime_dir, SAY, run)
        self._clock = clock
        self._waiting: Said | None = None
        self._was_latched = False

    def take(self) -> frozenset[FaultCode]:
        """Faults that somebody asks to clear."""
        return frozenset() if self._fire.take() is None else frozenset({FaultCode.FIRE})

    def said(self) -> tuple[Said, ...]:
        """What somebody says; what is not understood or not allowed is answered here and goes no further."""
        words = self._said.take()
        if words is None:
            return ()
        understood = self._understood(words)
        if isinstance(understood, Answer):
            self._said.answer(understood.value)
            return ()
        self._waiting = understood
        return (understood,)

    def observe(self, tick: TickRecord) -> None:
        """Answer what was taken for this tick."""
        latched = tick.state.fire.latched_detail is not None
        if self._fire.waits:
            said = Answer.STILL_THERE if latched else Answer.CLEARED
            if not latched and not self._was_latched:
                said = Answer.NOTHING_LATCHED
            self._fire.answer(said.value)
        self._was_latched = latched
        if self._said.waits:
            self._answer_said(tick)

    def _answer_said(self, tick: TickRecord) -> None:
        waiting, self._waiting = self._waiting, None
        for note in tick.diagnosis.notes:
            if note.answers is not None and note.answers is waiting:
                ends_s = None if note.ends is None else note.ends.utc_s
                ends = "" if ends_s is None else f" {ends_s:.0f}"
                self._said.answer(f"{Answer.NOTED.value}{ends}")
                return
        nothing = Answer.NO_SUCH_ALARM if waiting is not None and waiting.act is Act.SEEN else Answer.NO_CLOCK
        self._said.answer(nothing.value)

    def _understood(self, words: list[str]) -> Said | Answer:
        match words:
            case [Act.EMPTY.value | Act.PLANTED.value as act]:
                return Said(Act(act))
            case [Act.DONE.value, name] if name in HAND_CHECKS:
                return Said(Act.DONE, name)
            case [Act.LOW.value, written] if is_low(written):
                return Said(Act.LOW, written)
            case [Act.SEEN.value, code, *until] if may_be_seen(code) and until in ([], [UNTIL_DAWN]):
                if not until:
                    return Said(Act.SEEN, code)
                now_utc = self._clock.wall_utc()
                return Answer.NO_CLOCK if now_utc is None else Said(Act.SEEN, code, next_dawn(now_utc))
            case _:
                return Answer.REFUSED


def may_be_seen(code: str) -> bool:
    """Whether there is an alarm of this code, and somebody may mute it."""
    return any(known.value == code for known in MAY_BE_SEEN)


def is_low(written: str) -> bool:
    """Whether this is a low in °C that weather on Earth can have."""
    return re.fullmatch(r"-?[0-9]{1,2}(\.[0-9]{1,2})?", written) is not None


def next_dawn(now_utc: datetime) -> datetime:
    """The next morning at the place of the board, on the nights in which its hours are moved as well."""
    local = now_utc.astimezone().replace(tzinfo=None)
    dawn = local.replace(hour=DAWN_HOUR, minute=0, second=0, microsecond=0)
    return (dawn if dawn > local else dawn + timedelta(days=1)).astimezone(UTC)
