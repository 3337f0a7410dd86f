"""From raw samples and looks to one snapshot with findings."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from controller.faults import FaultCode, Finding
from controller.readings.gather import Gatherer
from controller.readings.reading import (
    Good,
    Level,
    Missing,
    RawFailure,
    RawLevel,
    RawSample,
    RawTemperature,
    Why,
)
from tests.readings.conftest import house, probe_table

if TYPE_CHECKING:
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Judging, Settings

EVERY_S = 15.0


class House:
    """A gatherer and a house around it: all probes at 15 °C and a dry sump, unless told otherwise."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.judging: Judging = settings.judging
        self.gatherer = Gatherer(settings)
        self.now_s = 1000.0
        self.value_c: dict[str, float] = dict.fromkeys(settings.probes, 15.0)
        self.failing: dict[str, Why] = {}
        self.level: Level | None = Level.DRY

    def tick(self, times: int = 1) -> Snapshot:
        """New samples of all probes and a look at the float."""
        for _ in range(times):
            self.now_s += EVERY_S
            raw: dict[str, RawSample] = {
                name: RawTemperature(value_c, self.now_s) for name, value_c in self.value_c.items()
            }
            raw |= {name: RawFailure(cause, self.now_s) for name, cause in self.failing.items()}
            looks = {"main": [RawLevel(self.level, self.now_s)]}
            snapshot = self.gatherer.gather(raw, looks, self.now_s, self.judging)
        return snapshot


@pytest.fixture
def quiet(settings: Settings) -> House:
    """A healthy house."""
    return House(settings)


def test_healthy_house(quiet: House) -> None:
    """Every place has its reading, the sump its level, and nothing is found wrong."""
    quiet.value_c |= {"ceiling-east": 30.0, "ceiling-west": 32.0, "bench": 27.0, "outdoor": 8.0}
    quiet.value_c |= {"north-soil": 14.0, "north-root-zone": 16.0, "north-outlet": 18.0}
    snapshot = quiet.tick(2)
    at_s = quiet.now_s
    assert snapshot.ceiling == Good(31.0, at_s)
    assert snapshot.bench == Good(27.0, at_s)
    assert snapshot.outdoor == Good(8.0, at_s)
    north = snapshot.loops["north"]
    assert (north.soil, north.root_zone, north.outlet) == (
        Good(14.0, at_s),
        Good(16.0, at_s),
        Good(18.0, at_s),
    )
    assert set(snapshot.loops) == {"north", "middle", "south"}
    assert snapshot.sumps == {"main": Good(Level.DRY, at_s)}
    assert snapshot.probes["ceiling-west"] == Good(32.0, at_s)
    assert list(snapshot.probes) == list(quiet.settings.probes)
    assert snapshot.findings == ()


def test_places_without_probes_are_not_fitted() -> None:
    """A house with only what is needed says so about the rest."""
    few = {name: probe for name, probe in probe_table().items() if name in {"bench", "north-soil"}}
    snapshot = House(house(few)).tick(2)
    not_fitted = Missing(Why.NOT_FITTED, 0.0)
    assert (snapshot.ceiling, snapshot.outdoor) == (not_fitted, not_fitted)
    assert snapshot.loops["north"].outlet == snapshot.loops["south"].soil == not_fitted
    assert isinstance(snapshot.bench, Good)
    assert snapshot.findings == ()


def test_what_others_say_is_handed_on(quiet: House) -> None:
    """Findings of others come after the readings' own; cleared faults and the date pass unchanged."""
    quiet.level = None
    other = Finding(FaultCode.STORAGE, detail="disk full")
    wall = datetime(2026, 5, 1, tzinfo=UTC)
    cleared = frozenset({FaultCode.FIRE})
    looks = {"main": [RawLevel(None, 5.0)]}
    snapshot = quiet.gatherer.gather(
        {}, looks, 5.0, quiet.judging, findings=(other,), cleared=cleared, wall_utc=wall
    )
    assert snapshot.findings == (Finding(FaultCode.FLOAT, "main", "cannot be read"), other)
    assert (snapshot.cleared, snapshot.wall_utc) == (cleared, wall)


