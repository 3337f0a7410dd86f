"""Which network sockets a process has, from the kernel (proc(5)): /proc/PID/fd and /proc/PID/net."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path
from typing import NamedTuple

LISTENING = "0A"  # include/net/tcp_states.h


class Socket(NamedTuple):
    """One socket of the Internet families.

    Attributes:
        kind: tcp, tcp6, udp, udp6 or raw.
        listens: whether anybody may connect or send to it.
        peer_port: the port at the other end, 0 if it is not connected.
    """

    kind: str
    listens: bool
    peer_port: int


def sockets_of(process: int) -> list[Socket]:
    """Every Internet socket a process holds now."""
    inodes = set()
    for entry in Path(f"/proc/{process}/fd").iterdir():
        with contextlib.suppress(OSError):
            if found := re.fullmatch(r"socket:\[(\d+)\]", str(entry.readlink())):
                inodes.add(found[1])
    held = []
    for kind in ("tcp", "tcp6", "udp", "udp6", "raw", "raw6"):
        table = Path(f"/proc/{process}/net/{kind}")
        for line in table.read_text(encoding="ascii").splitlines()[1:] if table.exists() else ():
            words = line.split()
            if words[9] in inodes:
                peer_port = int(words[2].rsplit(":", 1)[1], 16)
                open_to_all = words[3] == LISTENING if kind.startswith("tcp") else peer_port == 0
                held.append(Socket(kind, open_to_all, peer_port))
    return held
