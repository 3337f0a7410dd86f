"""What the readings tests share: a house with thirteen probes, three loops and one sump."""

from __future__ import annotations

import pytest

from controller.settings.schema import Judging, Settings
from tests.readings.gathering import House

LOOPS = {"north": 17, "middle": 27, "south": 22}


def probe_table() -> dict[str, dict[str, object]]:
    """Thirteen probes: two ceiling, bench, outdoor, and three for each loop."""
    places: list[tuple[str, str, str | None]] = [
        ("ceiling-east", "ceiling", None),
        ("ceiling-west", "ceiling", None),
        ("bench", "bench", None),
        ("outdoor", "outdoor", None),
    ]
    for loop in LOOPS:
        places += [(f"{loop}-{place}", place, loop) for place in ("soil", "root-zone", "outlet")]
    table: dict[str, dict[str, object]] = {}
    for number, (name, place, loop) in enumerate(places):
        table[name] = {"id": f"28-{number:012x}", "place": place}
        if loop:
            table[name]["loop"] = loop
    return table


def house(probes: dict[str, dict[str, object]] | None = None) -> Settings:
    """Settings of the house, with other probes if given."""
    loop = {
        "sump": "main", "flow": "0.30 m3/s", "power": "120 W", "tubes": 24,
        "tube_length": "9 m", "tube_diameter": "80 mm", "depth": "0.8 m",
    }  # fmt: skip
    return Settings.model_validate(
        {
            "site": {"name": "fellside"},
            "loops": {name: {"fan_pin": pin, **loop} for name, pin in LOOPS.items()},
            "sumps": {"main": {"float_pin": 5, "pump_pin": 6}},
            "probes": probes or probe_table(),
        }
    )


@pytest.fixture(name="settings")
def _settings() -> Settings:
    """The house with thirteen probes."""
    return house()


@pytest.fixture
def judging() -> Judging:
    """Judging as it is by default."""
    return Judging()


@pytest.fixture
def quiet(settings: Settings) -> House:
    """A healthy house."""
    return House(settings)
