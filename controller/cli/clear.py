"""``hypocaust clear fire``: a person who has looked says that the fault is over."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from controller.faults import FaultCode
from controller.service.operator_requests import request_clear
from controller.settings.load import SettingsError, load
from controller.settings.places import runtime_directory

if TYPE_CHECKING:
    from pathlib import Path


def clear(fault: str, path: Path) -> int:
    """Leave a request for the running controller.

    Args:
        fault: the fault code to clear.
        path: the settings file of the running controller.

    Returns:
        0 if the request was left, 2 if it could not be.
    """
    try:
        directory = runtime_directory(load(path))
        request_clear(directory, FaultCode(fault))
    except SettingsError as trouble:
        print(trouble, file=sys.stderr)
        return 2
    except OSError as trouble:
        print(
            f"{trouble.filename}: {trouble.strerror}. Expected the runtime directory of a running "
            "controller; start it first, or use the user it runs as.",
            file=sys.stderr,
        )
        return 2
    print(
        f"Asked the controller to clear {fault}; it does so at its next tick unless the cause is still there."
    )
    return 0
