"""Simulated DS18B20 probes: true temperatures with offset, noise, lag, steps of 1/16 K, and faults."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from controller.readings.reading import RawFailure, RawSample, RawTemperature, Why
from controller.simulator import indices as at
from controller.simulator.faults import FaultKind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from controller.settings.schema import Probe, Settings
    from controller.simulator.faults import FaultBoard
    from controller.simulator.model import Model

STEP_PER_K = 16.0  # DS18B20 data sheet: 12-bit readings in sixteenths of a kelvin
# Spread of offsets; the data sheet allows 0.5 K, which is rarely used up (common practice, no source).
OFFSET_K = 0.12
NOISE_K = 0.03  # spread of single readings; common practice, no source
AIR_LAG_S = 60.0  # probe in its steel sleeve in moving air; common practice, no source
ROOT_ZONE_M = 0.25  # depth of a root-zone probe; common practice, no source
NOISE_LENGTH = 8191  # a prime, so that probes and rounds do not meet the same noise in step
POWER_ON_FRAME = bytes.fromhex(
    "50054b467fff0c101c"
)  # 85 °C after power-on (DS18B20 data sheet: scratchpad and CRC)
POWER_ON_C = 85.0
ALL_ZERO_FRAME = bytes(9)


class SimulatedProbes:
    """All probes of the settings, behind ``TemperatureSource``.

    Args:
        settings: the probes.
        model: where the true temperatures are.
        board: what is broken.
        now_s: asks for monotonic time.
        start_s: monotonic time at the start.
        seed: for offsets and noise.
        exact: no offsets, noise or lag (steps of 1/16 K stay).
    """

    def __init__(
        self,
        settings: Settings,
        model: Model,
        board: FaultBoard,
        now_s: Callable[[], float],
        start_s: float,
        seed: int,
        *,
        exact: bool = False,
    ) -> None:
        random = np.random.default_rng([seed, 1])
        self._board = board
        self._now_s = now_s
        self._start_s = start_s
        self._every_s = settings.board.sample_every_s
        self._last_s = -math.inf
        self._samples: dict[str, RawSample] = {}
        self._names = tuple(settings.probes)
        self._truths = [_truth_of(probe, model) for probe in settings.probes.values()]
        scale = 0.0 if exact else 1.0
        self._offsets = list(random.normal(0.0, OFFSET_K * scale, len(self._names)))
        self._offsets = [
            float(offset - probe.offset_k)
            for offset, probe in zip(self._offsets, settings.probes.values(), strict=True)
        ]
        self._noise: list[float] = random.normal(0.0, NOISE_K * scale, NOISE_LENGTH).tolist()
        self._turn = 0
        self._lag_s = [
            0.0 if exact or probe.place in {"soil", "root-zone"} else AIR_LAG_S
            for probe in settings.probes.values()
        ]
        self._felt = [truth() for truth in self._truths]

    def latest(self) -> Mapping[str, RawSample]:
        """The newest sample of every probe; a new round is read when the last one is old enough."""
        now_s = self._now_s()
        if now_s - self._last_s >= self._every_s:
            self._read_all(now_s)
        return self._samples

    def alive(self) -> bool:
        """Always: there is no worker that could hang."""
        return True

    def close(self) -> None:
        """Nothing to release."""

    def _read_all(self, now_s: float) -> None:
        passed_s = now_s - self._last_s
        self._last_s = now_s
        broken = self._board.any()
        samples, felt, noise, turn = self._samples, self._felt, self._noise, self._turn
        for index, name in enumerate(self._names):
            true_c = self._truths[index]()
            lag_s = self._lag_s[index]
            if lag_s > 0.0:
                felt[index] += (true_c - felt[index]) * -math.expm1(-passed_s / lag_s)
            else:
                felt[index] = true_c
            turn = (turn + 1) % NOISE_LENGTH
            shown_c = felt[index] + self._offsets[index] + noise[turn]
            if broken and self._faulty(name, shown_c, now_s):
                continue
            samples[name] = RawTemperature(math.floor(shown_c * STEP_PER_K + 0.5) / STEP_PER_K, now_s)
        self._turn = turn

    def _faulty(self, name: str, shown_c: float, now_s: float) -> bool:
        """Put a broken probe's sample in place; return whether the probe is broken."""
        find = self._board.find
        if find(FaultKind.PROBE_SILENT, name) or find(FaultKind.BUS_SILENT):
            self._samples[name] = RawFailure(Why.SILENT, now_s)
        elif find(FaultKind.PROBE_POWER_ON, name):
            self._samples[name] = RawTemperature(POWER_ON_C, now_s, POWER_ON_FRAME)
        elif find(FaultKind.PROBE_ALL_ZERO, name):
            self._samples[name] = RawTemperature(0.0, now_s, ALL_ZERO_FRAME)
        elif find(FaultKind.PROBE_STUCK, name):
            last = self._samples.get(name)
            held_c = last.value_c if isinstance(last, RawTemperature) else shown_c
            self._samples[name] = RawTemperature(math.floor(held_c * STEP_PER_K + 0.5) / STEP_PER_K, now_s)
        elif drift := find(FaultKind.PROBE_DRIFT, name):
            days = (now_s - self._start_s - drift.at_s) / 86_400.0
            drifted_c = shown_c + drift.by_k * days
            self._samples[name] = RawTemperature(math.floor(drifted_c * STEP_PER_K + 0.5) / STEP_PER_K, now_s)
        else:
            return False
        return True


def _truth_of(probe: Probe, model: Model) -> Callable[[], float]:
    """What a probe at this place would show if it were perfect."""
    house = model.house
    places = {"ceiling": at.CEILING_C, "bench": at.BENCH_C, "outdoor": at.OUT_C}
    if probe.place in places:
        place = places[probe.place]
        return lambda: float(house[place])
    loop = model.loop_names.index(probe.loop or model.loop_names[0])
    if probe.place == "outlet":
        loops = model.loops
        return lambda: float(loops[loop, at.F_OUTLET_C])
    depth_m = (
        model.cuts[loop].depth_m
        if probe.place == "soil"
        else min(ROOT_ZONE_M, 0.5 * model.cuts[loop].depth_m)
    )
    return lambda: model.soil_c(loop, depth_m)
