"""The status as a page of text."""

from __future__ import annotations

import pytest

from controller.cli.status_lines import WIDTH, is_stale
from controller.cli.status_page import page
from controller.decision.need import NEED_MARGIN_K
from controller.decision.state import Need
from controller.diagnosis.advice import Advice, AdviceCode
from controller.diagnosis.attendance import Attendance
from controller.faults import FaultCode
from controller.readings.reading import Missing, Why
from controller.telemetry import payloads
from controller.telemetry.build import build_status
from tests.telemetry import ticks

COLD_NIGHTS_C = ticks.settings().setpoints.heat_below_c + NEED_MARGIN_K


def status(promises_broken=0, **changed):
    """The status of a changed tick."""
    return build_status(ticks.tick(**changed), ticks.PROGRAM, valid_s=30.0, promises_broken=promises_broken)


def text(told, age_s=12.0):
    """The page as one text with single blanks."""
    return " ".join(" ".join(line.text.split()) for line in page(told, age_s))


def test_page_answers_the_first_questions():
    """House, air, each fan with its reason and heat, soil, water, pump, today: all on one page."""
    shown = text(status())
    for answer in (
        "Fellside school garden",
        "12 s ago",
        "ceiling 31.2 °C",
        "bench 24.0 °C",
        "outdoors not fitted",
        "north: fan on for 12 min, banking heat",
        "2.4 kW into the soil (proven at the outlet)",
        "now 17.0 K: 31.2 °C over 14.2 °C); about 2.4 kW for 120 W",
        "soil 14.2 °C",
        "today 3 h 05 min in 4 runs · banked 8.1 kWh · returned 0.1 kWh",
        "south: fan off for 12 min",
        "locked: soil temperature unknown",
        "soil unknown (does not answer)",
        "low-corner: dry, pump off for 12 min (idle)",
        "Today: banked 8.1 kWh · returned 0.1 kWh · used 0.4 kWh · air 8.1 °C to 24.3 °C",
        "Not monitored",
        "hypocaust 0.1.0, running for 15 min",
    ):
        assert answer in shown


def test_alarms_come_first_with_what_to_do():
    """Before any number: the alarm, how urgent, since when, what it leads to, what to do."""
    alarms = (ticks.alarm(FaultCode.FLOAT, "low-corner", "cannot be read"), ticks.alarm(FaultCode.LINK))
    shown = text(status(diagnosis=ticks.diagnosis(*alarms)))
    assert "! TODAY: float: low-corner, since Sat 7 Mar 11:59, act within 12 hours cannot be read" in shown
    assert "Cause: The float input cannot be read. If nobody acts: Water could rise" in shown
    assert "Do: Check the float's cable and plug at the box first." in shown
    assert shown.index("Do: Check the float") < shown.index("THIS WEEK") < shown.index("Air:")


def test_the_signals_say_why_they_are_on_or_off():
    """The whole reason of the signal, and of the lamp where it is fitted."""
    fitted = ticks.settings(signal={"pin": 25, "today_pin": 16})
    shown = text(status(settings=fitted, signals=ticks.signals(fitted, ticks.alarm(FaultCode.FIRE))))
    assert "Signal off: calls a person; alarms to act on now: 1, the first: fire" in shown
    assert "Today's lamp on: something is to be done today; alarms: 1, the first: fire" in shown


def test_temperatures_follow_the_unit_of_the_site():
    """A Fahrenheit site reads °F everywhere and no °C anywhere."""
    shown = text(status(settings=ticks.settings(show="°F")))
    assert "ceiling 88.2 °F" in shown
    assert "air 46.6 °F to 75.7 °F" in shown
    assert "°C" not in shown


@pytest.mark.parametrize(("age_s", "stale"), [(0.0, False), (30.0, False), (30.1, True), (None, True)])
def test_status_older_than_its_validity_is_stale(age_s, stale):
    """Three ticks without news, or a board that started again, and the status is no longer the present."""
    told = status()
    assert is_stale(told, age_s) is stale
    assert ("NOT FRESH" in text(told, age_s)) is stale


def test_stale_page_says_since_when_and_where_to_look():
    """Old news says so at the top: when it was written, how long ago, and what to check."""
    shown = text(status(), 4000.0)
    assert "NOT FRESH: silent since Sat 7 Mar 12:00 (67 min ago). The controller may have crashed" in shown
    assert "systemctl status hypocaust" in shown
    assert "silent since Sat 7 Mar 12:00 (the board has started again)" in text(status(), None)


