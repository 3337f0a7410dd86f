"""The daemon's own directories: whether they can be used, and that no other controller uses them."""

from __future__ import annotations

import contextlib
import os
import threading
from typing import TYPE_CHECKING

import structlog

from controller.clock import SystemClock
from controller.errors import HypocaustError
from controller.service.running import AlreadyRunningError, marked
from controller.settings.ownership import ROOT, user_name
from controller.settings.places import history_file, runtime_directory, state_directory

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from controller.settings.schema import Settings

# A command that asks whether a controller runs holds its mark for a moment.
CLAIM_AGAIN_S = (0.1, 0.3, None)


class StartError(HypocaustError):
    """The controller cannot start; the text says what is wrong and what to do."""


def prepare_directories(settings: Settings) -> None:
    """Make sure that the daemon's own files can be written, as far as control needs them.

    A state directory that cannot be used (a card that the kernel has made read-only) keeps nobody from
    controlling: the log says so at once, and history and memory raise the storage alarm.

    Root is refused in directories of another user. What root leaves there (a lock, a history, its log) this
    user cannot open any more, so that the service would never start again; and root would follow whatever
    this user has put there.

    Raises:
        StartError: the runtime directory cannot be made or written to, or this is root in another user's.
    """
    for directory in (runtime_directory(settings), state_directory(settings), history_file(settings).parent):
        if owner := _other_owner(directory):
            raise StartError(
                f"{directory} belongs to {owner}, and root must not leave files in it that {owner} cannot "
                "open. Start the service instead: systemctl start hypocaust. Or run as that user: "
                f"sudo -u {owner} hypocaust run FILE"
            )
    if problem := _why_unusable(runtime_directory(settings)):
        raise StartError(
            f"{runtime_directory(settings)}: {problem}. Expected a directory this user may write to. Make "
            "it, run as the service's user, or change service.runtime_directory in the settings."
        )
    if problem := _why_unusable(state_directory(settings)):
        structlog.get_logger("service").error(
            "state_directory_unusable",
            directory=str(state_directory(settings)),
            problem=problem,
            what_to_do="control goes on without history; mend the card or change service.state_directory",
        )


def _other_owner(directory: Path) -> str:
    """Who owns a directory that root is about to use, empty if root does, or this is not root."""
    try:
        owner = directory.stat().st_uid
    except OSError:
        return ""
    return user_name(owner) if os.geteuid() == ROOT != owner else ""


def _why_unusable(directory: Path) -> str:
    """What keeps a directory from being written to, empty if nothing does."""
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        return f"cannot be made ({problem.strerror})"
    return "" if os.access(directory, os.W_OK) else "cannot be written to by this user"


@contextlib.contextmanager
def claim(settings: Settings) -> Iterator[str]:
    """Make sure that only one controller runs for these directories; gives the word that names this run.

    Raises:
        StartError: another controller runs already, or its mark cannot be made.
    """
    directory = runtime_directory(settings)
    with contextlib.ExitStack() as held:
        for patience in CLAIM_AGAIN_S:
            try:
                word = held.enter_context(marked(directory))
                break
            except AlreadyRunningError as problem:
                if patience is None:
                    raise StartError(
                        f"{directory}: another controller runs already. See it with `hypocaust status`, "
                        "or stop it first."
                    ) from problem
                SystemClock().wait(threading.Event(), patience)
            except OSError as problem:
                name = problem.filename or directory
                raise StartError(
                    f"{name}: cannot be opened ({problem.strerror}). If no controller runs, remove it: "
                    f"sudo rm {name}"
                ) from problem
        yield word
