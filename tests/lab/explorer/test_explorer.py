"""A slice of the exploration, and proof that the explorer finds what it is there to find."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.decision import decide as deciding
from controller.decision import driven, pump
from controller.decision.decide import decide, initial_state
from controller.decision.fire import watch_fire
from controller.decision.lockouts import water_stop
from controller.decision.state import FireState, OutputState
from controller.diagnosis.evidence import no_evidence
from controller.equipment import Kind
from controller.faults import HOUR_S
from controller.record import memory, restoring
from controller.record.restoring import restored
from tests.lab.explorer.__main__ import main, told
from tests.lab.explorer.houses import shed
from tests.lab.explorer.keys import Keys
from tests.lab.explorer.sampling import ProjectionError, try_keys
from tests.lab.explorer.search import House, explore
from tests.lab.explorer.small_house import TICK_S, Air, Timers, Water

if TYPE_CHECKING:
    from typing import Any

    from controller.decision.command import Decision
    from controller.decision.lockouts import Stop
    from controller.decision.state import ControllerState, SumpState
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings


def test_every_state_of_a_small_house_keeps_every_promise() -> None:
    """Nothing that can happen to one loop and one sump leads to a state in which a promise is broken."""
    found = explore(shed())
    assert found.complete
    assert found.broken == []
    assert found.steps == found.states * (len(shed().seen) + 4)
    assert found.states > 1000


def test_what_a_key_leaves_out_does_not_matter() -> None:
    """Random histories and states with other values in all that is left out go the way their key goes."""
    assert try_keys(shed(), walks=10, ticks=60, seed=3) == 600


def test_a_key_that_leaves_out_too_much_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A key without the time since the last start of a motor cannot be trusted, and that is said."""
    whole = Keys.key_of
    monkeypatch.setattr(Keys, "key_of", lambda self, state, now_s: b"\0" + whole(self, state, now_s)[1:])
    with pytest.raises(ProjectionError, match="one key"):
        try_keys(shed(), walks=10, ticks=60, seed=3)


# The air that is tried for a promise: a pump asks for none, a fire for more than the others do.
AIR_FOR = {"P3": (Air.NEUTRAL,), "P16": (Air.NEUTRAL,), "P5": (Air.NEUTRAL, Air.HOT, Air.FIRE)}


def _house(timers: Timers, promise: str, *, blind: bool = False) -> House:
    """As much of the slice as a promise is about: air that asks for no fan where only the pump is."""
    airs = AIR_FOR.get(promise, (Air.NEUTRAL, Air.HOT))
    waters = (Water.DRY, Water.UNREADABLE) if blind else (Water.DRY, Water.WET)
    return House({"bed": "pit"}, timers, airs, waters)


@pytest.mark.parametrize(
    ("table", "name", "off_by", "promise"),
    [
        ("fans", "minimum_run_s", -TICK_S, "P4"),
        ("fans", "minimum_rest_s", -TICK_S, "P4"),
        ("fans", "starts_per_hour", 1, "P4"),
        ("fans", "stagger_s", -TICK_S, "P11"),
        ("pump", "drain_down_s", -TICK_S, "P1"),
        ("pump", "longest_run_s", TICK_S, "P3"),
        ("pump", "run_on_s", TICK_S, "P3"),
        ("pump", "rest_s", -TICK_S, "P3"),
        ("pump", "rest_s", TICK_S, "P16"),
        ("pump", "longest_run_s", -TICK_S, "P16"),
        ("pump", "minimum_rest_s", -TICK_S, "P4"),
        ("pump", "starts_per_hour", 1, "P4"),
        ("pump", "duty_run_s", TICK_S, "P3"),
        ("pump", "duty_rest_s", -TICK_S, "P3"),
        ("pump", "exercise_run_s", TICK_S, "P3"),
        ("pump", "exercise_every_s", -TICK_S, "P3"),
    ],
)
def test_a_limit_that_is_off_by_one_is_found(
    monkeypatch: pytest.MonkeyPatch, table: str, name: str, off_by: float, promise: str
) -> None:
    """A decision that takes one limit for a tick or a start more or less than it is breaks a promise."""

    def wrong(
        snapshot: Snapshot, state: ControllerState, settings: Settings, now_s: float
    ) -> tuple[Decision, ControllerState]:
        section = getattr(settings, table)
        off = section.model_copy(update={name: getattr(section, name) + off_by})
        return decide(snapshot, state, settings.model_copy(update={table: off}), now_s)

    monkeypatch.setattr(deciding, "decide", wrong)
    # A pump's run and rest leave room for two starts an hour; so its limit is tried at one.
    few = table == "pump" and name == "starts_per_hour"
    found = explore(_house(Timers(pump_starts=1) if few else Timers(), promise, blind="duty" in name))
    assert found.broken
    assert found.broken[0].startswith(promise)


