"""One probe that gives what the test says."""

from __future__ import annotations

from controller.readings.judge import ProbeJudge, limits_for
from controller.readings.reading import Missing, RawFailure, RawSample, RawTemperature, Reading, Why
from controller.settings.schema import Judging

EVERY_S = 15.0


class Probe:
    """One probe with its judge and its own time, a sample every 15 s."""

    def __init__(self, place: str = "ceiling", offset_k: float = 0.0) -> None:
        self.judge = ProbeJudge(limits_for(place, Judging()), offset_k)
        self.now_s = 1000.0
        self.newest: RawSample | None = None

    def gives(self, *values_c: float) -> Reading:
        """Samples of these temperatures, one after the other."""
        for value_c in values_c:
            self.now_s += EVERY_S
            self.newest = RawTemperature(value_c, self.now_s)
            self.judge.judge(self.newest, self.now_s)
        return self.now()

    def fails(self, *causes: Why) -> Reading:
        """Failed samples with these causes."""
        for why in causes:
            self.now_s += EVERY_S
            self.newest = RawFailure(why, self.now_s)
            self.judge.judge(self.newest, self.now_s)
        return self.now()

    def now(self, after_s: float = 0.0) -> Reading:
        """What is believed after some time without anything new."""
        self.now_s += after_s
        return self.judge.judge(self.newest, self.now_s)


def why(reading: Reading) -> Why | None:
    """The cause of a missing reading, None for a good one."""
    return reading.why if isinstance(reading, Missing) else None
