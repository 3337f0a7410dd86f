"""What each remembered number means after a restart, within the boot and after a reboot."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from controller.decision.decide import initial_state
from controller.decision.state import (
    ControllerState,
    Doubt,
    DryBefore,
    EmptyingTrend,
    FireState,
    Need,
    PumpPhase,
)
from controller.diagnosis.alarms import update_alarms
from controller.diagnosis.attendance import COMES_BACK_WITHIN_S, Now, attended
from controller.diagnosis.evidence import no_evidence
from controller.diagnosis.heat_share import HeatShare
from controller.faults import FaultCode, Finding
from controller.record.restoring import restored_evidence
from tests.decision.world import HOUSE
from tests.record.kept import MAIN, NORTH, SAVED_S, back, learned, lessons, written

Get = Callable[[ControllerState], Any]
Then = Callable[[float, float], Any]

# What it is, how to read it, and what it must be within the boot and after a reboot: by now, and by what the
# clock shows or would have shown at the save. After a reboot nobody knows how long the power was off.
KEPT: dict[str, tuple[Get, Then, Then | None]] = {
    "a fan that ran rests": (lambda s: s.outputs[NORTH].since_mono_s, lambda now, _: now, None),
    "and is off": (lambda s: s.outputs[NORTH].on, lambda _now, _: False, None),
    "a pump that stood has rested": (
        lambda s: s.outputs[MAIN].since_mono_s, lambda _, saved: saved - 500.0, lambda now, _: now),
    "starts of a fan": (
        lambda s: s.outputs[NORTH].starts_mono_s, lambda _, saved: (saved - 900.0, saved - 100.0), None),
    "starts of a pump": (lambda s: s.outputs[MAIN].starts_mono_s, lambda _, saved: (saved - 600.0,), None),
    "failed runs": (lambda s: s.fans["north"].failed_runs, lambda _now, _: 2, None),
    "back-off": (lambda s: s.fans["north"].back_off_until_s, lambda _, saved: saved + 500.0, None),
    "rest after a longest run": (lambda s: s.sumps["main"].phase, lambda _now, _: PumpPhase.RESTING, None),
    "water": (lambda s: s.sumps["main"].last_water_s, lambda now, _: now, None),
    "silence of the float": (
        lambda s: s.sumps["main"].unreadable_since_s, lambda _, saved: saved - 300.0, None),
    "dry before the silence": (
        lambda s: s.sumps["main"].dry_before,
        lambda _, saved: DryBefore(saved - 300.0, saved - 5000.0, Doubt.BLIND), lambda _now, _: None),
    "what emptying takes": (
        lambda s: s.sumps["main"].trend, lambda _now, _: EmptyingTrend(30.0, 31.5, 7), None),
    "fire": (
        lambda s: s.fire, lambda _, saved: FireState("bench reads 70.0 °C", saved - 400.0), None),
    "need for heat": (lambda s: s.need, lambda now, _: Need(2.0, now, 1.5), None),
    "stagger": (lambda s: s.last_start_s, lambda _, saved: saved - 100.0, lambda now, _: now),
}  # fmt: skip


@pytest.mark.parametrize("name", KEPT)
@pytest.mark.parametrize("down_s", [0.0, 50.0, -10.0])
def test_within_a_boot_every_time_is_what_it_was(name: str, down_s: float) -> None:
    """However long the stop; a clock that seems to have run backwards counts as no gap."""
    get, within, _ = KEPT[name]
    now_s = SAVED_S + down_s
    assert get(back(now_s)) == within(now_s, now_s - max(down_s, 0.0))


@pytest.mark.parametrize("name", KEPT)
@pytest.mark.parametrize("now_s", [20.0, SAVED_S + 50.0, 9.0e6])
def test_after_a_reboot_ages_stand_still_and_rests_begin_anew(name: str, now_s: float) -> None:
    """What counts down goes on, what must be waited for begins, whatever the new boot's clock shows."""
    get, within, rebooted = KEPT[name]
    assert get(back(now_s, same_boot=False)) == (rebooted or within)(now_s, now_s)


DRY = {"wet_or_unknown": False, "resting": False, "unreadable_age_s": None, "doubt": None, "dry_before": None}
WET = DRY | {"wet_or_unknown": True}
KNOWN = DryBefore(SAVED_S, SAVED_S - 10.0, None)


@pytest.mark.parametrize(
    ("same_boot", "sump", "pump", "phase", "doubt", "known"),
    [
        (True, DRY, "off", PumpPhase.IDLE, Doubt.STARTED, KNOWN),
        (True, DRY | {"doubt": "blind"}, "off", PumpPhase.IDLE, Doubt.STARTED,
         KNOWN._replace(doubt=Doubt.BLIND)),
        (True, DRY, "not named", PumpPhase.IDLE, Doubt.STARTED, KNOWN),
        (True, DRY, "on", PumpPhase.RESTING, None, None),  # it may have run its longest
        (True, WET, "off", PumpPhase.IDLE, None, None),
        (True, WET | {"doubt": "blind"}, "off", PumpPhase.IDLE, Doubt.BLIND, None),
        (False, DRY, "off", PumpPhase.IDLE, Doubt.STARTED, None),
        (False, WET, "off", PumpPhase.IDLE, Doubt.STARTED, None),
        (False, DRY, "on", PumpPhase.RESTING, Doubt.STARTED, None),
    ],
)  # fmt: skip
def test_a_dry_sump_is_known_to_have_been_dry_within_the_boot_only(
    same_boot: bool,
    sump: dict[str, Any],
    pump: str,
    phase: PumpPhase,
    doubt: Doubt | None,
    known: DryBefore | None,
) -> None:
    """The stop is a silence that began with the save; tubes count as wet until the float has been read."""
    whole = written()
    outputs = {name: one for name, one in whole["outputs"].items() if name != "pump:main"}
    if pump != "not named":
        outputs["pump:main"] = {"on": pump == "on", "age_s": 5.0, "start_ages_s": [5.0]}
    sumps = {"main": whole["sumps"]["main"] | sump}
    now_s = SAVED_S + 50.0
    main = back(now_s, same_boot, sumps=sumps, outputs=outputs).sumps["main"]
    assert (main.phase, main.doubt, main.dry_before) == (phase, doubt, known)
    assert (main.last_water_s, main.unreadable_since_s) == (now_s, now_s)


