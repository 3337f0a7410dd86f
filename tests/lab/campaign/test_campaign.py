"""The campaign itself: a fixed slice of it, and that it would notice what it is there to notice."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest

from controller.decision.command import Command
from controller.decision.decide import decide
from controller.equipment import OutputId
from controller.faults import DAY_S, HOUR_S
from controller.outputs.bank import OutputBank
from controller.outputs.lease import LeaseGuard
from controller.readings.reading import Good, Level
from controller.record.memory import Kept, to_memory
from controller.simulator.plant.fault_kinds import FaultKind
from controller.simulator.plant.faults import ScriptedFault
from tests.lab.campaign import play as playing
from tests.lab.campaign.draw import KINDS, Episode, drawn_episode
from tests.lab.campaign.expected import EXPECTED
from tests.lab.campaign.houses import CONFIG
from tests.lab.campaign.play import play
from tests.lab.campaign.runs import Campaign, kept_results, told
from tests.lab.campaign.table import markdown
from tests.lab.campaign.troubles import Moment, Trouble, TroubleKind

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.rehearsal

MARCH = datetime(2026, 3, 1)  # noqa: DTZ001 - the rehearsal takes it for local time of the weather
ONE_LOOP = (CONFIG / "one-loop.toml").read_text(encoding="utf-8")
BURST = ScriptedFault(FaultKind.CLOUDBURST, "pit", 0.0, 6 * HOUR_S)
SLICE = (2, 9, 12, 17, 20, 23)


def episode(*wrong: ScriptedFault | Trouble, days: float = 1.0, first_day: datetime = MARCH) -> Episode:
    """A short episode of the smallest house in which this goes wrong."""
    faults = tuple(each for each in wrong if isinstance(each, ScriptedFault))
    troubles = tuple(each for each in wrong if isinstance(each, Trouble))
    return Episode(0, "one-loop", ONE_LOOP, "carolina", 0, first_day, days, faults, troubles)


def test_every_kind_of_fault_has_a_row_of_expected_alarms() -> None:
    """No kind is left without saying which alarms report it, or that no alarm does."""
    assert set(EXPECTED) == set(KINDS)


@pytest.mark.parametrize("seed", SLICE)
def test_no_promise_is_broken_in_a_fixed_slice_of_the_campaign(seed: int) -> None:
    """Two days of each episode, with all that goes wrong in it, break nothing and raise nothing."""
    result = play(drawn_episode(seed, days=2.0))
    assert result["error"] == ""
    assert result["broken"] == []
    assert result["ticks"] > 1000


def test_the_same_seed_plays_the_same_episode() -> None:
    """Two plays of one seed differ in nothing but the time they took."""
    first, second = (play(drawn_episode(23, days=1.0)) for _ in range(2))
    assert {**first, "wall_s": 0} == {**second, "wall_s": 0}


def test_a_rule_that_starts_a_fan_in_a_flood_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Water at the float and a fan on is reported as P1, with the command that shows it again."""

    def reckless(snapshot: Any, state: Any, settings: Any, now_s: float, *others: Any) -> Any:
        decision, after = decide(snapshot, state, settings, now_s, *others)
        level = snapshot.sumps["pit"]
        if isinstance(level, Good) and level.value is Level.WET:
            fan = OutputId.fan("bed")
            commands = {**decision.commands, fan: Command(on=True, reason=decision.commands[fan].reason)}
            decision = decision._replace(commands=commands)
        return decision, after

    monkeypatch.setattr("controller.loop.decide", reckless)
    result = play(episode(BURST))
    assert any(words.startswith("P1:") for words in result["broken"])
    assert "python -m tests.lab.campaign --episode 0" in told(result)