def test_old_snapshots_never_change(quiet: House) -> None:
    """What was handed out earlier stays as it was."""
    first = quiet.tick(2)
    before = (dict(first.probes), dict(first.loops), dict(first.sumps))
    quiet.value_c = dict.fromkeys(quiet.value_c, 16.0)
    quiet.tick()
    assert (dict(first.probes), dict(first.loops), dict(first.sumps)) == before


def test_unchanged_samples_reuse_the_readings(quiet: House) -> None:
    """With nothing new the same readings are handed out again, not copies."""
    quiet.tick(2)
    raw = {name: RawTemperature(15.0, 5000.0) for name in quiet.value_c}
    first = quiet.gatherer.gather(raw, {}, 5000.0, quiet.judging)
    second = quiet.gatherer.gather(raw, {}, 5010.0, quiet.judging)
    assert second.probes is first.probes
    assert second.loops is first.loops
    assert second.ceiling is first.ceiling


def test_readings_expire_without_news(quiet: House) -> None:
    """When the source falls silent altogether, air is gone after minutes and soil after hours."""
    quiet.tick(2)
    raw = {name: RawTemperature(15.0, 2000.0) for name in quiet.value_c}
    quiet.gatherer.gather(raw, {}, 2000.0, quiet.judging)
    at_end = quiet.gatherer.gather(raw, {}, 2300.0, quiet.judging)
    assert isinstance(at_end.ceiling, Good)
    later = quiet.gatherer.gather(raw, {}, 2300.1, quiet.judging)
    assert later.ceiling == Missing(Why.STALE, 2000.0)
    assert later.bench == Missing(Why.STALE, 2000.0)
    assert isinstance(later.loops["south"].soil, Good)
    assert later.loops["south"].outlet == Missing(Why.STALE, 2000.0)
    last = quiet.gatherer.gather(raw, {}, 2000.0 + 6 * 3600.0 + 1.0, quiet.judging)
    assert last.loops["south"].soil == Missing(Why.STALE, 2000.0)
    assert Finding(FaultCode.BUS, detail="all probes failed together") in last.findings


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
    assert (finding.code, finding.subject) == (FaultCode.PROBE, "bench")
    assert "too often" in finding.detail


def test_two_probes_of_zeros_are_a_shorted_bus_at_once(quiet: House) -> None:
    """Two probes with nothing but zeros make a bus fault that hides what it explains."""
    quiet.tick(2)
    quiet.failing = {"bench": Why.SILENT}
    quiet.tick(3)
    quiet.failing |= {"outdoor": Why.ALL_ZERO, "north-soil": Why.ALL_ZERO}
    snapshot = quiet.tick()
    (finding,) = snapshot.findings
    assert finding.code is FaultCode.BUS
    assert "zeros" in finding.detail


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
    """With a single probe nobody can tell the bus from the probe, so the probe is named."""
    one = House(house({"bench": {"id": "28-00000000000a", "place": "bench"}}))
    one.failing = {"bench": Why.SILENT}
    (finding,) = one.tick(3).findings
    assert (finding.code, finding.subject) == (FaultCode.PROBE, "bench")


def test_ceilings_in_dispute(quiet: House) -> None:
    """Two ceilings in dispute hold what they agreed on, then give nothing; both are named."""
    quiet.tick(2)
    agreed_at_s = quiet.now_s
    quiet.value_c["ceiling-west"] = 22.0
    snapshot = quiet.tick()
    assert snapshot.ceiling == Good(15.0, agreed_at_s)
    assert [finding.subject for finding in snapshot.findings] == ["ceiling-east", "ceiling-west"]
    assert snapshot.probes["ceiling-west"] == Good(22.0, quiet.now_s)
    snapshot = quiet.tick(20)
    assert isinstance(snapshot.ceiling, Missing)
    assert snapshot.ceiling.why is Why.OUTVOTED
    quiet.value_c["ceiling-west"] = 15.0
    snapshot = quiet.tick(2)
    assert snapshot.ceiling == Good(15.0, quiet.now_s)
    assert snapshot.findings == ()


def test_wider_spread_ends_a_dispute_at_once(quiet: House) -> None:
    """Reloaded settings that allow more spread settle a dispute without new samples."""
    raw: dict[str, RawSample] = {name: RawTemperature(15.0, 2000.0) for name in quiet.value_c}
    raw["ceiling-west"] = RawTemperature(22.0, 2000.0)
    assert isinstance(quiet.gatherer.gather(raw, {}, 2000.0, quiet.judging).ceiling, Missing)
    wider = type(quiet.judging).model_validate({"vote_spread": "10 K"})
    assert quiet.gatherer.gather(raw, {}, 2000.0, wider).ceiling == Good(18.5, 2000.0)


