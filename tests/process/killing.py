"""Kills the running program again and again at random moments, and looks at what each kill left behind.

``python -m tests.process.killing --times 500 --seed 1``. After every kill -9: outputs are off within the
lease (through ``safe``, as the service manager runs it, or through the next start), the history is sound and
has every row that was committed, both copies of the memory can be read, and over all starts together every
motor kept its rest, its starts per hour and the stagger between two motors.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from controller.settings.load import load
from tests.process import journal
from tests.process.bench import ROOT, Bench
from tests.process.committed import Rows, committed_now, left_behind

SPEED = 60.0
EXTRA = """
[history]
every = "1 min"
write_every = "5 s"
"""
# The lease that holds in a greenhouse; killed and mended in real time, whatever the bench's own clock does.
LEASE_S = load(ROOT / "config" / "house.toml").service.lease_s
EARLY_S, LATE_S = 1.5, 4.5  # a kill while the program starts, and one after it has said that it is ready
EARLY_SHARE, SAFE_SHARE = 0.3, 0.8
GESTURES_S = (0.2, 1.5)  # how often the float moves
HOT_C, MILD_C = 35.0, 20.0
HOT_SHARE, WET_SHARE = 0.8, 0.15


@dataclass
class Toll:
    """What all kills together came to."""

    kills: int = 0
    while_on: int = 0
    before_the_first_row: int = 0
    rows: int = 0
    starts: int = 0
    off_after_s: dict[str, list[float]] = field(default_factory=lambda: {"safe": [], "restart": []})
    broken: list[str] = field(default_factory=list)

    def text(self) -> str:
        """The result in a few lines."""
        lines = [
            f"{self.kills} kills, {self.while_on} of them with an output on",
            f"{self.before_the_first_row} kills before anything was committed",
            f"{self.rows} committed rows, all there at the end; {self.starts} motor starts",
        ]
        for way, times_s in self.off_after_s.items():
            if times_s:
                lines.append(
                    f"off by {way}: {len(times_s)} times, median {median(times_s):.2f} s, "
                    f"longest {max(times_s):.2f} s of {LEASE_S:.0f} s"
                )
        return "\n".join([*lines, *(f"BROKEN: {what}" for what in self.broken or ["nothing"])])


class Killing:
    """One bench whose program never ends well."""

    def __init__(self, directory: Path, seed: int) -> None:
        self.bench = Bench(directory, EXTRA, SPEED)
        self._dice = random.Random(seed)  # noqa: S311 - a repeatable campaign
        self._settings = load(self.bench.file)
        self._history = self.bench.state_directory / "history.sqlite3"
        self._journal = self.bench.pins / "journal"
        self._known: Rows = set()
        self._on_since_kill_s: float | None = None
        self.toll = Toll()

    def once(self) -> None:
        """Start, live for a while, die, and be looked at."""
        dice, bench = self._dice, self.bench
        bench.temperatures(roof=HOT_C if dice.random() < HOT_SHARE else MILD_C, soil=14.0)
        bench.notices()  # a program killed before may have said that it was ready
        if dice.random() < EARLY_SHARE:
            bench.launch()
            self._live(dice.uniform(0.0, EARLY_S))
        else:
            bench.start()
            self._live(dice.uniform(0.0, LATE_S))
        self._known |= committed_now(self._history)
        self._expect(
            '"promises_broken":0' in (bench.status() or '"promises_broken":0'), "a promise broke while it ran"
        )
        bench.kill()
        killed_s = time.monotonic()
        self._note_off_by_restart(killed_s)
        on = any(bench.is_on(pin) for pin in self._pins())
        self.toll.kills += 1
        self.toll.while_on += on
        self._look_at_files()
        if dice.random() < SAFE_SHARE:
            done = bench.safe()
            self._expect(done.returncode == 0, f"safe failed: {done.stderr}")
            self._expect(not any(bench.is_on(pin) for pin in self._pins()), "safe left an output on")
            if on:
                self.toll.off_after_s["safe"].append(journal.read(self._journal)[-1].at_s - killed_s)
        elif on:
            self._on_since_kill_s = killed_s

    def finish(self) -> Toll:
        """The motors' limits over everything that happened, and the toll."""
        levels = journal.read(self._journal)
        self.toll.broken += journal.broken(levels, self._settings, SPEED)
        self.toll.starts = sum(len(runs) for runs in journal.starts(levels).values())
        for way, times_s in self.toll.off_after_s.items():
            self._expect(max(times_s, default=0.0) < LEASE_S, f"off only after the lease by {way}")
        self.bench.close()
        return self.toll

    def _live(self, seconds: float) -> None:
        """Let it work, with a float that moves now and then."""
        until_s = time.monotonic() + seconds
        while (left_s := until_s - time.monotonic()) > 0.0:
            time.sleep(min(self._dice.uniform(*GESTURES_S), left_s))
            if self._dice.random() < WET_SHARE:
                self.bench.wet()
            else:
                self.bench.dry()

    def _note_off_by_restart(self, killed_s: float) -> None:
        """If the kill before this one left an output on: when this start switched it off."""
        on_since_s, self._on_since_kill_s = self._on_since_kill_s, None
        if on_since_s is None:
            return
        off = [
            level.at_s
            for level in journal.read(self._journal)
            if on_since_s < level.at_s < killed_s and not level.on
        ]
        if off:
            self.toll.off_after_s["restart"].append(off[0] - on_since_s)
        else:  # killed again before it came so far
            self._on_since_kill_s = on_since_s

    def _look_at_files(self) -> None:
        verdict, rows = left_behind(self._history)
        self._expect(verdict == "ok", f"the history is not sound: {verdict}")
        self._expect(
            self._known <= rows, f"committed rows are lost: {sorted(map(str, self._known - rows))[:3]}"
        )
        self.toll.before_the_first_row += not rows
        self._known = rows
        self.toll.rows = len(rows)
        aside = [file.name for file in self.bench.state_directory.glob("*.damaged-*")]
        self._expect(not aside, f"the history was set aside as damaged: {aside}")
        for directory in (self.bench.run_directory, self.bench.state_directory):
            memory = directory / "memory.json"
            if memory.exists():
                try:
                    json.loads(memory.read_text(encoding="utf-8"))
                except ValueError as problem:
                    self._expect(False, f"{memory} cannot be read: {problem}")

    def _pins(self) -> tuple[int, int]:
        return self.bench.fan_pin, self.bench.pump_pin

    def _expect(self, holds: bool, otherwise: str) -> None:
        if not holds:
            self.toll.broken.append(f"kill {self.toll.kills}: {otherwise}")


def main() -> int:
    """Kill as often as asked, say what came of it; 0 only if nothing broke."""
    parser = argparse.ArgumentParser(prog="python -m tests.process.killing", description=__doc__)
    parser.add_argument("--times", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        killing = Killing(Path(directory), options.seed)
        try:
            for number in range(options.times):
                killing.once()
                if (number + 1) % 50 == 0:
                    print(f"{number + 1}: {len(killing.toll.broken)} broken", flush=True)
        finally:
            toll = killing.finish()
    print(toll.text())
    return 1 if toll.broken else 0


if __name__ == "__main__":
    sys.exit(main())
