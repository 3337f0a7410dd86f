"""A house that loses its warmth on a cold night: a door or vent that was left open."""

from __future__ import annotations

import pytest

from controller.decision.state import ControllerState, Demand, Proof
from controller.diagnosis.house_shut import NO_NIGHTS, HouseWatch, house_findings, watched_house
from controller.readings.reading import Why
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, HOUSE, World

QUARTER_S = 900.0
SHUT, OPEN = (5.0, 5.2), (2.0, 3.5)  # bench and roof at 0 °C outdoors and 12 °C in the soil


class House:
    """Nights that a test makes up, a look every quarter of an hour."""

    def __init__(self) -> None:
        self.world = World(settle=False)
        self.world.outdoor_c = 0.0
        self.world.soil_c = dict.fromkeys(HOUSE.loops, 12.0)
        self.watch: HouseWatch = NO_NIGHTS
        self.state: ControllerState = self.world.state
        self.now_s = 0.0

    def running(self, count: int, proof: Proof = Proof.PROVEN) -> None:
        """So many fans warm the house, the others stand."""
        fans = {
            name: fan._replace(demand=Demand.HEAT if at < count else None, proof=proof)
            for at, (name, fan) in enumerate(self.world.state.fans.items())
        }
        self.state = self.world.state._replace(fans=fans)

    def hours(self, count: float, air: tuple[float, float], hour: float = 23.0) -> bool:
        """Let hours of the night pass with this bench and roof; whether the house then counts as open."""
        self.world.bench_c, self.world.ceiling_c = air
        for _ in range(round(count * HOUR_S / QUARTER_S)):
            self.now_s += QUARTER_S
            self.watch = watched_house(
                self.watch, self.world.snapshot(), self.state, HOUSE.setpoints, hour, self.now_s
            )
        return bool(list(house_findings(self.watch, TemperatureUnit.CELSIUS)))


@pytest.mark.parametrize("fans", [0, 1, 3])
def test_an_open_door_is_named_within_two_hours_and_no_more_once_it_is_shut(fans: int) -> None:
    """Less of the usual warmth and a roof warmer than the bench, at any number of running fans."""
    house = House()
    house.running(fans)
    assert not house.hours(5.0, SHUT)
    assert house.hours(2.0, OPEN)
    assert not house.hours(1.5, SHUT)


@pytest.mark.parametrize(
    ("air", "fans"),
    [((3.0, 3.2), 0), ((5.0, 6.5), 0), ((4.6, 4.9), 3)],
    ids=["wind takes warmth and mixes", "the roof alone is warm", "a little less with fans"],
)
def test_what_wind_and_clouds_do_is_not_named(air: tuple[float, float], fans: int) -> None:
    """One sign alone, or a little of both, is the weather."""
    house = House()
    house.running(fans)
    house.hours(5.0, SHUT)
    assert not house.hours(3.0, air)


def test_nothing_is_said_where_it_cannot_be_known() -> None:
    """By day, in mild air, before anything is usual, without an outdoor probe, with fans not proven."""

    def looked(**changed: object) -> bool:
        house = House()
        house.hours(0.0 if "new" in changed else 5.0, SHUT)
        if "proof" in changed:
            house.running(1, Proof.WEAK)
        house.world.outdoor_c = changed.get("outdoor", 0.0)  # type: ignore[assignment]
        return house.hours(2.0, OPEN, hour=float(str(changed.get("hour", 23.0))))

    assert looked()
    assert not looked(hour=7.0)
    assert not looked(outdoor=11.0)
    assert not looked(outdoor=Why.SILENT)
    assert not looked(new=True)
    assert not looked(proof=True)


def test_a_single_night_with_an_open_door_does_not_become_usual() -> None:
    """Nine hours of it teach little: the next night is named as well, with the numbers."""
    house = House()
    house.hours(5.0, SHUT)
    house.hours(9.0, OPEN)
    assert house.hours(2.0, OPEN)
    (found,) = house_findings(house.watch, TemperatureUnit.CELSIUS)
    assert found.detail.startswith("the bench is only 2.0 K warmer than outdoors; 4.")
