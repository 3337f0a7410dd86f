"""The outlook on the night as a message, on the screens, and as a command."""

from __future__ import annotations

import io
import json
from typing import TYPE_CHECKING

import pytest

from controller.cli import main
from controller.cli.status_glance import glance
from controller.cli.tonight import tonight
from controller.clock import SystemClock, boot_id
from controller.diagnosis.evening import Evening, Expected
from controller.forecast.outlook import Outlook
from controller.forecast.store import Heater, Lasts
from controller.forecast.watch import Given, no_nights
from controller.history.rows import EventCode
from controller.readings.said import Act, Said
from controller.service.mailbox import leave
from controller.service.operator_requests import SAY, OperatorRequests
from controller.service.running import marked
from controller.settings.ownership import open_directory
from controller.telemetry.build import Program, build_status, build_tonight
from controller.telemetry.publisher import Publisher
from controller.telemetry.status_file import StatusFile
from tests.telemetry import ticks
from tests.telemetry.test_publisher import Bag

if TYPE_CHECKING:
    from pathlib import Path

    from controller.record.tick import TickRecord

NIGHT = Outlook(3.12, 2.3, 0.8, 5.4, by_forecast=True)
EXPECTED = Expected(NIGHT, 0.4, -2.0, 2.9, Lasts.UNTIL, 8.0 * 3600.0, Heater.NEEDED, 1800.0)


def a_tick(expected: Expected | str, at_s: float = 1000.0, now_s: float = 1000.0) -> TickRecord:
    """A finished tick with this outlook, made at ``at_s``."""
    nights = no_nights()._replace(learned=30, given=Given(-7.0, at_s))
    told = ticks.diagnosis(evening=Evening(nights, expected, at_s))
    return ticks.tick(7, now_s, diagnosis=told)


def test_the_message_has_numbers_for_programs_and_a_sentence_for_people() -> None:
    """Times in UTC; it holds for an hour and is renewed before."""
    message = build_tonight(a_tick(EXPECTED))
    assert (message.low_c, message.low_from_c, message.low_to_c) == (3.1, 0.8, 5.4)
    assert (message.without_store_c, message.forecast_low_c, message.nights_seen) == (0.4, -7.0, 30)
    assert (message.store, message.store_lasts_until) == ("lasts until", "2026-03-07T20:00:05Z")
    assert (message.heater, message.heater_from) == ("needed", "2026-03-07T12:30:05Z")
    assert message.words.startswith("Tonight about 3.1 °C (0.8 to 5.4). Without the store about 0.4 °C.")
    assert (message.why, message.valid_for_s) == (None, 3600.0)


@pytest.mark.parametrize(
    ("expected", "now_s", "why"),
    [("it is day", 1000.0, "it is day"), (EXPECTED, 1000.0 + 4000.0, "the outlook is old")],
)
def test_without_an_outlook_there_is_no_number(expected: Expected | str, now_s: float, why: str) -> None:
    """The sentence says why; an old outlook is none."""
    message = build_tonight(a_tick(expected, now_s=now_s))
    assert (message.low_c, message.heater, message.store) == (None, None, None)
    assert message.why is not None
    assert message.why.startswith(why)


def test_it_is_published_retained_from_time_to_time_and_when_a_heater_is_needed() -> None:
    """A phone that connects late finds it; small changes do not make traffic."""
    bag = Bag()
    publisher = Publisher(bag, ticks.PROGRAM, lambda: 0)
    ready = EXPECTED._replace(heater=Heater.READY)
    sent = []
    for expected, now_s in ((ready, 1000.0), (ready, 1100.0), (EXPECTED, 1200.0), (EXPECTED, 2100.0)):
        publisher.observe(a_tick(expected, now_s, now_s))
        sent.append(bag.empty().get("tonight"))
    assert [letter is not None for letter in sent] == [True, False, True, True]
    assert (sent[0].retain, sent[0].qos, sent[0].expires_s) == (True, 1, 3600.0)
    assert json.loads(sent[2].payload)["heater"] == "needed"


def shown(directory: Path, expected: Expected | str, path: str | None = None) -> tuple[int, list[str]]:
    """What the command prints."""
    now_s = SystemClock().monotonic_s()
    StatusFile(directory, Program("0.1.0", boot_id(), 100.0)).observe(a_tick(expected, now_s, now_s))
    out = io.StringIO()
    code = tonight(path, directory / "house.toml", None, out)
    return code, out.getvalue().splitlines()


def test_the_command_prints_the_outlook_line_by_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It needs nothing but the status file."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    code, lines = shown(tmp_path, EXPECTED)
    assert code == 0
    assert lines[1:3] == ["Tonight about 3.1 °C (0.8 to 5.4)", "Without the store about 0.4 °C"]
    assert lines[-2:] == [
        "With a forecast low of -7.0 °C outdoors, as it was given",
        "Nights learned from: 30",
    ]
    code, lines = shown(tmp_path, "3 more nights must be seen first")
    assert lines[1].startswith("No outlook on the night: 3 more nights must be seen first.")
    assert all(len(line) <= 80 for line in lines)


def test_a_low_that_is_typed_in_reaches_the_controller_and_is_answered(tmp_path: Path) -> None:
    """It goes the way of everything that is said on the machine; what is no temperature goes no further."""
    with marked(tmp_path) as run, open_directory(tmp_path) as directory:
        requests = OperatorRequests(tmp_path, run, SystemClock())
        for written, said in (("-7.78", (Said(Act.LOW, "-7.78"),)), ("nan", ()), ("1e9", ())):
            leave(directory, SAY, run, f"low {written}")
            assert requests.said() == said


def test_whatever_a_person_can_say_has_its_place_in_the_history() -> None:
    """A note without one would cost the history its tick."""
    assert {act.value for act in Act} <= {code.value for code in EventCode}


@pytest.mark.parametrize("low", ["18", "hot", "200 C", "5 K"])
def test_a_low_needs_a_unit_and_must_be_weather(low: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It is refused before anybody is asked."""
    with pytest.raises(SystemExit):
        main(["tonight", f"--low={low}"])
    assert "--low" in capsys.readouterr().err


def test_the_screen_has_it_on_one_line() -> None:
    """Beside all else that the screen must hold."""
    status = build_status(a_tick(EXPECTED), ticks.PROGRAM, valid_s=60.0)
    lines = [line.text for line in glance(status, 1.0, None, 23)]
    assert "Tonight: 3.1 °C (0.8 to 5.4) · without the store 0.4 °C · heater: needed" in lines
