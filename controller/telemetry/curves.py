"""The last two days as curves: means over quarters of an hour, small enough to be retained at the broker.

A phone that opens the page at night wants to see the evening, and must not need a second server for it. The
controller therefore keeps 192 means of each line in memory (two bytes each) and sends them as one message.
Pure, but for its own memory.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING, Literal, NamedTuple

from controller.equipment import OutputId
from controller.readings.reading import Good
from controller.telemetry.past import Curves, MeanTemperatures, RunningShares
from controller.telemetry.said_parts import rfc3339

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from controller.record.tick import TickRecord
    from controller.settings.schema import Settings

STEP_S = 900.0
STEPS = 192
_UNKNOWN = -32768
_LARGEST = 32767
_TEMPERATURE_SCALE = 10  # tenths of a degree
_SHARE_SCALE = 100  # per cent


class Line(NamedTuple):
    """One curve: what it shows, and of which loop or sump (empty for the air)."""

    what: Literal["ceiling", "bench", "outdoor", "soil", "fan", "pump"]
    name: str = ""

    @property
    def is_motor(self) -> bool:
        """Whether it shows a share of time on, not a temperature."""
        return self.what in ("fan", "pump")


def lines_of(settings: Settings) -> tuple[Line, ...]:
    """The curves of a house."""
    soil = [Line("soil", loop) for loop in settings.loops if settings.probe_names("soil", loop)]
    fans = [Line("fan", loop) for loop in settings.loops]
    pumps = [Line("pump", sump) for sump in settings.sumps]
    return (Line("ceiling"), Line("bench"), Line("outdoor"), *soil, *fans, *pumps)


class TwoDays:
    """Collects the means, tick by tick.

    Attributes:
        began_mono_s: when the first step began, on the board's own counter; None before the first tick.
    """

    def __init__(self) -> None:
        self.began_mono_s: float | None = None
        self._step_began_s = self._last_s = 0.0
        self._means: dict[Line, array[int]] = {}
        self._sums: dict[Line, tuple[float, float]] = {}
        self._values: dict[Line, float | None] = {}
        self._past: Mapping[Line, Sequence[float | None]] | None = None

    def remember(self, past: Mapping[Line, Sequence[float | None]]) -> None:
        """Put means from before the program's start in front: one for each step, oldest first.

        The last of them ends where the first step of this run began. °C, and shares from 0 to 1; None where
        nothing is known. May be called from any thread; counts from the next tick on.
        """
        self._past = past

    def note(self, tick: TickRecord) -> bool:
        """Take a tick into account; returns whether there is something new to be shown."""
        if self.began_mono_s is None:
            self.began_mono_s = self._step_began_s = self._last_s = tick.now_mono_s
            self._means = {line: array("h") for line in lines_of(tick.settings)}
        past, self._past = self._past, None
        if past is not None:
            for line, means in self._means.items():
                before = [_stored(line, mean) for mean in past.get(line, ())]
                self._means[line] = array("h", (before + means.tolist())[-STEPS:])
            self._fill_up()
        self._add(tick.now_mono_s - self._last_s)
        finished = tick.now_mono_s - self._step_began_s >= STEP_S
        while tick.now_mono_s - self._step_began_s >= STEP_S:
            self._finish_step()
        self._last_s = tick.now_mono_s
        self._values = {line: _value(line, tick) for line in self._means}
        return finished or past is not None

    def message(self, tick: TickRecord) -> Curves | None:
        """The curves up to the last finished step, or None while there is none."""
        if not any(self._means.values()):
            return None
        at = tick.snapshot.wall_utc
        return Curves(
            at=rfc3339(at),
            seq=tick.seq,
            valid_for_s=None,
            step_s=STEP_S,
            since_last_step_s=round(max(tick.now_mono_s - self._step_began_s, 0.0), 1),
            temperatures=[
                MeanTemperatures.model_validate(
                    {"what": line.what, "loop": line.name or None, "mean_c": list(_shown(line, means))}
                )
                for line, means in self._means.items()
                if not line.is_motor
            ],
            motors=[
                RunningShares.model_validate(
                    {
                        "what": line.what,
                        "name": line.name,
                        "on_percent": [
                            mean if mean is None else round(mean * 100) for mean in _shown(line, means)
                        ],
                    }
                )
                for line, means in self._means.items()
                if line.is_motor
            ],
        )

    def _add(self, for_s: float) -> None:
        """What the tick before has shown has stood since; after a long pause nobody knows."""
        if not 0.0 < for_s <= STEP_S:
            return
        for line, value in self._values.items():
            if value is not None:
                total, known_s = self._sums.get(line, (0.0, 0.0))
                self._sums[line] = (total + value * for_s, known_s + for_s)

    def _finish_step(self) -> None:
        for line, means in self._means.items():
            total, known_s = self._sums.get(line, (0.0, 0.0))
            means.append(_stored(line, total / known_s if known_s > 0.0 else None))
            del means[:-STEPS]
        self._sums = {}
        self._step_began_s += STEP_S

    def _fill_up(self) -> None:
        """Make all curves equally long, and begin with the first step of which anything is known."""
        longest = max(map(len, self._means.values()))
        for line, means in self._means.items():
            self._means[line] = array("h", [_UNKNOWN] * (longest - len(means))) + means
        steps = zip(*self._means.values(), strict=True)
        empty = next((n for n, step in enumerate(steps) if any(mean != _UNKNOWN for mean in step)), longest)
        for means in self._means.values():
            del means[:empty]


def _value(line: Line, tick: TickRecord) -> float | None:
    """What a line shows in this tick: °C, or 1 for on; None if it is not known."""
    if line.is_motor:
        output = OutputId.fan(line.name) if line.what == "fan" else OutputId.pump(line.name)
        command = tick.decision.commands.get(output)
        return None if command is None else float(command.on)
    seen = tick.snapshot
    if line.what == "soil":
        loop = seen.loops.get(line.name)
        reading = None if loop is None else loop.soil
    else:
        reading = {"ceiling": seen.ceiling, "bench": seen.bench, "outdoor": seen.outdoor}[line.what]
    return reading.value if isinstance(reading, Good) else None


def _stored(line: Line, mean: float | None) -> int:
    """A mean as two bytes hold it."""
    if mean is None:
        return _UNKNOWN
    scaled = round(mean * (_SHARE_SCALE if line.is_motor else _TEMPERATURE_SCALE))
    return max(-_LARGEST, min(scaled, _LARGEST))


def _shown(line: Line, means: array[int]) -> Iterator[float | None]:
    """The means as they are sent."""
    scale = _SHARE_SCALE if line.is_motor else _TEMPERATURE_SCALE
    return (None if mean == _UNKNOWN else mean / scale for mean in means)
