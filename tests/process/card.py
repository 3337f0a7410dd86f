"""A small memory card for a real program to fail on: a file with a file system in it, mounted where asked.

It is a real ext4 on a loop device, so that full and failing are what the kernel makes of them. Mounting takes
root; where it is not permitted the test that asks is skipped and says why.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

# The least that has room for the journal of the file system itself, by size of block.
SIZE_BYTES = {1024: 4_000_000, 4096: 16_000_000}
SBIN = "/usr/sbin:/sbin"


class Card:
    """A mounted card.

    Args:
        at: the directory it is mounted on; made if it does not exist.
        block_bytes: size of its blocks; 4096 is usual, small partitions are given 1024.
    """

    def __init__(self, at: Path, block_bytes: int = 4096) -> None:
        self.at = at
        at.mkdir(exist_ok=True)
        image = at.with_name(f"{at.name}.img")
        image.write_bytes(b"")
        os.truncate(image, SIZE_BYTES[block_bytes])
        mkfs = shutil.which("mkfs.ext4") or shutil.which("mkfs.ext4", path=SBIN)
        if mkfs is None:
            pytest.skip("there is no mkfs.ext4 (Debian: e2fsprogs) to make a card with")
        subprocess.run(
            [mkfs, "-q", "-F", "-m", "0", "-b", str(block_bytes), str(image)], check=True, timeout=30
        )
        done = self._mount("-o", "loop", str(image), str(at))
        if done.returncode != 0:
            pytest.skip(f"mounting is not permitted here: {done.stderr.strip()}")

    def fill(self) -> None:
        """Leave no byte free."""
        with (self.at / "filler").open("ab", buffering=0) as filler:
            for size in (65536, 4096, 512, 1):
                try:
                    while filler.write(b"\0" * size) == size:
                        pass
                except OSError:
                    continue

    def empty(self) -> None:
        """Give the room back."""
        (self.at / "filler").unlink()

    def fail(self) -> None:
        """Let the kernel give the card up, as after an I/O error: from now on nothing can be written."""
        done = self._mount("-o", "remount,abort", str(self.at))
        assert done.returncode == 0, done.stderr

    def protect(self) -> None:
        """Mount it read-only, as a start after such an error does; nothing may hold a file on it."""
        done = self._mount("-o", "remount,bind,ro", str(self.at))
        assert done.returncode == 0, done.stderr

    def remove(self) -> None:
        """Take it out, even while files on it are open."""
        subprocess.run(["umount", "--lazy", str(self.at)], check=False, timeout=30)

    @staticmethod
    def _mount(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(["mount", *arguments], capture_output=True, text=True, check=False, timeout=30)
