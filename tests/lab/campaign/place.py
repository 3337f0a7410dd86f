"""What outlives a process: the machine's files, with everything that can happen to them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.service.memory_file import FILE_NAME, SPARE_NAME, MemoryFile
from tests.lab.campaign.damage import damage
from tests.lab.campaign.troubles import TroubleKind

if TYPE_CHECKING:
    from pathlib import Path

    from controller.clock import Clock
    from tests.lab.campaign.troubles import Trouble

SETTINGS = (
    TroubleKind.SETTINGS_CHANGED,
    TroubleKind.SETTINGS_BAD,
    TroubleKind.SETTINGS_CONTRADICTORY,
    TroubleKind.SETTINGS_GONE,
)
DISKS = (TroubleKind.CARD_UNWRITABLE, TroubleKind.RUNTIME_UNWRITABLE)


class Machine:
    """The board's directories and the settings file.

    Attributes:
        settings_file: where the settings are.
        runtime: the directory that a boot empties.
        card: the directory that stays.
        boot: number of the boot.
        settings_bad: whether the settings file is one that must never come into force.
    """

    def __init__(self, directory: Path, text: str) -> None:
        self._text = text
        self.settings_file = directory / "house.toml"
        self.runtime, self.card = directory / "run", directory / "card"
        self.runtime.mkdir()
        self.card.mkdir()
        self.settings_file.write_text(text, encoding="utf-8")
        self.boot = 1
        self.settings_bad = False

    def memory(self, clock: Clock) -> MemoryFile:
        """The real memory on these directories, without its thread."""
        return MemoryFile(self.runtime, self.card, f"boot-{self.boot}", clock)

    def begin(self, trouble: Trouble) -> None:
        """A trouble with files begins."""
        if trouble.kind in DISKS:
            self._beside(trouble.kind).mkdir(exist_ok=True)
        elif trouble.kind is TroubleKind.SETTINGS_GONE:
            self.settings_file.unlink(missing_ok=True)
            self.settings_bad = True
        elif trouble.kind in SETTINGS:
            self.settings_file.write_text(trouble.text, encoding="utf-8")
            self.settings_bad = trouble.kind is not TroubleKind.SETTINGS_CHANGED

    def end(self, trouble: Trouble) -> None:
        """It ends: somebody mends the file, or there is room again."""
        if trouble.kind in DISKS and self._beside(trouble.kind).is_dir():
            self._beside(trouble.kind).rmdir()
        elif trouble.kind in SETTINGS:
            self.settings_file.write_text(self._text, encoding="utf-8")
            self.settings_bad = False

    def _beside(self, kind: TroubleKind) -> Path:
        """What stands in the way of a new copy of the memory."""
        directory = self.card if kind is TroubleKind.CARD_UNWRITABLE else self.runtime
        return (directory / FILE_NAME).with_suffix(".new")

    def boots(self) -> None:
        """The board boots: what was only in memory is gone."""
        self.boot += 1
        for path in self.runtime.iterdir():
            path.rmdir() if path.is_dir() else path.unlink()

    def spoil(self, trouble: Trouble) -> None:
        """Damage or lose the copy on the card."""
        kept = self.card / FILE_NAME
        if trouble.kind is TroubleKind.MEMORY_DAMAGED:
            damage(kept, trouble.text)
        elif trouble.kind is TroubleKind.MEMORY_LOST:
            kept.unlink(missing_ok=True)
            (self.card / SPARE_NAME).unlink(missing_ok=True)
