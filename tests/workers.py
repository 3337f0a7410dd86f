"""Worker processes of long runs: in machine code where it can be had, and gone with whoever started them."""

from __future__ import annotations

import ctypes
import os
import signal
import sys

from controller.rehearsal.native import NativeError, native_copy

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def use_machine_code() -> None:
    """Let processes that are started from now on import the compiled copy of the controller."""
    try:
        sys.path.insert(0, str(native_copy()))  # processes that are spawned take the path over
    except NativeError as problem:
        sys.stderr.write(f"in plain Python, which takes several times as long: {problem}\n")


def die_with_parent(parent: int) -> None:
    """Let the kernel end this process when its parent is gone, killed or not."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:  # gone already
        raise SystemExit(1)
