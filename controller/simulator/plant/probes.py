"""Simulated DS18B20 probes: true temperatures with offset, noise, lag, steps of 1/16 K, and faults."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from controller.faults import DAY_S
from controller.readings.judge import SOIL_PLACES
from controller.readings.reading import RawFailure, RawSample, RawTemperature, Why
from controller.simulator.compiled import compile_modules
from controller.simulator.house.state import SEGMENTS, bare, rows
from controller.simulator.plant import thermometers
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.thermometers import Thermometer

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from types import ModuleType

    from numpy.typing import NDArray

    from controller.settings.schema import Probe, Settings
    from controller.simulator.house.model import Model
    from controller.simulator.house.state import HouseState, Rows
    from controller.simulator.plant.faults import FaultBoard

    Floats = NDArray[np.float64]

# Spread of offsets; the data sheet allows 0.5 K, which is rarely used up [practice]
OFFSET_K = 0.12
NOISE_K = 0.03  # spread of single readings [practice]
AIR_LAG_S = 60.0  # probe in its steel sleeve in moving air [practice]
ROOT_ZONE_M = 0.25  # depth of a root-zone probe [practice]
NOISE_LENGTH = 8191  # a prime, so that probes and rounds do not meet the same noise in step
FULL_SUN_W_M2 = 1000.0
ALL_ZERO = 0.0, bytes(9)
PLACES = {
    "bench": thermometers.BENCH,
    "ceiling": thermometers.CEILING,
    "outdoor": thermometers.OUTDOORS,
    "outlet": thermometers.OUTLET,
}
# What a probe answers instead of a measurement, and the scratchpad with it (DS18B20 data sheet; the kernel's
# w1_therm.rst).
ANSWERS = {
    FaultKind.PROBE_POWER_ON: (85.0, bytes.fromhex("50054b467fff0c101c")),
    FaultKind.PROBE_NO_POWER: (127.9375, bytes.fromhex("ff074b467fff0c10a6")),
    FaultKind.PROBE_ALL_ZERO: ALL_ZERO,
}


@cache
def _compiled() -> ModuleType:
    """The compiled twin of ``thermometers``."""
    return compile_modules((thermometers,), keep=True)["thermometers"]


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
        self._damage = np.random.default_rng([seed, 2])
        self._read = _compiled().read_all
        self._model = model
        # Windows on the model: house, outlets, soil halfway along and halfway between two tubes.
        self._truth: tuple[Rows[HouseState], Floats, Floats] = (
            bare(model.house),
            model.loops["outlet_c"],
            model.temp_c[:, :, -2, SEGMENTS // 2],
        )
        self._board = board
        self._now_s = now_s
        self._start_s = start_s
        self._every_s = settings.board.sample_every_s
        self._last_s = -math.inf
        self._samples: dict[str, RawSample] = {}
        self._names = tuple(settings.probes)
        spread = 0.0 if exact else 1.0
        offsets_k = random.normal(0.0, OFFSET_K * spread, len(self._names))
        self._noise_k = random.normal(0.0, NOISE_K * spread, NOISE_LENGTH)
        self._turn = 0
        self._probes = rows(Thermometer, len(self._names))
        self._bare = np.asarray(
            self._probes
        )  # the same, as compiled code takes it without a search for its type
        self._stepped_c = self._bare["stepped_c"]
        self._loops = [_loop_of(probe, model) for probe in settings.probes.values()]
        for index, probe in enumerate(settings.probes.values()):
            hung = self._probes[index]
            _hang(hung, probe, model)
            hung.offset_k = offsets_k[index] - probe.offset_k
            hung.felt_c = thermometers.true_c(hung, model.house, *self._truth[1:])
            if not (exact or probe.place in SOIL_PLACES):
                hung.lag_s = AIR_LAG_S

    def latest(self) -> Mapping[str, RawSample]:
        """The newest sample of every probe; a new round is read when the last one is old enough."""
        now_s = self._now_s()
        hung = self._board.any() and self._board.find(FaultKind.BUS_HUNG)
        if now_s - self._last_s >= self._every_s and not hung:
            self._read_all(now_s)
        return self._samples if self._last_s > -math.inf else {}

    def restart(self, by_s: float) -> None:
        """Nothing has been read yet; monotonic time is another by ``by_s``."""
        self._start_s += by_s
        self._last_s = -math.inf

    def stand_in(self, loop: int, row: int) -> None:
        """The probes in the soil of a loop stand in this row of the ground from now on."""
        for index, mine in enumerate(self._loops):
            if mine == loop and self._probes[index].place == thermometers.SOIL:
                self._probes[index].loop = row

    def alive(self) -> bool:
        """Always: there is no worker that could hang."""
        return True

    def close(self) -> None:
        """Nothing to release."""

    def _read_all(self, now_s: float) -> None:
        self._turn = self._read(now_s - self._last_s, self._bare, self._noise_k, self._turn, *self._truth)
        self._last_s = now_s
        stepped_c = self._stepped_c.tolist()
        samples: dict[str, RawSample] = {
            name: RawTemperature(value_c, now_s) for name, value_c in zip(self._names, stepped_c, strict=True)
        }
        if self._board.any():
            self._break(samples, now_s)
        self._samples = samples

    def _break(self, samples: dict[str, RawSample], now_s: float) -> None:
        """Put what faulty probes give in the place of what sound ones would."""
        shown = dict(zip(self._names, self._probes["shown_c"].tolist(), strict=True))
        swapped = set()
        for one, swap in self._board.all_of(FaultKind.PROBE_SWAPPED):
            shown[one], shown[swap.other] = shown[swap.other], shown[one]
            swapped |= {one, swap.other}
        whole_bus = self._board.find(FaultKind.BUS_SILENT) or self._board.find(FaultKind.BUS_SHORTED)
        for name, shown_c in shown.items():
            if whole_bus or name in swapped or self._board.touches(name):
                samples[name] = self._broken(name, now_s) or RawTemperature(
                    thermometers.stepped_c(shown_c + self._astray_k(name, now_s)), now_s
                )

    def _broken(self, name: str, now_s: float) -> RawSample | None:
        """What a probe gives that no longer measures; None if it still does."""
        find = self._board.find
        noisy = find(FaultKind.PROBE_NOISY, name)
        if find(FaultKind.PROBE_SILENT, name) or find(FaultKind.BUS_SILENT):
            return RawFailure(Why.SILENT, now_s)
        if noisy and self._damage.random() < noisy.by:
            return RawFailure(Why.NOISY, now_s)
        answers = [answer for kind, answer in ANSWERS.items() if find(kind, name)]
        answers += [ALL_ZERO] if find(FaultKind.BUS_SHORTED) else []
        if answers:
            value_c, scratchpad = answers[0]
            return RawTemperature(value_c, now_s, scratchpad)
        last = self._samples.get(name)
        if find(FaultKind.PROBE_STUCK, name) and isinstance(last, RawTemperature):
            return RawTemperature(last.value_c, now_s)
        return None

    def _astray_k(self, name: str, now_s: float) -> float:
        """How far a probe is off that is badly made, drifts or hangs in the sun."""
        astray_k = 0.0
        if drift := self._board.find(FaultKind.PROBE_DRIFT, name):
            astray_k += drift.by * (now_s - self._start_s - drift.at_s) / DAY_S
        if offset := self._board.find(FaultKind.PROBE_OFFSET, name):
            astray_k += offset.by
        if sun := self._board.find(FaultKind.PROBE_IN_SUN, name):
            astray_k += sun.by * self._model.sun_w_m2() / FULL_SUN_W_M2
        return astray_k


def _hang(hung: Thermometer, probe: Probe, model: Model) -> None:
    """Hang a thermometer where the settings have its probe."""
    hung.place = PLACES.get(probe.place, thermometers.SOIL)
    loop = _loop_of(probe, model)
    hung.loop = loop
    if hung.place == thermometers.SOIL:
        depth_m = model.cuts[loop].depth_m
        hung.row, hung.share = model.soil_place(
            loop, depth_m if probe.place == "soil" else root_zone_depth_m(depth_m)
        )


def _loop_of(probe: Probe, model: Model) -> int:
    """The loop whose soil or outlet a probe shows."""
    return model.loop_names.index(probe.loop or model.loop_names[0])


def root_zone_depth_m(tube_depth_m: float) -> float:
    """Where a root-zone probe sits above tubes of this depth."""
    return min(ROOT_ZONE_M, 0.5 * tube_depth_m)
