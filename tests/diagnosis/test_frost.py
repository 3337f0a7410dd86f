"""Frost as a person learns of it: announced in the evening, called beyond that, summed up in the morning."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from controller.decision.reasons import Reason, ReasonCode
from controller.decision.state import Demand, FanState, Lockout
from controller.diagnosis.frost import fans_words
from controller.faults import Priority
from controller.readings.reading import Level, Why
from controller.units import TemperatureUnit
from tests.decision.world import HOUR_S, MINUTE_S, World, settings_with

if TYPE_CHECKING:
    from controller.diagnosis.alarms import Alarm

TICK_S = 5 * MINUTE_S
IDLE = Reason(ReasonCode.NOTHING_TO_RETURN, {"soil_c": 1.0, "air_c": 1.0})


class Nights:
    """Days and nights of a house whose air a test makes up, with a clock that is set or without one."""

    def __init__(self, world: World | None = None, by_clock: bool = True) -> None:
        self.world = world or World()
        self.by_clock = by_clock
        self.hour = 12.0
        self.calls: list[tuple[int, str]] = []

    def pass_to(self, hour: float, low_c: float, out_c: float, day_c: float = 18.0) -> None:
        """Let time pass to this hour; the air swings between the day's warmest and the night's coldest."""
        for _ in range(round((hour - self.hour) % 24.0 * HOUR_S / TICK_S)):
            self.hour = (self.hour + TICK_S / HOUR_S) % 24.0
            world = self.world
            world.hour = self.hour if self.by_clock else None
            if not isinstance(world.bench_c, Why):
                swing = 0.5 - 0.5 * math.cos(math.tau * (self.hour - 2.0) / 24.0)
                cold = self.hour < 8.0 or self.hour >= 20.0
                world.bench_c = world.ceiling_c = low_c if cold else low_c + swing * (day_c - low_c)
            world.outdoor_c = out_c + 10.0 * math.exp(-(((self.hour - 14.0) / 4.0) ** 2))
            before = len(world.events)
            world.tick(TICK_S)
            self.calls += [
                (int(self.hour), code)
                for code, _, raised in world.events[before:]
                if raised and code.startswith("frost")
            ]

    def night(self, low_c: float, out_c: float) -> list[tuple[int, str]]:
        """Noon to noon; gives the hours and codes of the calls."""
        before = len(self.calls)
        self.pass_to(23.0, low_c, out_c)
        self.pass_to(12.0, low_c, out_c)
        return self.calls[before:]

    def alarm(self, code: str) -> Alarm:
        """The alarm of this code that is shown."""
        (alarm,) = [one for one in self.world.alarms_now if one.code.value == code]
        return alarm


def cold_spell(**how: bool) -> Nights:
    """Four nights of frost, which show what the house does."""
    nights = Nights(**how)
    for _ in range(4):
        nights.night(0.5, -6.0)
    return nights


def test_every_night_of_a_spell_is_announced_in_the_evening_and_calls_nobody_at_night() -> None:
    """A call at 17 o'clock, another if worse is expected later in the evening, none that wakes anybody."""
    nights = cold_spell()
    for _ in range(4):
        calls = nights.night(0.5, -6.0)
        assert calls[0] == (17, "frost-tonight")
        assert all(hour < 22 and code == "frost-tonight" for hour, code in calls)
    nights.pass_to(18.0, 0.5, -6.0)
    alarm = nights.alarm("frost-tonight")
    assert alarm.priority is Priority.TODAY
    assert alarm.detail.startswith("be ready for -0.")
    assert "may be passed from about " in alarm.detail
    nights.pass_to(23.0, 0.5, -6.0)
    assert "the limit of 2.0 °C has been passed; " in nights.alarm("frost-tonight").detail


def test_a_night_that_nobody_announced_calls_at_once() -> None:
    """After mild nights a sudden frost could not be seen coming; in the morning the words are what it was."""
    nights = Nights()
    for _ in range(4):
        nights.night(8.0, 6.0)
    nights.pass_to(23.0, 8.0, 6.0)
    assert nights.calls == []
    nights.pass_to(2.0, 1.0, -5.0)
    assert nights.calls == [(23, "frost")]
    assert nights.alarm("frost").priority is Priority.ACT_NOW
    assert "air 1.0 °C, not announced; " in nights.alarm("frost").detail
    nights.pass_to(12.0, 1.0, -5.0)
    alarm = nights.alarm("frost")
    assert (alarm.priority, alarm.over) == (Priority.TODAY, True)
    assert alarm.detail.startswith("frost last night: low 1.0 °C at 23:")
    assert alarm.detail.endswith(" at the limit of 2.0 °C or below; look at the crop")