def test_soil_and_ceiling_swapped(quiet: House) -> None:
    """A soil that moves with the day while the ceiling stands still is named; it clears when put right."""
    for swapped, days in ((True, 3), (False, 4)):
        for minute in range(days * 24 * 60):
            air_c = 20.0 + abs(minute % 1440 - 720) / 72.0
            soil_c = 14.0 + minute % 100 / 100.0
            quiet.now_s += 60.0 - EVERY_S
            quiet.value_c |= dict.fromkeys(("ceiling-east", "ceiling-west"), soil_c if swapped else air_c)
            quiet.value_c["north-soil"] = air_c if swapped else soil_c
            quiet.value_c |= {"south-soil": soil_c, "middle-soil": soil_c}
            snapshot = quiet.tick()
        subjects = [finding.subject for finding in snapshot.findings if "swapped" in finding.detail]
        assert subjects == (["north-soil"] if swapped else [])


def test_dispute_ends_its_hold_without_new_samples(quiet: House) -> None:
    """The agreed value of a dispute ends with its hold time even if no sample arrives."""
    quiet.tick(2)
    agreed_at_s = quiet.now_s
    raw: dict[str, RawSample] = {n: RawTemperature(15.0, agreed_at_s + 250.0) for n in quiet.value_c}
    raw["ceiling-west"] = RawTemperature(22.0, agreed_at_s + 250.0)
    held = quiet.gatherer.gather(raw, {}, agreed_at_s + 250.0, quiet.judging)
    assert held.ceiling == Good(15.0, agreed_at_s)
    over = quiet.gatherer.gather(raw, {}, agreed_at_s + 301.0, quiet.judging)
    assert over.ceiling == Missing(Why.OUTVOTED, agreed_at_s + 250.0)


def test_frozen_probe_is_found_among_thirteen(quiet: House) -> None:
    """An air probe that stands still for more than six hours while the others move is named."""
    for step in range(4 * 60 * 7):
        moving_c = 15.0 + abs(step % 480 - 240) / 40.0
        quiet.value_c = {name: moving_c for name in quiet.value_c if name != "bench"} | {"bench": 18.0}
        snapshot = quiet.tick()
    assert isinstance(snapshot.bench, Missing)
    assert snapshot.bench.why is Why.STUCK
    assert [(f.code, f.subject) for f in snapshot.findings] == [(FaultCode.PROBE, "bench")]


def test_float_findings(quiet: House) -> None:
    """An unreadable float and a bouncing one are told apart; a level that settles says when."""
    quiet.tick(2)
    assert quiet.gatherer.settles_at_mono_s is None
    quiet.level = Level.WET
    quiet.tick()
    assert quiet.gatherer.settles_at_mono_s == pytest.approx(quiet.now_s + 0.2)
    quiet.level = None
    assert quiet.tick().findings == (Finding(FaultCode.FLOAT, "main", "cannot be read"),)
    quiet.level = Level.DRY
    quiet.tick(2)
    at_s = quiet.now_s
    looks = [RawLevel(Level.DRY if n % 2 else Level.WET, at_s + 0.1 * n) for n in range(1, 11)]
    snapshot = quiet.gatherer.gather({}, {"main": looks}, at_s + 1.0, quiet.judging)
    assert snapshot.findings == (Finding(FaultCode.FLOAT_CHATTER, "main", "bounces between wet and dry"),)
    assert snapshot.sumps["main"] == Good(Level.WET, at_s + 1.0)


def test_new_judging_counts_from_the_next_tick(quiet: House) -> None:
    """Reloaded settings shorten a hold time at once, for samples that are already there."""
    quiet.tick(2)
    raw = {name: RawTemperature(15.0, 2000.0) for name in quiet.value_c}
    assert isinstance(quiet.gatherer.gather(raw, {}, 2100.0, quiet.judging).bench, Good)
    stricter = type(quiet.judging).model_validate({"air_hold": "1 min"})
    assert quiet.gatherer.gather(raw, {}, 2100.0, stricter).bench == Missing(Why.STALE, 2000.0)