def test_unset_clock_is_said():
    """Without a date the page says that the clock is not set."""
    assert "clock not set" in text(status(snapshot=ticks.snapshot(1000.0, wall_utc=None)))


@pytest.mark.parametrize(
    ("coldest_c", "passed_k", "season"),
    [
        (None, 0.0, "Season: nothing learned yet, so heat is banked"),
        (COLD_NIGHTS_C - 1.0, 0.0, "nights are cold, so even warm soil gets heat"),
        (COLD_NIGHTS_C + 1.0, 2.0, "nights are mild, so warm soil gets only cheap heat"),
        (
            COLD_NIGHTS_C - 1.0,
            3.0,
            "nights are cold and 3.0 K above the season's coldest, so only cheap heat is banked",
        ),
        (
            COLD_NIGHTS_C + 1.0,
            4.5,
            "nights are mild and 4.5 K above the season's coldest, so warm soil gets no more heat",
        ),
    ],
    ids=["unknown", "cold", "mild", "rising", "spring"],
)
def test_what_has_been_learned_of_the_nights_is_told(coldest_c, passed_k, season):
    """One line says how cold it has been lately and what that means for warm soil."""
    state = ticks.state(280.0)._replace(need=Need(coldest_c, 1000.0, passed_k))
    shown = text(status(state=state))
    assert season in shown
    assert ("coldest lately" in shown) is (coldest_c is not None)


def test_what_a_person_could_do_stands_below_the_air():
    """One line of advice, wrapped where it is long; none where there is none."""
    close = Advice(AdviceCode.CLOSE, 21.5, "bench", 10.0, 99 * 60.0, 3.0)
    shown = text(status(diagnosis=ticks.diagnosis()._replace(advice=close)))
    assert shown.index("Air:") < shown.index("Do: close doors and vents by 1") < shown.index("Season:")
    assert "Do: " not in text(status())


def test_heat_out_of_the_soil_is_told_as_such():
    """Negative heat is warmth coming back, written without a minus sign."""
    assert "1.8 kW out of the soil" in text(status(heat_w={"north": -1800.0, "south": None}))


def test_checks_by_hand_are_listed_with_their_dates():
    """What to do, how often, when last, when it is due: the never done first, the just done last."""
    noon_s = ticks.NOON.timestamp()
    done = {"floats": noon_s - 41 * 86400.0, "motors": noon_s - 86400.0, "ice-point": noon_s}
    said = ticks.diagnosis(attendance=Attendance({}, None, done))
    lines = page(status(diagnosis=said), 12.0, ticks.NOON)
    shown = " ".join(" ".join(line.text.split()) for line in lines)
    told = (
        "- residual-current: due now, never done yet; every 30 days: on a mild day press the test button",
        "- floats: due since Tue 24 Feb, last done 41 days ago; every 30 days: lift every float",
        "- motors: due Sun 5 Apr, last done yesterday; every 30 days",
        "- ice-point: due 7 Mar 2027, last done today; every 365 days",
    )
    places = [shown.index(words) for words in told]
    assert places == sorted(places)


def test_broken_promise_is_shown():
    """A safety rule found broken stands on the page."""
    assert "Safety rules found broken since the start: 2" in text(status(promises_broken=2))
    assert "broken" not in text(status(promises_broken=0))


@pytest.mark.parametrize("why", Why)
@pytest.mark.parametrize("age_s", [3.0, 400_000.0, None])
def test_no_line_is_wider_than_the_terminal(why, age_s):
    """Longest names, longest words, every cause: 80 columns hold."""
    missing = Missing(why, 0.0)
    base = ticks.snapshot(1000.0)
    loops = {name: type(readings)(missing, missing, missing) for name, readings in base.loops.items()}
    seen = base._replace(
        ceiling=missing, bench=missing, outdoor=missing, loops=loops, sumps={"low-corner": missing}
    )
    alarms = [ticks.alarm(code, "a-name-of-24-characters-x", "word " * 60) for code in FaultCode]
    told = status(snapshot=seen, diagnosis=ticks.diagnosis(*alarms), promises_broken=123456)
    told = told.model_copy(
        update={
            "title": "T" * 200,
            "alarms_left_out": 12345,
            "version": "v" * payloads.LONGEST_NAME,
            "loops": [
                loop.model_copy(update={"name": "n" * 24, "reason": "x" * 300, "lockouts": ["y" * 300]})
                for loop in told.loops
            ],
            "sumps": [sump.model_copy(update={"name": "s" * 24}) for sump in told.sumps],
        }
    )
    for line in page(told, age_s):
        assert len(line.text) <= WIDTH, line.text
