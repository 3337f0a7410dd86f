"""How hot moist air feels, against the table that the weather service prints."""

from __future__ import annotations

import pytest

from controller.physics.heat_index import heat_index_c, heat_risk

# US National Weather Service, heat index chart [memory]: air in °F, relative humidity in %, heat index in °F.
CHART = [
    (80, 40, 80),
    (90, 50, 95),
    (90, 70, 105),
    (94, 60, 110),
    (100, 40, 109),
    (100, 60, 129),
    (86, 90, 105),
]


@pytest.mark.parametrize(("air_f", "humidity", "felt_f"), CHART)
def test_it_agrees_with_the_printed_chart(air_f: float, humidity: float, felt_f: float) -> None:
    """Within the 1.3 °F that the service gives for its regression, and half a degree of rounding."""
    assert 1.8 * heat_index_c((air_f - 32.0) / 1.8, humidity) + 32.0 == pytest.approx(felt_f, abs=1.8)


@pytest.mark.parametrize(
    ("air_c", "humidity", "risk"),
    [(20.0, 95.0, None), (30.0, 50.0, None), (32.0, 70.0, "high"), (38.0, 70.0, "extreme")],
)
def test_the_risk_for_people_is_named_where_work_must_stop(
    air_c: float, humidity: float, risk: str | None
) -> None:
    """A house at 32 °C and 70 % is a high risk already, long before the crop suffers."""
    assert heat_risk(air_c, humidity) == risk
