"""With contacts fitted, every motor that does not follow is reported within a minute, in any season."""

from __future__ import annotations

from datetime import datetime

import pytest

from controller.rehearsal.run import Rehearsal, rehearse
from controller.settings.load import parse
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import ScriptedFault
from tests.settings.edit import HOUSE_TEXT, with_options

pytestmark = pytest.mark.rehearsal
ALL_FITTED = parse(
    with_options(HOUSE_TEXT)
    .replace("fan_pin = 27", "fan_pin = 27\nfeedback_pin = 6")
    .replace("fan_pin = 22", "fan_pin = 22\nfeedback_pin = 13")
)
BURST = ScriptedFault(FaultKind.CLOUDBURST, "main", 0.0, 4 * 3600.0)


WELDED = (
    ScriptedFault(FaultKind.FAN_WELDED, "north", 300.0),
    ScriptedFault(FaultKind.PUMP_WELDED, "main", 300.0),
)


def first_at_s(*faults: ScriptedFault, month: int, days: float, pace_s: float = 10.0) -> dict[str, float]:
    """When each alarm was first raised, in s after the start; no promise is broken."""
    day = datetime(2026, month, 20)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
    found = rehearse(Rehearsal(ALL_FITTED, "carolina", day, days, faults=faults, pace_s=pace_s)).summary
    assert found.promises.broken == []
    raised = {code: datetime.fromisoformat(sums.first_at) for code, sums in found.alarms.items()}
    return {code: (at - day.replace(tzinfo=at.tzinfo)).total_seconds() for code, at in raised.items()}


@pytest.mark.parametrize("month", [1, 7])
def test_a_motor_that_runs_unasked_is_reported_within_a_minute(month: int) -> None:
    """Welded contactors show at rest, whatever the weather; in a sound house there is no such alarm."""
    raised = first_at_s(*WELDED, month=month, days=0.02)
    assert 300.0 <= raised["fan-unasked"] <= 360.0
    assert 300.0 <= raised["pump-unasked"] <= 360.0
    assert first_at_s(month=month, days=0.02) == {}


def test_a_dead_pump_shows_at_its_contact_and_a_stuck_float_at_the_one_above_it() -> None:
    """Water calls the pump, which stands; stuck dry, the first float says nothing, and the second calls."""
    dead = first_at_s(ScriptedFault(FaultKind.PUMP_DEAD, "main", 0.0), BURST, month=7, days=0.25, pace_s=60.0)
    assert dead["pump-stands"] < dead["high-water"] < dead["sump-not-emptying"]
    stuck = ScriptedFault(FaultKind.FLOAT_STUCK_DRY, "main", 0.0)
    assert "high-water" in first_at_s(stuck, BURST, month=7, days=0.25, pace_s=60.0)


@pytest.mark.parametrize(
    ("kind", "alarm"), [(FaultKind.SUPPLY_GONE, "supply-gone"), (FaultKind.VOLTAGE_LOW, "voltage-low")]
)
def test_a_supply_that_fails_is_reported_within_a_minute(kind: FaultKind, alarm: str) -> None:
    """By the relay on the motors' supply, and by what the kernel says of the board's."""
    raised = first_at_s(ScriptedFault(kind, "", 300.0), month=1, days=0.01)
    assert 300.0 <= raised[alarm] <= 360.0