def _forgets_fire(before: FireState, snapshot: Snapshot, settings: Settings, now_s: float) -> FireState:
    """Stops the fans while it is hot, and lets them go on when it has cooled."""
    after = watch_fire(before._replace(latched_detail=None), snapshot, settings, now_s)
    return after if after.latched_detail is not None else FireState()


def _drained_at_once(name: str, sump: SumpState, why: str, drain_down_s: float, now_s: float) -> Stop | None:
    return water_stop(name, sump, why, 0.0 * drain_down_s, now_s)


def _rested(state: ControllerState, data: dict[str, Any], same_boot: bool, now_s: float) -> ControllerState:
    after = restored(state, data, same_boot, now_s)
    long_s = now_s - 50.0 * TICK_S
    fans = {o: kept._replace(since_mono_s=long_s) for o, kept in after.outputs.items() if o.kind is Kind.FAN}
    return after._replace(outputs={**after.outputs, **fans})


def _unlatched(
    state: ControllerState, data: dict[str, Any], same_boot: bool, now_s: float
) -> ControllerState:
    return restored(state, {**data, "fire": None, "fire_age_s": None}, same_boot, now_s)


def _dried(state: ControllerState, data: dict[str, Any], same_boot: bool, now_s: float) -> ControllerState:
    sumps = {
        name: {**kept, "wet_or_unknown": False, "water_age_s": 86400.0, "dry_before": None}
        for name, kept in data["sumps"].items()
    }
    return restored(state, {**data, "sumps": sumps}, same_boot, now_s)


def _forgotten(on: bool, since_mono_s: float, starts_mono_s: tuple[float, ...]) -> OutputState:
    del starts_mono_s
    return OutputState(on, since_mono_s)


def _uncounted(
    state: ControllerState, data: dict[str, Any], same_boot: bool, now_s: float
) -> ControllerState:
    outputs = {name: {**kept, "start_ages_s": []} for name, kept in data["outputs"].items()}
    return restored(state, {**data, "outputs": outputs}, same_boot, now_s)


@pytest.mark.parametrize(
    ("module", "name", "wrong", "promise"),
    [
        (deciding, "watch_fire", _forgets_fire, "P5"),
        (deciding, "water_stop", _drained_at_once, "P1"),
        (restoring, "restored", _rested, "P4"),
        (restoring, "restored", _unlatched, "P5"),
        (restoring, "restored", _dried, "P1"),
        (restoring, "restored", _uncounted, "P4"),
        (driven, "OutputState", _forgotten, "P4"),
        (pump, "_rest_owed_s", lambda seen: seen.pump.minimum_rest_s, "P3"),
        (pump, "DOUBTED_REST", 1.0, "P3"),
        (pump, "BELIEVED_WET_S", 12 * HOUR_S - TICK_S, "P16"),
    ],
)
def test_a_rule_that_is_forgotten_is_found(
    monkeypatch: pytest.MonkeyPatch, module: object, name: str, wrong: object, promise: str
) -> None:
    """A latch, a drain-down, a rest or a count that is lost, at once, over a restart or a trip, is found."""
    monkeypatch.setattr(module, name, wrong)
    found = explore(_house(Timers(), promise))
    assert found.broken
    assert found.broken[0].startswith(promise)


def test_the_shortest_way_to_a_broken_promise_can_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A counterexample is a list of ticks in words, from the start to what is broken."""
    monkeypatch.setattr(deciding, "water_stop", _drained_at_once)
    found = explore(shed())
    lines = told(found).splitlines()
    assert "broken: P1: fan 1 on" in lines[0]
    assert lines[1].strip() == "start, history unknown"
    assert len(lines) == found.depth + 2
    assert "air hot, float dry" in lines[-1]
    assert "BROKEN P1: fan 1 on, float dry" in lines[-1]


def test_a_reboot_leaves_the_same_state_however_long_the_power_was_off() -> None:
    """However long the power was off, nothing has aged, so one reboot stands for every power cut."""
    house = shed()
    state = initial_state(house.settings, 0.0)
    for seen, snapshot in house.seen:
        _, after = decide(snapshot, state, house.settings, TICK_S)
        at_once = house.keys.key_of(house.restarted(after, TICK_S, same_boot=False), TICK_S)
        data = memory.to_memory(after, no_evidence(house.settings.loops, TICK_S), TICK_S).data
        later = restoring.restored(initial_state(house.settings, 90_000.0), data, False, 90_000.0)
        assert house.keys.key_of(later, 90_000.0) == at_once, seen


def test_an_unknown_house_is_refused(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A house that is not there is named, with those that are."""
    monkeypatch.setattr("sys.argv", ["explorer", "castle"])
    with pytest.raises(SystemExit):
        main()
    assert "castle" in capsys.readouterr().err