def test_what_was_learned_comes_back_but_for_the_stretch_that_the_stop_has_cut() -> None:
    """Shares, outlets and probes; what may be worth reporting is looked at again."""
    before, again = learned(), lessons(SAVED_S)
    assert again.heat_shares["north"] == HeatShare(0.8, 4000.0)
    assert again.outlets.records == before.outlets.records
    assert (again.outlets.looked_s, again.outlets.known) == (SAVED_S, False)
    assert again.comparisons.records == before.comparisons.records
    assert again.comparisons.shares == before.comparisons.shares
    assert again.comparisons.warmths == before.comparisons.warmths
    assert again.house.usual == before.house.usual
    assert again.comparisons.suspicious


@pytest.mark.parametrize(("seen_s", "known"), [(0.0, False), (1800.0, True)])
def test_one_outlet_that_was_seen_both_ways_makes_outlets_count_again(seen_s: float, known: bool) -> None:
    """One is enough, whichever it is."""
    south = {"moving_while_on_s": seen_s, "still_while_off_s": seen_s}
    outlets = written()["outlets"]
    again = lessons(SAVED_S, outlets=outlets | {"south": outlets["south"] | south})
    assert again.outlets.known is known


def test_what_the_memory_does_not_name_starts_fresh() -> None:
    """Each part by itself: outputs, fans, sumps and fire, and whatever was learned."""
    now_s = SAVED_S + 5.0
    nothing: dict[str, Any] = {
        name: {} for name in ("outputs", "fans", "sumps", "outlets", "probes", "shares", "starts", "house")
    }
    nothing |= {"seen": {}, "empty_until": None, "done": {}, "forecast": None}
    again = back(now_s, fire=None, fire_age_s=None, coldest_c=None, passed_k=0.0, **nothing)
    fresh = initial_state(HOUSE, now_s)
    assert again == fresh._replace(need=Need(None, now_s), last_start_s=900.0)
    unknown = no_evidence(HOUSE.loops, now_s)
    assert lessons(now_s, **nothing)._replace(comparisons=unknown.comparisons) == unknown
    assert back(now_s, fire_age_s=None).fire == FireState("bench reads 70.0 °C", SAVED_S)


@pytest.mark.parametrize(("same_boot", "grown_s"), [(True, 50.0), (False, 0.0)])
def test_what_people_said_comes_back_and_waits_for_its_alarm(same_boot: bool, grown_s: float) -> None:
    """Ages grow within a boot only, times of day are kept; each mark waits until its alarm is there again."""
    now_s = SAVED_S + 50.0
    before = learned().attendance
    unknown = no_evidence(HOUSE.loops, now_s)
    again = restored_evidence(unknown, written(), same_boot, now_s).attendance
    assert again.done == before.done
    assert again.empty_until is not None
    assert before.empty_until is not None
    assert again.empty_until.mono_s - now_s == before.empty_until.mono_s - SAVED_S - grown_s
    assert again.empty_until.utc_s == before.empty_until.utc_s
    for key, seen in before.seen.items():
        assert again.seen[key].missed_since_s == now_s
        assert now_s - again.seen[key].at_s == SAVED_S - seen.at_s + grown_s
        assert (again.seen[key].level, again.seen[key].at_utc_s) == (seen.level, seen.at_utc_s)


@pytest.mark.parametrize("code", ["fire", "sump-not-emptying", "no-such-code"])
def test_a_memory_that_says_a_danger_was_seen_is_not_believed(code: str) -> None:
    """A damaged or forged memory mutes no danger."""
    one = next(iter(written()["seen"].values()))
    assert lessons(SAVED_S, seen={f"{code} ": one}).attendance.seen == {}


def test_a_mark_is_of_its_alarm_again_once_that_comes_back() -> None:
    """After a restart it is raised anew and stays quiet; one that does not come back calls the next time."""
    now_s = SAVED_S
    kept = lessons(
        now_s, seen={"loop-weak north": {"level": 0, "age_s": 5.0, "at_utc_s": None, "until": None}}
    )
    weak = Finding(FaultCode.LOOP_WEAK, "north")
    back_again = update_alarms({}, (weak,), now_s + 600.0)
    told = attended(kept.attendance, (), back_again, Now(now_s + 600.0, None))
    assert [alarm.quiet for alarm in told.alarms.active] == [True]
    late_s = now_s + COMES_BACK_WITHIN_S + 1.0
    gone = attended(kept.attendance, (), update_alarms({}, (), late_s), Now(late_s, None))
    assert gone.attendance.seen == {}
    later = update_alarms({}, (weak,), late_s + 10.0)
    told = attended(gone.attendance, (), later, Now(late_s + 10.0, None))
    assert [alarm.quiet for alarm in told.alarms.active] == [False]


def test_a_share_of_a_loop_that_is_gone_is_forgotten() -> None:
    """Shares belong to loops of the settings in force; probes are kept for the next day to judge."""
    gone = written()["shares"]["south"]
    again = lessons(SAVED_S, shares={"old": gone, "south": gone}, probes={"old": gone})
    assert set(again.comparisons.shares) == {"south"}
    assert set(again.comparisons.records) == {"old"}