def test_a_memory_that_forgets_a_motor_start_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rest cut short by a crash is seen although the controller itself cannot know of it."""

    def forgetful(state: Any, evidence: Any, now_s: float) -> Kept:
        memory = to_memory(state, evidence, now_s).data
        for output in memory["outputs"].values():
            output.update(on=False, age_s=DAY_S, start_ages_s=[])
        return Kept({**memory, "last_start_age_s": DAY_S}, ())

    crash = Trouble(TroubleKind.CRASH, HOUR_S, HOUR_S + 6.0, Moment.BEFORE_CARD, hunts=True)
    assert play(episode(BURST, crash))["broken"] == []
    monkeypatch.setattr("controller.loop.to_memory", forgetful)
    assert any("P4: pump:pit rested" in words for words in play(episode(BURST, crash))["broken"])


def ending(kind: TroubleKind, at_h: float, moment: Moment = Moment.WAITING, text: str = "") -> Trouble:
    """An ending at the first switching after this hour, with power back after forty seconds."""
    off_s = 6.0 if kind is TroubleKind.CRASH else 40.0
    return Trouble(kind, at_h * HOUR_S, at_h * HOUR_S + off_s, moment, hunts=True, text=text)


def lasting(kind: TroubleKind, at_h: float = 0.5) -> Trouble:
    """A trouble for the rest of the episode."""
    return Trouble(kind, at_h * HOUR_S, DAY_S)


FOUND = {
    "a card that failed and a power cut": (
        BURST, lasting(TroubleKind.CARD_UNWRITABLE), ending(TroubleKind.POWER_CUT, 2.2),
    ),
    "no room for the runtime copy and a crash": (
        BURST, lasting(TroubleKind.RUNTIME_UNWRITABLE), ending(TroubleKind.CRASH, 2.2),
    ),
    "power cuts as a long run ends": (
        BURST, ScriptedFault(FaultKind.PUMP_DEAD, "pit", 0.0),
        *(ending(TroubleKind.POWER_CUT, 2.0 + 0.5 * i, Moment.BEFORE_DRIVE) for i in range(3)),
    ),
    "a fire and a damaged memory": (
        Trouble(TroubleKind.FIRE, HOUR_S, 2 * HOUR_S),
        Trouble(TroubleKind.MEMORY_DAMAGED, 3 * HOUR_S, 3 * HOUR_S + 40.0, text="empty"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("wrong", FOUND.values(), ids=FOUND)
def test_what_the_campaign_has_found_stays_mended(wrong: tuple[ScriptedFault | Trouble, ...]) -> None:
    """Promises that restarts once broke hold, and the restarts really come."""
    result = play(episode(*wrong, days=0.25))
    assert result["broken"] == []
    assert result["lives"] > 1


def stall(at_h: float, lasts_s: float, moment: Moment = Moment.WAITING, times: int = 1) -> Trouble:
    """Ticks that do not come while a motor runs."""
    at_s = at_h * HOUR_S
    return Trouble(TroubleKind.STALL, at_s, at_s + lasts_s, moment, hunts=True, times=times)


@pytest.mark.parametrize("moment", list(Moment))
@pytest.mark.parametrize("lasts_s", [70.0, 400.0])
def test_stalls_of_any_length_anywhere_in_a_tick_break_nothing(moment: Moment, lasts_s: float) -> None:
    """Shorter than the lease or longer, thirteen times running, with the pump at work and fans after it."""
    wrong = ScriptedFault(FaultKind.CLOUDBURST, "pit", 0.0, 2 * HOUR_S)
    result = play(episode(wrong, stall(0.5, lasts_s, moment, 13), stall(8.0, lasts_s, moment, 13)))
    assert result["broken"] == []
    assert result["error"] == ""
    assert ("output" in result["raised"]) is (lasts_s > 210.0)


def test_old_commands_driven_again_after_a_stall_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Outputs that keep what they lost to themselves and come back at once break P4 and P13 at the pins."""

    def comes_back(bank: OutputBank, commands: Any, now_s: float) -> Any:
        for line in bank._lines.values():
            line.wanted = line.cut = False
        return drive(bank, commands, now_s)

    drive = OutputBank.drive
    monkeypatch.setattr(LeaseGuard, "lost", lambda _guard: None)
    monkeypatch.setattr(OutputBank, "drive", comes_back)
    found = play(episode(BURST, stall(0.5, 215.0, times=13), days=0.5))["broken"]
    assert any("P13: pump:pit went on although no start was recorded" in words for words in found)
    assert any("P4: pump:pit was off for" in words for words in found)


