"""Worker processes of long runs, gone with their parent process."""

from __future__ import annotations

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def die_with_parent(parent: int) -> None:
    """Let the kernel end this process when its parent is gone, killed or not."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:  # gone already
        raise SystemExit(1)
