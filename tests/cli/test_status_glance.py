"""The status on one screen of 80 x 24, one line below left for the prompt."""

from __future__ import annotations

from datetime import timedelta

import pytest

from controller.cli.status_glance import cut, glance
from controller.cli.status_lines import WIDTH, Line
from controller.decision.state import Need
from controller.diagnosis.attendance import Attendance, Deadline
from controller.diagnosis.heat_share import HeatShare
from controller.faults import FaultCode
from controller.telemetry import payloads
from controller.telemetry.build import build_status
from tests.telemetry import ticks

ROWS = 23
NOW = ticks.NOON + timedelta(seconds=12)
SOME = (
    ticks.alarm(FaultCode.FROST, "", "air 0.4 °C, limit 2.0 °C"),
    ticks.alarm(FaultCode.SUMP_NOT_EMPTYING, "low-corner", "wet for 46 min"),
    ticks.alarm(FaultCode.FAN_NO_EFFECT, "north", "looks as still with the fan on as off"),
    ticks.alarm(FaultCode.PROBE, "south-soil", "does not answer"),
    ticks.alarm(FaultCode.LINK, "", "the broker refuses connections"),
)


def status(*alarms, **changed):
    """The status of a tick with these alarms."""
    evidence = changed.pop("evidence", {})
    tick = ticks.tick(diagnosis=ticks.diagnosis(*alarms, **evidence), **changed)
    return build_status(tick, ticks.PROGRAM, valid_s=30.0)


def lines(told, age_s=12.0, rows=ROWS):
    """The screen, each line checked for its width."""
    shown = [line.text for line in glance(told, age_s, NOW, rows)]
    assert all(len(line) <= WIDTH for line in shown), shown
    assert len(shown) <= rows, shown
    return shown


def one(shown, beginning):
    """The only line that begins so."""
    (found,) = [line for line in shown if line.startswith(beginning)]
    return found


def test_a_quiet_house_has_one_line_for_everything():
    """House, air, each loop, the sump, what was learned, the day, what is due: eight lines."""
    state = ticks.state(280.0)._replace(need=Need(-2.1, 1000.0))
    shares = {"north": HeatShare(0.6, 99_999.0), "south": HeatShare(1.0, 99_999.0)}
    shown = lines(status(state=state, evidence={"heat_shares": shares}))
    assert len(shown) == 8
    assert one(shown, "Fellside school garden").endswith("12 s ago · Sat 7 Mar 12:00")
    assert one(shown, "Air:") == "Air: ceiling 31.2 °C · bench 24.0 °C · outdoors not fitted"
    assert one(shown, "north:") == ("north: on 12 min, banking · 2.4 kW into soil 14.2 °C · outlet 19.8 °C")
    assert one(shown, "south:").startswith(
        "south: off 12 min · soil unknown · locked: soil temperature unknown"
    )
    assert one(shown, "low-corner:") == "low-corner: dry, pump off 12 min · today 80 s in 2 runs"
    learned = "Learned: coldest lately -2.1 °C, so bank all heat · north moves 60 % of its heat"
    assert one(shown, "Learned:") == learned
    assert one(shown, "Today: banked 8.1 kWh")
    assert one(shown, "Due by hand") == (
        "Due by hand: floats (never), residual-current (never) and 7 more: --all"
    )


def test_one_alarm_has_room_for_everything():
    """What it is, since and until when, the numbers, cause, consequence and what to do: above the rest."""
    shown = lines(status(SOME[0]))
    assert shown[1] == "! ACT NOW: frost, since 11:59, act within 1 hour"
    text = " ".join(" ".join(shown).split())
    for words in ("air 0.4 °C, limit 2.0 °C", "Cause: ", "If nobody acts: ", "Do: "):
        assert words in text
    assert shown.index(one(shown, "Air:")) > shown.index(one(shown, "  Do:"))


def test_five_alarms_all_have_their_cause_and_their_time():
    """The most urgent first and with what to do; nothing below them is pushed off the screen."""
    shown = lines(status(*SOME))
    titles = [number for number, line in enumerate(shown) if line.startswith("! ")]
    assert [shown[n].split(":")[0] for n in titles] == ["! ACT NOW"] * 2 + ["! TODAY"] + ["! THIS WEEK"] * 2
    assert all("act within" in shown[n] and "Cause: " in shown[n + 1] for n in titles)
    assert "  Do: " in shown[titles[0] + 2]
    assert "Causes and what to do in full: hypocaust status --all" in shown
    assert one(shown, "Today:")
    assert one(shown, "low-corner:")


