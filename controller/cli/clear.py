"""``hypocaust clear fire``: a person who has looked says that the fault is over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.cli.asking import answered
from controller.clock import SystemClock
from controller.service.mailbox import PATIENCE_S
from controller.service.operator_requests import Answer, ask_to_clear_fire

if TYPE_CHECKING:
    from pathlib import Path

CLEARED, NOT_CLEARED = 0, 1

WORDS = {
    Answer.CLEARED: "The fire latch is cleared. The fans may run again once everything else permits it.",
    Answer.NOTHING_LATCHED: "No fire was latched; there was nothing to clear.",
    Answer.STILL_THERE: (
        "Not cleared: a probe still shows a fire signature. Go and look; mend what it shows, then clear "
        "again. `hypocaust status` names the probe."
    ),
    Answer.SILENCE: (
        f"Not cleared: the controller did not answer within {PATIENCE_S:.0f} s; the request was taken back. "
        "Find out why with: systemctl status hypocaust; journalctl -u hypocaust"
    ),
}


def clear_fire(path: Path) -> int:
    """Ask the running controller, wait for its answer and print it.

    Args:
        path: the settings file of the running controller; it says where the runtime directory is, even
            while it is being edited and is not valid.

    Returns:
        0 if the latch is clear now, 1 if it is not, 2 if the controller could not be asked, 3 if none runs.
    """
    clock = SystemClock()
    answer, code = answered(
        path, lambda directory: ask_to_clear_fire(directory, clock), "nothing was cleared"
    )
    if answer is None:
        return code
    print(WORDS[answer])
    return CLEARED if answer in (Answer.CLEARED, Answer.NOTHING_LATCHED) else NOT_CLEARED
