"""Heat accounts against calculations by hand and moist-air tables."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from CoolProp.CoolProp import HAPropsSI

from controller.evidence.accounting import account
from controller.evidence.store import stored_heat
from tests.evidence.made import HOUSE, LOOPS, STEPS_A_DAY, moving_air, series, utc

if TYPE_CHECKING:
    from controller.evidence.series import Series

PRESSURE_PA = 101_325.0 * (1.0 - 2.25577e-5 * 240.0) ** 5.2559  # standard atmosphere at the house's altitude
KELVIN = 273.15


def test_an_hour_of_banking_is_what_a_moist_air_table_gives():
    """An hour from 25 °C to 17 °C banks flow times density times the fall of enthalpy, and the fan's heat."""
    log = series(moving_air(25.0, 14.0, 17.0), {"north": [0.0, *[1.0] * 6, 0.0]}, 8)
    heat = account(log, HOUSE, utc).whole
    kg_s = 0.30 / HAPropsSI("V", "T", 25.0 + KELVIN, "P", PRESSURE_PA, "R", 0.0)
    fallen = HAPropsSI("H", "T", 25.0 + KELVIN, "P", PRESSURE_PA, "R", 0.0)
    fallen -= HAPropsSI("H", "T", 17.0 + KELVIN, "P", PRESSURE_PA, "R", 0.0)
    by_hand_j = 3600.0 * (kg_s * fallen + 120.0)
    assert heat.run_s == 3600.0
    assert heat.electricity_j == 3600.0 * 120.0
    # After an hour no outlet is believed yet: the share that the tubes are designed for decides.
    assert heat.returned_j == 0.0
    assert heat.banked.holds(by_hand_j)


def _two_levels() -> tuple[list[float], list[float], Series]:
    """Three days of one fan, with two levels of temperature under the roof and at the outlet."""
    steps = 3 * STEPS_A_DAY
    roof = [25.0 if step % 40 < 20 else 20.0 for step in range(steps)]
    outlet = [17.0 if step % 40 < 20 else 15.4 for step in range(steps)]
    temps = moving_air(25.0, 14.0, 17.0) | {
        "ceiling-west": roof,
        "ceiling-east": roof,
        "north-outlet": outlet,
    }
    return roof, outlet, series(temps, {"north": [1.0] * steps}, steps)


def test_heat_by_a_believed_outlet_is_exact():
    """Once an outlet is believed, heat is as by a moist-air table within 1 %."""
    roof, outlet, log = _two_levels()
    found = account(log, HOUSE, utc)
    by_hand_j = 0.0
    for roof_c, outlet_c in zip(roof, outlet, strict=True):
        kg_s = 0.30 / HAPropsSI("V", "T", roof_c + KELVIN, "P", PRESSURE_PA, "R", 0.0)
        by_hand_j += 600.0 * (kg_s * 1006.0 * (roof_c - outlet_c) + 120.0)
    assert "north" not in found.doubts
    assert found.whole.banked_j == pytest.approx(by_hand_j, rel=0.01)


def test_moisture_is_bounded_by_saturated_air():
    """The most that moisture may add is what saturated air sheds on its way to the outlet, within 2 %."""
    roof, outlet, log = _two_levels()
    heat = account(replace(log, temps=log.temps | {"bench": roof}), HOUSE, utc).whole
    by_hand_j = 0.0
    for roof_c, outlet_c in zip(roof, outlet, strict=True):
        kg_s = 0.30 / HAPropsSI("V", "T", roof_c + KELVIN, "P", PRESSURE_PA, "R", 0.0)
        wet = HAPropsSI("W", "T", roof_c + KELVIN, "P", PRESSURE_PA, "R", 1.0)
        dry = HAPropsSI("W", "T", outlet_c + KELVIN, "P", PRESSURE_PA, "R", 1.0)
        by_hand_j += 600.0 * kg_s * 2.454e6 * (wet - dry)
    assert heat.moisture_j == pytest.approx(by_hand_j, rel=0.02)
    assert heat.latent_share == (0.0, heat.moisture_j / (heat.moisture_j + heat.banked_j))


