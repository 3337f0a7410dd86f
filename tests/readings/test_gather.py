"""From raw samples and looks to one snapshot."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from controller.faults import FaultCode, Finding
from controller.readings.gather import Gatherer
from controller.readings.reading import Good, Level, Missing, RawLevel, RawSample, RawTemperature, Why
from tests.readings.conftest import house, probe_table
from tests.readings.gathering import House

if TYPE_CHECKING:
    from controller.settings.schema import Settings


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
    quiet = House(house(few))
    assert quiet.gatherer.settles_at_mono_s is None, "before the first look"
    snapshot = quiet.tick(2)
    not_fitted = Missing(Why.NOT_FITTED, 0.0)
    assert (snapshot.ceiling, snapshot.outdoor) == (not_fitted, not_fitted)
    assert snapshot.loops["north"].outlet == snapshot.loops["south"].soil == not_fitted
    assert isinstance(snapshot.bench, Good)
    assert snapshot.findings == ()
    other = {name: probe for name, probe in probe_table().items() if name in {"outdoor", "north-outlet"}}
    snapshot = House(house(other)).tick(2)
    assert snapshot.bench == not_fitted
    assert isinstance(snapshot.outdoor, Good)


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


def test_a_finding_that_goes_on_is_handed_out_again(quiet: House) -> None:
    """While only temperatures change, the same finding is handed out, not one made anew."""
    quiet.failing = {"bench": Why.SILENT}
    (first,) = quiet.tick(2).findings
    quiet.value_c |= {"ceiling-east": 16.0, "north-soil": 15.5}
    (second,) = quiet.tick().findings
    assert second is first


def disputed(house: House, at_s: float) -> dict[str, RawSample]:
    """One ceiling probe reads 7 K more than the other."""
    raw: dict[str, RawSample] = {name: RawTemperature(15.0, at_s) for name in house.value_c}
    return raw | {"ceiling-west": RawTemperature(22.0, at_s)}


def test_a_dispute_is_not_voted_on_again_before_its_hold_is_over(quiet: House) -> None:
    """Up to the very end of the hold the loops' readings are the same ones, handed out again."""
    quiet.tick(2)
    agreed_at_s = quiet.now_s
    raw = disputed(quiet, agreed_at_s + 100.0)
    first = quiet.gatherer.gather(raw, {}, agreed_at_s + 100.0, quiet.judging)
    last = quiet.gatherer.gather(raw, {}, agreed_at_s + 300.0, quiet.judging)
    assert last.loops is first.loops
    assert last.ceiling == Good(15.0, agreed_at_s)


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


def test_ceilings_in_dispute(quiet: House) -> None:
    """Two ceilings in dispute hold what they agreed on, then give nothing; both are named."""
    quiet.tick(2)
    agreed_at_s = quiet.now_s
    quiet.value_c["ceiling-west"] = 22.0
    snapshot = quiet.tick()
    assert snapshot.ceiling == Good(15.0, agreed_at_s)
    assert snapshot.findings == tuple(
        Finding(FaultCode.PROBE, name, "disagrees with the other probes of its place")
        for name in ("ceiling-east", "ceiling-west")
    )
    assert snapshot.probes["ceiling-west"] == Good(22.0, quiet.now_s)
    snapshot = quiet.tick(20)
    assert isinstance(snapshot.ceiling, Missing)
    assert snapshot.ceiling.why is Why.OUTVOTED
    quiet.value_c["ceiling-west"] = 15.0
    snapshot = quiet.tick(2)
    assert snapshot.ceiling == Good(15.0, quiet.now_s)
    assert snapshot.findings == ()


def test_soils_in_dispute_hold_for_hours() -> None:
    """Two probes in the soil of a loop that fall out keep what they agreed on for as long as soil holds."""
    second = {"id": "28-00000000ffff", "place": "soil", "loop": "north"}
    quiet = House(house(probe_table() | {"north-soil-2": second}))
    quiet.tick(2)
    agreed = Good(15.0, quiet.now_s)
    quiet.value_c["north-soil-2"] = 22.0
    quiet.tick(2)
    quiet.now_s += 5 * 3600.0
    assert quiet.tick().loops["north"].soil == agreed
    quiet.now_s += 3600.0
    lost = quiet.tick().loops["north"].soil
    assert isinstance(lost, Missing)
    assert lost.why is Why.OUTVOTED


def test_wider_spread_ends_a_dispute_at_once(quiet: House) -> None:
    """Reloaded settings that allow more spread settle a dispute without new samples."""
    raw = disputed(quiet, 2000.0)
    assert isinstance(quiet.gatherer.gather(raw, {}, 2000.0, quiet.judging).ceiling, Missing)
    wider = type(quiet.judging).model_validate({"vote_spread": "10 K"})
    assert quiet.gatherer.gather(raw, {}, 2000.0, wider).ceiling == Good(18.5, 2000.0)


def test_dispute_ends_its_hold_without_new_samples(quiet: House) -> None:
    """The agreed value of a dispute ends with its hold time even if no sample arrives."""
    quiet.tick(2)
    agreed_at_s = quiet.now_s
    raw = disputed(quiet, agreed_at_s + 250.0)
    held = quiet.gatherer.gather(raw, {}, agreed_at_s + 250.0, quiet.judging)
    assert held.ceiling == Good(15.0, agreed_at_s)
    over = quiet.gatherer.gather(raw, {}, agreed_at_s + 301.0, quiet.judging)
    assert over.ceiling == Missing(Why.OUTVOTED, agreed_at_s + 250.0)


def test_next_level_that_settles_is_that_of_the_first_float(settings: Settings) -> None:
    """Of several floats whose level is about to count, the one that is due first says when to look."""
    sumps = settings.sumps | {"low": settings.sumps["main"], "far": settings.sumps["main"]}
    gatherer = Gatherer(settings.model_copy(update={"sumps": sumps}))
    looks = {"main": [RawLevel(Level.DRY, 99.0)], "low": [RawLevel(Level.DRY, 98.0)], "far": []}
    gatherer.gather({}, looks, 100.0, settings.judging)
    assert gatherer.settles_at_mono_s == 103.0
    looks = {"main": [RawLevel(Level.WET, 100.5)]}
    gatherer.gather({}, looks, 100.5, settings.judging)
    assert gatherer.settles_at_mono_s == 100.7


def test_float_findings(quiet: House) -> None:
    """An unreadable float and a bouncing one are distinguished; a level that settles says when."""
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
