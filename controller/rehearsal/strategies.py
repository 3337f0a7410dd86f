"""Ways to decide when a fan is wanted, to compare with; the safety rules around them are always the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.demand import heat_rule
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand
from controller.decision.wish import Wish

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.wish import DemandRule, LoopView

# A plain thermostat on the ceiling air, without a look at the soil. [practice]
THERMOSTAT_COOL_C = 24.0
THERMOSTAT_HEAT_C = 10.0
THERMOSTAT_DEADBAND_K = 1.0
# A difference rule as a hobby controller has it. [practice]
DIFFERENCE_K = 5.0
DIFFERENCE_COOL_C = 20.0
DIFFERENCE_HEAT_C = 10.0
DIFFERENCE_DEADBAND_K = 1.0


def fans_off(view: LoopView) -> Wish:
    """Never."""
    numbers = {"air_c": view.air_c, "ceiling_c": view.ceiling_c, "soil_c": view.soil_c}
    return Wish(None, Reason(ReasonCode.NOTHING_WANTED, dict(numbers)))


def fans_always(view: LoopView) -> Wish:
    """Whenever it is safe."""
    numbers = {"ceiling_c": view.ceiling_c, "soil_c": view.soil_c}
    return Wish(Demand.PLAIN, Reason(ReasonCode.DEMANDED, dict(numbers)))


def plain_thermostat(view: LoopView) -> Wish:
    """When the ceiling air is warmer than 24 °C or colder than 10 °C."""
    band_k = 0.0 if view.running_for is None else THERMOSTAT_DEADBAND_K
    hot = view.ceiling_c > THERMOSTAT_COOL_C - band_k
    cold = view.ceiling_c < THERMOSTAT_HEAT_C + band_k
    return fans_always(view) if hot or cold else fans_off(view)


def simple_difference(view: LoopView) -> Wish:
    """When warm air meets soil 5 K colder, or cold air meets soil 5 K warmer."""
    band_k = 0.0 if view.running_for is None else DIFFERENCE_DEADBAND_K
    needed_k = DIFFERENCE_K - band_k
    over_k = view.ceiling_c - view.soil_c
    charge = view.ceiling_c > DIFFERENCE_COOL_C - band_k and over_k > needed_k
    discharge = view.ceiling_c < DIFFERENCE_HEAT_C + band_k and -over_k > needed_k
    return fans_always(view) if charge or discharge else fans_off(view)


STRATEGIES: Mapping[str, DemandRule] = {
    "hypocaust": heat_rule,
    "fans-off": fans_off,
    "fans-always": fans_always,
    "plain-thermostat": plain_thermostat,
    "simple-difference": simple_difference,
}