@pytest.mark.parametrize(("low_c", "called"), [(-1.0, False), (-2.9, True), (-3.5, True)])
def test_a_night_calls_where_it_goes_beyond_what_was_announced(low_c: float, called: bool) -> None:
    """Within a kelvin of the announcement nobody is woken; beyond it, and in hard frost, somebody is."""
    nights = cold_spell()
    nights.pass_to(22.0, 0.5, -6.0)
    before = len(nights.calls)
    nights.pass_to(6.0, low_c, -12.0)
    assert [code for _, code in nights.calls[before:]] == (["frost"] if called else [])
    if called:
        hard = "hard frost (below -3.0 °C), " if low_c < -3.0 else ""
        assert f"air {low_c:.1f} °C, {hard}-1." in nights.alarm("frost").detail
    nights.pass_to(12.0, low_c, -12.0)
    words = "frost last night: low"
    assert nights.alarm("frost" if called else "frost-tonight").detail.startswith(words)


def test_each_night_calls_anew() -> None:
    """Last night's alarm, seen or not, does not swallow the next; a mild night clears it."""
    nights = cold_spell()
    for _ in range(3):
        nights.pass_to(22.0, 0.5, -6.0)
        before = len(nights.calls)
        nights.pass_to(16.0, -6.0, -12.0)
        assert [code for _, code in nights.calls[before:]] == ["frost"]
    nights.pass_to(12.0, 9.0, 8.0)
    assert not [alarm for alarm in nights.world.alarms_now if alarm.code.value == "frost"]


def test_without_a_clock_the_air_shows_the_evening() -> None:
    """The house warms and cools once a day, so the announcement comes in the evening all the same."""
    nights = cold_spell(by_clock=False)
    for _ in range(2):
        calls = nights.night(0.5, -6.0)
        assert {code for _, code in calls} == {"frost-tonight"}
        assert 15 <= calls[0][0] <= 20


@pytest.mark.parametrize("same_boot", [True, False])
def test_what_nights_have_shown_outlives_a_restart(same_boot: bool) -> None:
    """The next evening is judged by the nights before; a reboot at night forgets what was announced."""
    nights = cold_spell()
    nights.pass_to(18.0, 0.5, -6.0)
    nights.world.restart(20.0, same_boot=same_boot)
    nights.pass_to(6.0, 0.5, -6.0)
    assert ("frost" in {code for _, code in nights.calls[4:]}) is False
    nights.world.restart(20.0, same_boot=same_boot)
    before = len(nights.calls)
    nights.pass_to(12.0, 0.5, -6.0)
    assert ("frost" in {code for _, code in nights.calls[before:]}) is not same_boot
    assert nights.night(0.5, -6.0)[0] == (17, "frost-tonight")


def test_frost_outdoors_calls_where_no_air_of_the_house_can_be_read() -> None:
    """A house whose air nobody sees may be as cold as outdoors; the words say what was measured."""
    nights = Nights()
    nights.night(8.0, 6.0)
    nights.world.bench_c = nights.world.ceiling_c = Why.SILENT
    nights.pass_to(23.0, 8.0, -4.0)
    alarm = nights.alarm("frost")
    assert alarm.priority is Priority.ACT_NOW
    assert alarm.detail.startswith("no air probe in the house can be read, but outdoors it is -")


def test_frost_behind_water_calls_in_any_case() -> None:
    """Where water keeps the fans from warming, an announcement is no help."""
    nights = cold_spell()
    nights.pass_to(20.0, 0.5, -6.0)
    nights.world.level["main"] = Level.WET
    nights.pass_to(22.0, 0.5, -6.0)
    assert nights.alarm("frost-in-flood").detail == "air 0.5 °C; no fan warms the house: water in the sump"


WARMS = FanState(Demand.FROST, IDLE)
RESTS = FanState(None, IDLE, lockouts=(Lockout.RESTING,))
EMPTY = FanState(None, IDLE)


@pytest.mark.parametrize(
    ("fans", "words"),
    [
        ({"a": WARMS, "b": WARMS}, "every fan warms the house"),
        ({"a": WARMS}, "the fan warms the house"),
        ({"a": WARMS, "b": RESTS}, "1 of 2 fans warm the house; not b (motor resting)"),
        ({"a": RESTS, "b": RESTS}, "no fan warms the house: motor resting"),
        ({"a": EMPTY}, "no fan warms the house: the soil has no warmth left that a fan could bring"),
        (
            {"a": RESTS, "b": EMPTY},
            (
                "no fan warms the house: a (motor resting), "
                "b (the soil has no warmth left that a fan could bring)"
            ),
        ),
    ],
)
def test_the_words_name_what_really_keeps_a_fan_from_helping(fans: dict[str, FanState], words: str) -> None:
    """A person who reads why can act on it; nothing is claimed of a fan that stands."""
    assert fans_words(fans, TemperatureUnit.CELSIUS) == words


def test_frost_is_told_in_the_units_of_the_house() -> None:
    """A person who reads °F learns of it in °F."""
    nights = Nights(World(settings_with(site={"show": TemperatureUnit.FAHRENHEIT})))
    nights.pass_to(23.0, 1.0, -5.0)
    detail = nights.alarm("frost-tonight").detail
    assert "°F" in detail
    assert "°C" not in detail