def test_the_error_of_a_probe_does_not_average_out():
    """Thirty days are as uncertain as three, as a share."""
    day, month = (
        account(
            series(moving_air(25.0, 14.0, 17.0), {"north": [1.0] * steps}, steps), HOUSE, utc
        ).whole.banked
        for steps in (3 * STEPS_A_DAY, 30 * STEPS_A_DAY)
    )
    assert month.half_width / month.value == pytest.approx(day.half_width / day.value, rel=0.01)
    assert day.half_width > 0.1 * day.value


def test_days_and_months_add_up():
    """What is accounted by day and loop, by month and in all is the same heat."""
    log = series(moving_air(25.0, 14.0, 17.0), dict.fromkeys(LOOPS, [1.0] * 900), 900)
    found = account(log, HOUSE, utc)
    whole = found.whole
    assert sum(heat.banked_j for heat in found.by_month().values()) == pytest.approx(whole.banked_j)
    assert sum(found.day(day).run_s for day in found.days) == pytest.approx(900 * 600 * 3)
    assert set(found.by_loop()) == set(LOOPS)


@pytest.mark.parametrize("shift_k", [-4.0, 4.0])
def test_a_bad_outlet_does_not_decide(shift_k):
    """An outlet probe that is 4 K off is named, and the heat of its loop stays within a tenth."""
    steps = 4 * STEPS_A_DAY
    roof = [26.0 - 6.0 * (step % 40 < 20) for step in range(steps)]
    outlet = [14.0 + 0.35 * (roof_c - 14.0) for roof_c in roof]
    temps = moving_air(25.0, 14.0, 17.0) | {"ceiling-west": roof, "ceiling-east": roof}
    temps |= {f"{loop}-outlet": outlet for loop in LOOPS}
    fans = dict.fromkeys(LOOPS, [1.0] * steps)
    sound = account(series(temps, fans, steps), HOUSE, utc)
    temps["south-outlet"] = [outlet_c + shift_k for outlet_c in outlet]
    broken = account(series(temps, fans, steps), HOUSE, utc)
    assert sound.doubts == {}
    assert list(broken.doubts) == ["south"]
    assert "outlet probe" in broken.doubts["south"]
    assert broken.by_loop()["south"].banked_j == pytest.approx(sound.by_loop()["south"].banked_j, rel=0.1)


def test_time_without_readings_moves_no_heat():
    """A fan that ran while nothing was read has its electricity, and no heat."""
    log = series({}, {"north": [1.0] * 6}, 6)
    heat = account(log, HOUSE, utc).whole
    assert (heat.electricity_j, heat.banked_j, heat.returned_j) == (3600.0 * 120.0, 0.0, 0.0)


def test_an_hourly_mean_is_reckoned_by_the_soil():
    """An outlet's hourly mean holds idle time as well, so it is not used."""
    steps = 3 * STEPS_A_DAY
    log = series(moving_air(25.0, 14.0, 24.0), {"north": [0.5] * steps}, steps)
    heat = account(replace(log, hourly=[True] * steps), HOUSE, utc).whole
    per_k_j = 0.5 * steps * 600.0 * HOUSE.derived.loops[0].air_w_per_k
    assert heat.banked_j > 4.0 * per_k_j


def test_stored_heat_is_volume_times_capacity_times_difference():
    """Ten kelvin in 0.8 m of moist silty clay below 135 m² are what de Vries' parts give, within a fifth."""
    found = stored_heat(series(moving_air(25.0, 18.0, 17.0), {}, STEPS_A_DAY), HOUSE, utc, 8.0)
    (first, *_) = found.values()
    solids, water = 0.508 * 1.926e6, 0.492 * 0.8 * 4.188e6  # J/m³K by parts (de Vries 1963)
    assert first.value == pytest.approx(135.0 * 0.8 * 10.0 * (solids + water), rel=0.01)
    assert first.low < 0.8 * first.value < 1.2 * first.value < first.high
