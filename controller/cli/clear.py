"""``hypocaust clear fire``: a person who has looked says that the fault is over."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from controller.cli.progress import say
from controller.cli.status import runtime_directory
from controller.clock import SystemClock
from controller.service.operator_requests import PATIENCE_S, Answer, NobodyRunsError, ask_to_clear_fire
from controller.settings.ownership import NotOursError

if TYPE_CHECKING:
    from pathlib import Path

CLEARED, NOT_CLEARED, NOT_ASKED, NOT_RUNNING = 0, 1, 2, 3

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
    if not path.is_file():
        return _refused(f"There is no settings file {path}.")
    directory = runtime_directory(str(path))
    say("Waiting for the controller's next tick ...")
    try:
        answer = ask_to_clear_fire(directory, SystemClock())
    except (NobodyRunsError, FileNotFoundError):
        text = (
            f"No controller runs in {directory}, so nothing was cleared. Start it: systemctl start hypocaust"
        )
        return _refused(text, NOT_RUNNING)
    except NotOursError as trouble:
        return _refused(f"{directory}: {trouble}. Nothing was asked: its owner could answer anything.")
    except (OSError, ValueError) as trouble:
        reason = getattr(trouble, "strerror", None) or "the answer cannot be read"
        return _refused(f"{directory}: {reason}. Use sudo, or the user the controller runs as.")
    finally:
        say("")
    print(WORDS[answer])
    return CLEARED if answer in (Answer.CLEARED, Answer.NOTHING_LATCHED) else NOT_CLEARED


def _refused(text: str, code: int = NOT_ASKED) -> int:
    print(text, file=sys.stderr)
    return code
