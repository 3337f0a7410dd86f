"""What a house went through, on a regular grid of time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

# Seconds that local time is ahead of UTC at a moment (seconds since 1970).
LocalOffset = Callable[[float], float]
STEP_S = 600
_FIRST_DAY = date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class Series:
    """Probes, fans and pumps on a grid; every list has one entry a step.

    Attributes:
        from_s: when the first step begins, seconds since 1970, a multiple of the step.
        step_s: length of a step.
        temps: by probe: mean temperature in °C, None where nothing was read.
        fans: by loop: share of the step the fan was commanded on, 0 to 1.
        pumps: by sump: the same of the pump.
        hourly: whether the step was filled from an hourly mean.
    """

    from_s: float
    step_s: int
    temps: Mapping[str, Sequence[float | None]]
    fans: Mapping[str, Sequence[float]]
    pumps: Mapping[str, Sequence[float]]
    hourly: Sequence[bool]

    def __len__(self) -> int:
        """Number of steps."""
        return len(self.hourly)

    @property
    def from_utc(self) -> datetime:
        """When the first step begins."""
        return datetime.fromtimestamp(self.from_s, UTC)

    @property
    def to_utc(self) -> datetime:
        """When the last step ends."""
        return self.from_utc + timedelta(seconds=len(self) * self.step_s)

    @property
    def coverage(self) -> float:
        """Share of the steps in which any probe was read, 0 to 1."""
        if not len(self):
            return 0.0
        read = [any(value is not None for value in step) for step in zip(*self.temps.values(), strict=True)]
        return sum(read) / len(self)

    def mean(self, probes: Sequence[str]) -> list[float | None]:
        """The mean of those of some probes that were read, step by step; None where none was."""
        columns = [self.temps[name] for name in probes if name in self.temps]
        if len(columns) == 1:
            return list(columns[0])
        means: list[float | None] = []
        for step in zip(*columns, strict=True):
            read = [value for value in step if value is not None]
            means.append(sum(read) / len(read) if read else None)
        return means or [None] * len(self)

    def local_s(self, offset: LocalOffset) -> list[float]:
        """The middle of each step in local time, seconds since local midnight of 1970-01-01."""
        middle_s = self.from_s + 0.5 * self.step_s
        moments = [middle_s + index * self.step_s for index in range(len(self))]
        return [moment + offset(moment) for moment in moments]


def day_of(local_s: float) -> date:
    """The local date of a moment in local seconds."""
    return _FIRST_DAY + timedelta(days=local_s // 86400.0)
