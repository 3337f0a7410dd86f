"""What forbids a fan to run, rule by rule: one table each of what is seen, and what it stops and says."""

from __future__ import annotations

from typing import Any

import pytest

from controller.decision.lockouts import (
    IntoSoil,
    Stop,
    ceiling_stop,
    cold_roots_stop,
    fire_stop,
    soil_stop,
    warm_roots_stop,
    water_stop,
)
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Doubt, FireState, Lockout, PumpPhase, SumpState
from controller.readings.reading import Good, Missing, Reading, Why

DRAIN_S = 1800.0
NOW_S = 10_000.0
SILENT = Missing(Why.SILENT, NOW_S - 90.0)
DRY = SumpState(PumpPhase.IDLE, Reason(ReasonCode.STARTED, {"rest_s": 0.0}), last_water_s=0.0)


def stops(stop: Stop | None, lockout: Lockout | None, **numbers: float | str) -> bool:
    """Whether this is the lockout, its reason is of the same name, and these are among its numbers."""
    if stop is None or lockout is None:
        return stop is lockout
    found, reason = stop
    return found is lockout and reason.code.name == lockout.name and numbers.items() <= reason.numbers.items()


def test_a_fire_signature_stops_and_says_what_and_how_long_ago() -> None:
    """A latched fire names the signature and its age; without one nothing is stopped."""
    latched = fire_stop(FireState("roof reads 70.0 °C", NOW_S - 120.0), NOW_S)
    assert stops(latched, Lockout.FIRE, detail="roof reads 70.0 °C", for_s=120.0)
    assert fire_stop(FireState(), NOW_S) is None


@pytest.mark.parametrize(
    ("seen", "lockout", "numbers"),
    [
        ({"wet_since_s": NOW_S - 180.0}, Lockout.FLOOD, {"for_s": 180.0}),
        ({"unreadable_since_s": NOW_S - 240.0}, Lockout.FLOAT_UNREADABLE, {"for_s": 240.0, "why": "cut"}),
        ({"wet_since_s": NOW_S, "unreadable_since_s": NOW_S}, Lockout.FLOOD, {}),  # water that was seen
        ({"last_water_s": NOW_S - DRAIN_S + 60.0}, Lockout.DRAIN_DOWN, {"left_s": 60.0}),
        ({"last_water_s": NOW_S - DRAIN_S + 0.1}, Lockout.DRAIN_DOWN, {}),
        ({"last_water_s": NOW_S - DRAIN_S}, None, {}),
        ({"last_water_s": NOW_S, "doubt": Doubt.STARTED}, Lockout.JUST_STARTED, {"left_s": DRAIN_S}),
        ({"last_water_s": NOW_S, "doubt": Doubt.BLIND}, Lockout.FLOAT_BACK, {"left_s": DRAIN_S}),
        ({}, None, {}),
    ],
)
def test_water_and_what_may_be_water_stops(
    seen: dict[str, Any], lockout: Lockout | None, numbers: dict[str, float | str]
) -> None:
    """A wet float, one that cannot be read, and tubes until their drain-down is over, each with its sump."""
    stop = water_stop("pit", DRY._replace(**seen), "cut", DRAIN_S, NOW_S)
    assert stops(stop, lockout, **({"sump": "pit"} | numbers if lockout else {}))


def test_unknown_temperatures_stop_and_say_why_and_since_when() -> None:
    """Without a ceiling or a soil temperature a fan cannot be judged."""
    assert stops(ceiling_stop(SILENT, NOW_S), Lockout.CEILING_UNKNOWN, why=Why.SILENT.value, for_s=90.0)
    stale = Missing(Why.STALE, NOW_S - 60.0)
    assert stops(soil_stop(stale, NOW_S), Lockout.SOIL_UNKNOWN, why=Why.STALE.value, for_s=60.0)


ROOTS, TUBES = "the root zone", f"the soil at the tubes (the root-zone probe {SILENT.why.value})"


@pytest.mark.parametrize("rescue", [False, True])
@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "root", "place", "now_c"),
    [
        (30.0, 20.0, Good(26.0, NOW_S), ROOTS, 26.0),
        (30.0, 20.0, Good(25.9, NOW_S), None, None),
        (10.0, 20.0, Good(26.0, NOW_S), None, None),
        (20.0, 20.0, Good(26.0, NOW_S), None, None),
        (30.0, 26.0, SILENT, TUBES, 26.0),
        (30.0, 25.9, SILENT, None, None),
        (30.0, 29.0, Good(25.9, NOW_S), None, None),  # the probe counts where it can be read
    ],
)
def test_warm_roots_stop_only_heat_that_would_push_them_over(
    ceiling_c: float, soil_c: float, root: Reading, place: str | None, now_c: float | None, rescue: bool
) -> None:
    """From the limit itself on, with what is judged in its place, and what the run would have moved."""
    run = IntoSoil(ceiling_c, soil_c, 4000.0, 120.0)
    stop = warm_roots_stop(run, root, 26.0, rescue=rescue)
    if place is None or now_c is None:
        assert stop is None
        return
    numbers = {"place": place, "now_c": now_c, "limit_c": 26.0, "heat_w": 4000.0, "power_w": 120.0}
    assert stops(stop, Lockout.ROOT_ZONE_HOT if rescue else Lockout.ROOT_ZONE_WARM, **numbers)


@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "root", "place", "now_c"),
    [
        (2.0, 12.0, Good(6.0, NOW_S), ROOTS, 6.0),
        (2.0, 12.0, Good(6.1, NOW_S), None, None),
        (20.0, 12.0, Good(6.0, NOW_S), None, None),
        (12.0, 12.0, Good(6.0, NOW_S), None, None),
        (2.0, 6.0, SILENT, TUBES, 6.0),
        (2.0, 6.1, SILENT, None, None),
    ],
)
def test_cold_roots_stop_only_heat_that_is_taken_from_them(
    ceiling_c: float, soil_c: float, root: Reading, place: str | None, now_c: float | None
) -> None:
    """From the limit itself on, with what is judged in its place."""
    stop = cold_roots_stop(ceiling_c, soil_c, root, 6.0)
    if place is None or now_c is None:
        assert stop is None
        return
    assert stops(stop, Lockout.ROOT_ZONE_COLD, place=place, now_c=now_c, limit_c=6.0)
