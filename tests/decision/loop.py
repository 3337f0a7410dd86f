"""One loop's fan by itself: set what its probes read, let time pass, look at what the fan rule wants.

Times and temperatures are fractions that floats hold exactly, so that a limit can be tried on the spot and a
moment or a hair beside it. The loop's air carries 360 W a kelvin and its tubes are expected to take 100 W of
them for each kelvin between roof and soil; with 100 W of fan, 180 W of heat prove a run: half a kelvin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.fans import FanInput, FanIntent, fan_intent
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, FanState, Need, OutputState
from controller.decision.timers import switched
from controller.decision.wish import LoopView, Wish
from controller.diagnosis.heat_share import UNKNOWN_SHARE, HeatShare
from controller.diagnosis.hints import loop_hint
from controller.diagnosis.learn import taught
from controller.equipment import OutputId
from controller.readings.reading import Good, Missing, Reading, Why
from controller.readings.snapshot import LoopReadings
from controller.settings.schema.derived import DerivedLoop
from tests.decision.world import HOUR_S, settings_with

if TYPE_CHECKING:
    from controller.decision.lockouts import Stop
    from controller.settings.schema import Settings

A_MOMENT_S = 0.125
A_HAIR_C = 0.125
PLAN = DerivedLoop("north", OutputId.fan("north"), "main", 100.0, 360.0, 100.0)
SETTINGS = settings_with(fans={"proven_heat_per_watt": 1.8})
FANS, POINTS = SETTINGS.fans, SETTINGS.setpoints
WANTED = Reason(ReasonCode.DEMANDED, {"ceiling_c": 1.0, "soil_c": 9.0})
OVER = Reason(ReasonCode.NOTHING_WANTED, {"air_c": 2.0, "ceiling_c": 1.0, "soil_c": 9.0})
STARTED = Reason(ReasonCode.STARTED, {"rest_s": 0.0})
NOTHING = Wish(None, OVER)
NEED = Need(3.0, 1.0)
TRUSTED = HeatShare(0.9, 3 * HOUR_S)  # looked at for long enough, and moving much of its heat


class Loop:
    """The north loop, at rest for long, wanted for what a test says and granted every start.

    The house is 40 °C over a soil of 0 °C, and the outlet shows much heat.
    """

    def __init__(self, settings: Settings = SETTINGS, demand: Demand = Demand.BANK) -> None:
        self.settings = settings
        self.now_s = 2.0**20
        self.wish = Wish(demand, WANTED)
        self.ceiling: float | Why = 40.0
        self.bench: float | Why = 40.0
        self.soil: float | Why = 0.0
        self.root: float | Why = 10.0
        self.outlet: float | Why = 10.0
        self.air_c: float | None = 40.0
        self.stop: Stop | None = None
        self.outlets_known = False
        self.share = UNKNOWN_SHARE
        self.rank = 0.5
        self.output = OutputState(on=False, since_mono_s=self.now_s - 24 * HOUR_S)
        self.state = FanState(None, STARTED)
        self.view: LoopView | None = None
        self.intent: FanIntent | None = None

    def _rule(self, view: LoopView) -> Wish:
        self.view = view
        return self.wish

    def _reading(self, value: float | Why) -> Reading:
        return Missing(value, self.now_s - 5.0) if isinstance(value, Why) else Good(value, self.now_s)

    def look(self, after_s: float = 0.0) -> bool:
        """Let time pass and decide once; returns whether the fan runs then."""
        self.now_s += after_s
        readings = LoopReadings(*map(self._reading, (self.soil, self.root, self.outlet)))
        ceiling, bench = self._reading(self.ceiling), self._reading(self.bench)
        hint = loop_hint(
            PLAN, self.share, self.outlets_known, ceiling, bench, readings, self.output, self.now_s
        )
        self.intent = fan_intent(
            FanInput(PLAN, self.settings, self._rule, ceiling, bench, self.air_c, readings, self.stop, NEED,
                     self.output, self.state, self.now_s, self.rank, hint)
        )  # fmt: skip
        assert isinstance(self.intent.on, bool)
        self.state = self.intent.state
        self.output = switched(self.output, self.intent.on or self.intent.asks_to_start, self.now_s)
        shown = self.intent.confirmation
        self.share = taught(self.share, PLAN, hint, shown, self.output.on, self.now_s)
        return self.output.on

    def run(self, for_s: float = FANS.purge_s) -> Loop:
        """Start the fan and look at it again after so long."""
        assert self.look()
        self.look(for_s)
        return self

    def number(self, name: str) -> float | str:
        """A number of the present reason."""
        return self.state.reason.numbers[name]

    def failures(self) -> tuple[int, float | None]:
        """Failed runs in a row, and until when no start is tried."""
        return self.state.failed_runs, self.state.back_off_until_s

    def cold(self) -> Loop:
        """Warm soil under cold air, the outlet halfway; returned for convenience."""
        self.ceiling, self.bench, self.soil, self.root, self.outlet = 0.0, 0.0, 20.0, 20.0, 10.0
        self.air_c = 0.0
        return self
