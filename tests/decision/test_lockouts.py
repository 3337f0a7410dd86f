"""What forbids a fan to run, rule by rule, with the words a person reads."""

from __future__ import annotations

import pytest

from controller.decision.lockouts import Stop, ceiling_stop, fire_stop, root_zone_stop, soil_stop, water_stop
from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import FireState, Lockout, PumpPhase, SumpState
from controller.readings.reading import Good, Missing, Why
from controller.units import TemperatureUnit

DRAIN_S = 1800.0
NOW_S = 10_000.0
SILENT = Missing(Why.SILENT, NOW_S - 90.0)
DRY = SumpState(PumpPhase.IDLE, Reason(ReasonCode.STARTED, {"rest_s": 0.0}), last_water_s=0.0)


def read(stop: Stop | None) -> tuple[Lockout, str]:
    """The lockout and its reason as a person reads it."""
    assert stop is not None
    return stop[0], stop[1].sentence(TemperatureUnit.CELSIUS)


def water(sump: SumpState) -> Stop | None:
    """What this sump's water stops, an unreadable float being cut off."""
    return water_stop("pit", sump, "cannot be read", DRAIN_S, NOW_S)


def test_a_fire_signature_stops_and_says_what_and_how_long_ago() -> None:
    """A latched fire names the signature and its age; without one nothing is stopped."""
    lockout, words = read(fire_stop(FireState("roof reads 70.0 °C", NOW_S - 120.0), NOW_S))
    assert lockout is Lockout.FIRE
    assert "roof reads 70.0 °C" in words
    assert "2 min" in words
    assert fire_stop(FireState(), NOW_S) is None


def test_standing_water_stops_and_says_since_when() -> None:
    """A wet float stops its fans and names the sump and how long it has been wet."""
    lockout, words = read(water(DRY._replace(wet_since_s=NOW_S - 180.0, last_water_s=NOW_S)))
    assert lockout is Lockout.FLOOD
    assert "pit" in words
    assert "3 min" in words


def test_a_float_that_cannot_be_read_stops_and_says_why() -> None:
    """An unreadable float stops its fans and names the sump, the cause and the time."""
    lockout, words = read(water(DRY._replace(unreadable_since_s=NOW_S - 240.0, last_water_s=NOW_S)))
    assert lockout is Lockout.FLOAT_UNREADABLE
    assert "pit" in words
    assert "cannot be read" in words
    assert "4 min" in words


def test_water_seen_counts_before_a_float_that_cannot_be_read() -> None:
    """A float known to be wet is a flood even if it could not be read before."""
    sump = DRY._replace(wet_since_s=NOW_S, unreadable_since_s=NOW_S, last_water_s=NOW_S)
    assert read(water(sump))[0] is Lockout.FLOOD


def test_tubes_drain_for_the_whole_of_their_time_and_not_longer() -> None:
    """Until drain-down is over the fans wait and a person reads what is left; at its end they are free."""
    lockout, words = read(water(DRY._replace(last_water_s=NOW_S - DRAIN_S + 60.0)))
    assert lockout is Lockout.DRAIN_DOWN
    assert "pit" in words
    assert "60 s" in words
    assert read(water(DRY._replace(last_water_s=NOW_S - DRAIN_S + 0.1)))[0] is Lockout.DRAIN_DOWN
    assert water(DRY._replace(last_water_s=NOW_S - DRAIN_S)) is None


def test_unknown_temperatures_stop_and_say_which() -> None:
    """Without a ceiling or a soil temperature the fan stops, with the cause and since when."""
    lockout, words = read(ceiling_stop(SILENT, NOW_S))
    assert lockout is Lockout.CEILING_UNKNOWN
    assert "does not answer" in words
    assert "90 s" in words
    lockout, words = read(soil_stop(Missing(Why.STALE, NOW_S - 60.0), NOW_S))
    assert lockout is Lockout.SOIL_UNKNOWN
    assert "has given nothing new" in words
    assert "60 s" in words


@pytest.mark.parametrize(
    ("ceiling_c", "soil_c", "root_c", "lockout"),
    [
        (30.0, 20.0, 26.0, Lockout.ROOT_ZONE_WARM),
        (30.0, 20.0, 25.9, None),
        (10.0, 20.0, 26.0, None),
        (20.0, 20.0, 26.0, None),
        (2.0, 12.0, 6.0, Lockout.ROOT_ZONE_COLD),
        (2.0, 12.0, 6.1, None),
        (20.0, 12.0, 6.0, None),
        (12.0, 12.0, 6.0, None),
    ],
)
def test_a_root_zone_at_its_limit_stops_only_heat_that_would_push_it_over(
    ceiling_c: float, soil_c: float, root_c: float, lockout: Lockout | None
) -> None:
    """Warm roots forbid charging and cold roots discharging, from the limit itself on, and nothing else."""
    stop = root_zone_stop(ceiling_c, soil_c, Good(root_c, NOW_S), 6.0, 26.0)
    assert (None if stop is None else stop[0]) is lockout
    if stop is not None:
        words = stop[1].sentence(TemperatureUnit.CELSIUS)
        assert f"{root_c:.1f} °C" in words


def test_the_soil_stands_in_for_a_root_zone_that_cannot_be_read() -> None:
    """Without a root-zone reading the soil at the tubes is held to both limits."""
    stops = [
        root_zone_stop(30.0, 26.0, SILENT, 6.0, 26.0),
        root_zone_stop(30.0, 25.0, SILENT, 6.0, 26.0),
        root_zone_stop(2.0, 6.0, SILENT, 6.0, 26.0),
        root_zone_stop(2.0, 7.0, SILENT, 6.0, 26.0),
    ]
    assert [None if stop is None else stop[0] for stop in stops] == [
        Lockout.ROOT_ZONE_WARM,
        None,
        Lockout.ROOT_ZONE_COLD,
        None,
    ]