def test_an_exception_in_the_controller_is_a_result(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tick that raises ends the episode with the traceback, and is reported with its seed."""

    def failing(*_: Any) -> Any:
        raise ZeroDivisionError("no such luck")

    monkeypatch.setattr("controller.loop.decide", failing)
    result = play(episode())
    assert "ZeroDivisionError" in result["error"]
    assert "no such luck" in told(result)


def test_steps_of_the_wall_clock_change_nothing_in_the_house(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the date stepped by years and back, the house ends as it does with steps of nothing (P10)."""
    stages: list[Any] = []
    real = playing._Stage.play

    def kept(stage: Any) -> None:
        stages.append(stage)
        real(stage)

    monkeypatch.setattr(playing._Stage, "play", kept)
    for scale in (0.0, DAY_S):
        steps = (
            Trouble(TroubleKind.CLOCK_STEP, 6 * HOUR_S, 18 * HOUR_S, by_s=900 * scale),
            Trouble(TroubleKind.CLOCK_STEP, 10 * HOUR_S, 14 * HOUR_S, by_s=-3000 * scale),
        )
        assert play(episode(*steps))["broken"] == []
    still, stepped = (stage.plant.truth() for stage in stages)
    assert stepped == still
    assert still.charged_j > 0.0


def test_a_fault_and_its_alarm_are_put_together() -> None:
    """A float that cannot be read is reported after a minute; a crash needs no alarm and gets none."""
    found = play(
        episode(
            ScriptedFault(FaultKind.FLOAT_UNREADABLE, "pit", HOUR_S, 5 * HOUR_S),
            Trouble(TroubleKind.CRASH, 7 * HOUR_S, 7 * HOUR_S + 6.0),
            days=0.5,
        )
    )
    by_kind = {fault["kind"]: fault for fault in found["faults"]}
    assert 60.0 <= by_kind["float-unreadable"]["told_s"] <= 180.0
    assert by_kind["crash"]["told_s"] is None
    assert found["lives"] == 2


def test_a_sound_pump_copes_with_a_cloudburst() -> None:
    """Eight hours of it in soil that drains fast, within what the pump moves, shut the tubes for minutes."""
    text = ONE_LOOP + '\n[house]\nsoil = "sandy loam"\n'
    burst = ScriptedFault(FaultKind.CLOUDBURST, "pit", 0.0, 8 * HOUR_S)
    found = play(replace(episode(burst, days=1.5), text=text))
    assert found["broken"] == []
    (one,) = found["bursts"]
    assert one["sound"]
    assert 0.6 < one["inflow"] < 0.85
    assert one["shut_h"] < 0.25
    dead = ScriptedFault(FaultKind.PUMP_DEAD, "pit", 2 * HOUR_S, 8 * HOUR_S)
    found = play(replace(episode(burst, dead, days=1.5), text=text))
    (one,) = found["bursts"]
    assert not one["sound"]
    assert one["shut_h"] > 1.0
    assert "| up to 85 % | 0 | 0 |  |" in markdown([found])


def test_an_interrupted_campaign_goes_on_where_it_stopped(tmp_path: Path) -> None:
    """Results that are there count, a torn last line does not, and no seed is played twice."""
    out = tmp_path / "out.jsonl"
    result = play(episode(days=0.01))
    out.write_text("".join(f'{{"seed": {seed}, "days": 40.0}}\n' for seed in (1, 3)) + '{"seed": 2, "da')
    assert [kept["seed"] for kept in kept_results(out)] == [1, 3]
    campaign = Campaign(365.25, count(1), 1, out)
    assert [next(campaign._seeds) for _ in range(3)] == [2, 4, 5]
    assert campaign._done_days == 80.0
    assert "| house-years | 0 |" in markdown([result])
