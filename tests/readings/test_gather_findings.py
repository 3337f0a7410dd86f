"""What a snapshot finds wrong with the probes and their bus."""

from __future__ import annotations

import pytest

from controller.faults import FaultCode, Finding
from controller.readings.reading import Good, Missing, RawSample, RawTemperature, Why
from tests.readings.conftest import house, probe_table
from tests.readings.gathering import EVERY_S, House


def test_probes_that_were_never_read_say_so_and_are_named_after_five_minutes(quiet: House) -> None:
    """From the first tick on a probe without a sample is unread; after five minutes a person hears of it."""
    for at_s, named in ((5.0, False), (305.0, False), (305.1, True)):
        raw: dict[str, RawSample] = {"outdoor": RawTemperature(15.0, at_s)}
        snapshot = quiet.gatherer.gather(raw, {}, at_s, quiet.judging)
        assert snapshot.bench == snapshot.probes["bench"] == Missing(Why.NEVER_READ, 5.0)
        assert (Finding(FaultCode.PROBE, "bench", "has not been read yet") in snapshot.findings) is named


def test_one_silent_probe_is_named_while_its_value_holds(quiet: House) -> None:
    """After three failures the probe is named in plain words; the other ceiling probe speaks alone."""
    quiet.tick(2)
    quiet.failing = {"ceiling-east": Why.SILENT}
    quiet.value_c["ceiling-west"] = 18.0
    assert quiet.tick(2).findings == ()
    snapshot = quiet.tick()
    assert snapshot.findings == (Finding(FaultCode.PROBE, "ceiling-east", "does not answer"),)
    snapshot = quiet.tick(3)
    assert snapshot.ceiling == Good(18.0, quiet.now_s)
    quiet.failing = {}
    assert quiet.tick(2).findings == ()


def test_noisy_cable_is_named(quiet: House) -> None:
    """A probe that often answers with damaged data is named although its reading is good."""
    for _ in range(60):
        quiet.failing = {"bench": Why.NOISY}
        quiet.tick()
        quiet.failing = {}
        snapshot = quiet.tick(5)
    assert isinstance(snapshot.bench, Good)
    (finding,) = snapshot.findings
    assert finding == Finding(FaultCode.PROBE, "bench", "answers with damaged data, or not at all, too often")


def test_two_probes_of_zeros_are_a_shorted_bus_at_once(quiet: House) -> None:
    """Two probes with nothing but zeros make a bus fault that hides what it explains."""
    quiet.tick(2)
    quiet.failing = {"bench": Why.SILENT}
    quiet.tick(3)
    quiet.failing |= {"outdoor": Why.ALL_ZERO, "north-soil": Why.ALL_ZERO}
    snapshot = quiet.tick()
    zeros = "several probes answer with nothing but zeros at once"
    assert snapshot.findings == (Finding(FaultCode.BUS, detail=zeros),)


def test_two_probes_are_enough_to_tell_of_their_bus() -> None:
    """In a house with two probes, zeros of both are a short at once, and silence of both a lost bus."""
    two = House(house({name: probe_table()[name] for name in ("bench", "north-soil")}))
    two.tick(2)
    two.failing = dict.fromkeys(two.value_c, Why.ALL_ZERO)
    assert [(f.code, f.subject) for f in two.tick().findings] == [(FaultCode.BUS, "")]
    two.failing = {}
    assert two.tick().findings == ()
    two.failing = dict.fromkeys(two.value_c, Why.SILENT)
    assert [(f.code, f.subject) for f in two.tick(3).findings] == [(FaultCode.BUS, "")]


def test_one_probe_of_zeros_is_its_own_fault(quiet: House) -> None:
    """A single probe with zeros does not accuse the bus."""
    quiet.tick(2)
    quiet.failing = {"outdoor": Why.ALL_ZERO}
    (finding,) = quiet.tick(3).findings
    assert (finding.code, finding.subject) == (FaultCode.PROBE, "outdoor")


def test_all_probes_gone_are_one_bus_fault(quiet: House) -> None:
    """When every probe fails, one finding names the bus and none a probe; it ends when they return."""
    quiet.tick(2)
    quiet.failing = dict.fromkeys(quiet.value_c, Why.SILENT)
    (finding,) = quiet.tick(3).findings
    assert (finding.code, finding.subject) == (FaultCode.BUS, "")
    quiet.failing = {}
    assert quiet.tick(2).findings == ()


def test_lone_probe_that_fails_is_a_probe_fault() -> None:
    """With a single probe a dead bus looks like a dead probe, so the probe is named."""
    one = House(house({"bench": {"id": "28-00000000000a", "place": "bench"}}))
    one.failing = {"bench": Why.SILENT}
    (finding,) = one.tick(3).findings
    assert (finding.code, finding.subject) == (FaultCode.PROBE, "bench")


def test_soil_and_ceiling_swapped() -> None:
    """A soil that moves with the day while the ceiling stands still is named; it clears when put right."""
    fitted = ("ceiling-east", "ceiling-west", "north-soil", "middle-soil", "south-root-zone")
    quiet = House(house({name: probe_table()[name] for name in fitted}))
    named = Finding(
        FaultCode.PROBE, "north-soil", "moves with the day more than the ceiling does (probes swapped?)"
    )
    for swapped, days in ((True, 3), (False, 4)):
        for minute in range(0, days * 24 * 60, 10):
            air_c = 20.0 + abs(minute % 1440 - 720) / 72.0
            soil_c = 14.0 + minute % 100 / 100.0
            quiet.now_s += 600.0 - EVERY_S
            quiet.value_c |= dict.fromkeys(("ceiling-east", "ceiling-west"), soil_c if swapped else air_c)
            quiet.value_c["north-soil"] = air_c if swapped else soil_c
            quiet.value_c |= {"south-root-zone": soil_c, "middle-soil": soil_c}
            snapshot = quiet.tick()
        assert snapshot.findings == ((named,) if swapped else ())


def test_frozen_probe_is_found_among_thirteen(quiet: House) -> None:
    """An air probe that stands still for more than six hours while the others move is named."""
    for step in range(4 * 60 * 7):
        moving_c = 15.0 + abs(step % 480 - 240) / 40.0
        quiet.value_c = {name: moving_c for name in quiet.value_c if name != "bench"} | {"bench": 18.0}
        snapshot = quiet.tick()
    assert isinstance(snapshot.bench, Missing)
    assert snapshot.bench.why is Why.STUCK
    assert [(f.code, f.subject) for f in snapshot.findings] == [(FaultCode.PROBE, "bench")]


@pytest.mark.parametrize(
    ("still", "moving", "stuck"),
    [
        ("north-soil", "south-soil", True),
        ("north-soil", "south-root-zone", True),
        ("north-soil", "south-outlet", False),
        ("north-soil", "ceiling-east", False),
        ("north-outlet", "south-outlet", True),
        ("north-outlet", "bench", False),
        ("bench", "ceiling-east", True),
        ("bench", "outdoor", True),
        ("outdoor", "bench", True),
    ],
)
def test_a_probe_is_compared_with_its_own_kind_only(
    quiet: House, still: str, moving: str, *, stuck: bool
) -> None:
    """A probe that stands still for weeks is frozen if its like moved: air beside air, soil beside soil."""
    for step in range(16 * 4):
        quiet.now_s += 6 * 3600.0
        quiet.value_c[moving] = 15.0 + step % 2 * 2.0
        snapshot = quiet.tick()
    frozen = Finding(FaultCode.PROBE, still, "shows the same value while the others change")
    assert (frozen in snapshot.findings) is stuck