def test_any_number_of_alarms_and_loops_ends_with_how_much_is_missing():
    """Every fault, sixteen loops, the longest names and words: the screen holds and says what it lacks."""
    alarms = [ticks.alarm(code, "n" * payloads.LONGEST_NAME, "word " * 80) for code in FaultCode]
    told = status(*alarms)
    loop, sump = told.loops[0], told.sumps[0]
    long = {"name": "n" * 24, "reason": "x" * 300, "lockouts": ["y" * 300]}
    told = told.model_copy(
        update={
            "title": "T" * 200,
            "alarms_left_out": 12345,
            "loops": [loop.model_copy(update=long | {"fan_on": False})] * 8
            + [loop.model_copy(update=long)] * 8,
            "sumps": [sump.model_copy(update={"name": "s" * 24, "lockouts": ["z" * 300]})] * 4,
        }
    )
    for age_s in (3.0, 400_000.0, None):
        shown = lines(told, age_s)
        assert shown[-1].startswith("... and ")
        assert shown[-1].endswith(" more lines: --all")
        assert "! ACT NOW" in " ".join(shown)


@pytest.mark.parametrize("rows", [2, 9, 23, 60])
def test_it_fits_terminals_of_any_height(rows):
    """A tall one shows every alarm in full, a small one the most urgent."""
    shown = lines(status(*SOME), rows=rows)
    text = " ".join(shown)
    assert ("If nobody acts: Control goes on; phones see nothing new." in text) is (rows == 60)
    assert ("frost" in text) is (rows > 2)


def test_temperatures_follow_the_unit_of_the_site():
    """A Fahrenheit site reads °F on the whole screen, within its 80 columns."""
    state = ticks.state(280.0)._replace(need=Need(-2.1, 1000.0))
    text = " ".join(lines(status(SOME[3], settings=ticks.settings(show="°F"), state=state)))
    for words in ("ceiling 88.2 °F", "into soil 57.6 °F", "coldest lately 28.2 °F", "46.6 °F to 75.7 °F"):
        assert words in text
    assert "°C" not in text


def test_what_was_said_is_shown():
    """Who has seen an alarm and when, that the house is empty and until when, and what was done by hand."""
    noon_s = ticks.NOON.timestamp()
    alarms = (
        ticks.alarm(FaultCode.LINK, "", seen=True, seen_utc_s=noon_s - 900.0),
        ticks.alarm(FaultCode.FROST, "", "air 0.4 °C", muted=True),
    )
    done = {"floats": noon_s - 41 * 86400.0, "motors": noon_s - 86400.0}
    said = Attendance({}, Deadline(90_000.0, noon_s + 86400.0), done)
    shown = lines(status(*alarms, evidence={"attendance": said}))
    assert "seen by somebody at 11:45" in one(shown, "! THIS WEEK: link")
    assert "muted, the house is empty" in one(shown, "! ACT NOW: frost")
    unanswered = ticks.alarm(FaultCode.PROBE, "ridge", "does not answer")
    first = next(line for line in lines(status(*alarms, unanswered)) if line.startswith("! "))
    assert first.startswith("! THIS WEEK: probe"), "what nobody has answered comes first"
    assert one(shown, "House empty") == "House empty: alarms of a crop call nobody until Sun 8 Mar 12:00."
    everything = dict.fromkeys(("residual-current", "fire-alarm", "box", "pump", "grilles"), noon_s)
    said = said._replace(done=done | everything | dict.fromkeys(("air-probes", "ice-point"), noon_s))
    shown = lines(status(evidence={"attendance": said}))
    assert one(shown, "Due by hand") == "Due by hand: floats (last 41 days ago): --all"
    said = said._replace(done=said.done | {"floats": noon_s})
    assert not any("by hand" in line for line in lines(status(evidence={"attendance": said})))


def test_the_signal_has_one_line_where_it_is_fitted():
    """On or off, the lamp beside it, and why a person is called; nothing without a signal or after a stop."""
    fitted = ticks.settings(signal={"pin": 25, "today_pin": 16})
    told = status(settings=fitted, signals=ticks.signals(fitted))
    assert one(lines(told), "Signal") == "Signal on · today's lamp off · calls nobody"
    called = ticks.signals(fitted, SOME[0])
    told = status(SOME[0], settings=fitted, signals=called)
    shown = one(lines(told), "Signal")
    assert shown.startswith("Signal off · today's lamp on · calls a person; alarms to act on now: 1")
    assert not any("Signal" in line for line in lines(told.model_copy(update={"stopped": True})))
    assert not any("Signal" in line for line in lines(status()))


def test_a_cut_page_counts_what_it_lacks():
    """One line for what is missing, and nothing where all fits."""
    page = [Line(str(n)) for n in range(5)]
    assert cut(page, 5, "--all") == page
    assert [line.text for line in cut(page, 3, "--all")] == ["0", "1", "... and 3 more lines: --all"]
