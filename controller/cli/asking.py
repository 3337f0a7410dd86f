"""Asking the running controller something on the machine, and saying in words why it could not be asked."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TypeVar

from controller.cli.progress import say
from controller.cli.status_place import status_file
from controller.service.mailbox import NobodyRunsError
from controller.settings.ownership import NotOursError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

NOT_ASKED, NOT_RUNNING = 2, 3
T = TypeVar("T")


def answered(path: Path, ask: Callable[[Path], T], nothing: str) -> tuple[T | None, int]:
    """Ask the controller of a settings file and wait.

    Args:
        path: the settings file; it says where the runtime directory is, even while it is not valid.
        ask: asks in a runtime directory; raises what ``controller.service.mailbox.ask`` raises.
        nothing: what has not happened if nobody can be asked, as in "nothing was cleared".

    Returns:
        The answer and 0; or None, with 2 if the controller could not be asked and 3 if none runs.
    """
    if not path.is_file():
        return _refused(f"There is no settings file {path}.")
    directory = status_file(str(path)).parent
    say("Waiting for the controller's next tick ...")
    try:
        return ask(directory), 0
    except (NobodyRunsError, FileNotFoundError):
        text = f"No controller runs in {directory}, so {nothing}. Start it: systemctl start hypocaust"
        return _refused(text, NOT_RUNNING)
    except NotOursError as trouble:
        return _refused(f"{directory}: {trouble}. Nothing was asked: its owner could answer anything.")
    except (OSError, ValueError) as trouble:
        reason = getattr(trouble, "strerror", None) or "the answer cannot be read"
        return _refused(f"{directory}: {reason}. Use sudo, or the user the controller runs as.")
    finally:
        say("")


def _refused(text: str, code: int = NOT_ASKED) -> tuple[None, int]:
    print(text, file=sys.stderr)
    return None, code
