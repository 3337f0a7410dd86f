"""Fault scripts: read with the line of every mistake, and looked up by time."""

from __future__ import annotations

import math
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from controller.settings.problems import SettingsError
from controller.simulator.plant.fault_kinds import KELVIN, SHARE, SPECS, WATER, FaultKind, Size
from controller.simulator.plant.faults import FaultBoard, ScriptedFault, duration_s, load_faults
from controller.simulator.plant.faults_page import EXAMPLE, page
from tests.simulator.garden import EXAMPLE as EXAMPLE_SETTINGS
from tests.simulator.garden import settings

if TYPE_CHECKING:
    from pathlib import Path


def script(tmp_path: Path, text: str) -> Path:
    """A script file."""
    path = tmp_path / "faults.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_script_is_read_in_order_of_time(tmp_path: Path) -> None:
    """Times, subjects and the drift a day come out in SI, the earliest first."""
    probe, sump = next(iter(settings().probes)), next(iter(settings().sumps))
    text = (
        f'[[fault]]\nat = "2 d 6 h"\nfor = "90 min"\nkind = "pump-dead"\nsubject = "{sump}"\n'
        f'[[fault]]\nat = "10 s"\nkind = "probe-drift"\nsubject = "{probe}"\nby = "-0.5 K"\n'
    )
    assert load_faults(script(tmp_path, text), settings()) == (
        ScriptedFault(FaultKind.PROBE_DRIFT, probe, 10.0, by=-0.5),
        ScriptedFault(FaultKind.PUMP_DEAD, sump, 194_400.0, 199_800.0),
    )


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            'kind = "probe-lost"',
            '3: fault.0.kind: "probe-lost" is not a kind of fault; expected one of probe-silent',
        ),
        ('kind = "pump-dead"\nsubject = "north"', '4: fault.0.subject: "north" is not among the sumps'),
        ('kind = "bus-silent"\nfor = "3 weeks"', '4: fault.0.for: "3 weeks" is not a duration'),
        ('kind = "bus-silent"\nwhen = "3 d"', "4: fault.0.when: unknown key"),
        ('kind = "bus-silent"\nsubject = "north"', "4: fault.0.subject: bus-silent takes no subject"),
        (
            'kind = "probe-swapped"\nsubject = "bench"\nwith = "bench"',
            '5: fault.0.with: "bench" is not among the other probes',
        ),
        ('kind = "fan-dead"\nsubject = "north"\nwith = "south"', "5: fault.0.with: fan-dead takes no second"),
        (
            'kind = "tubes-silted"\nsubject = "north"\nby = "120 %"',
            '5: fault.0.by: "120 %" is not a size; expected how much of the tubes is shut, for example',
        ),
        ('kind = "fan-dead"\nsubject = "north"\nby = "1 K"', "5: fault.0.by: fan-dead has no size"),
    ],
)
def test_mistakes_name_file_line_and_key(tmp_path: Path, line: str, message: str) -> None:
    """What is wrong is said with the place and with what was expected."""
    path = script(tmp_path, f'[[fault]]\nat = "1 h"\n{line}\n')
    with pytest.raises(SettingsError) as caught:
        load_faults(path, settings())
    assert str(caught.value).startswith(f"{path}:{message}")


def test_all_mistakes_come_at_once(tmp_path: Path) -> None:
    """A missing time, a drift without its size and a stray key are reported together."""
    probe = next(iter(settings().probes))
    path = script(tmp_path, f'speed = 3\n[[fault]]\nkind = "probe-drift"\nsubject = "{probe}"\n')
    with pytest.raises(SettingsError) as caught:
        load_faults(path, settings())
    assert [problem.key for problem in caught.value.problems] == ["speed", "fault.0.at", "fault.0.by"]


def test_files_that_cannot_be_read_are_refused_in_words(tmp_path: Path) -> None:
    """No file, or no TOML, is a plain sentence."""
    with pytest.raises(SettingsError, match="cannot be read"):
        load_faults(tmp_path / "none.toml", settings())
    with pytest.raises(SettingsError, match=r"faults\.toml:2: .*this is not TOML"):
        load_faults(script(tmp_path, "a = 1\nb = = 2\n"), settings())
    with pytest.raises(SettingsError, match=r"expected \[\[fault\]\] tables"):
        load_faults(script(tmp_path, "fault = 3\n"), settings())
    for text in ("a = " + "[" * 5000, "a = " + "9" * 5000, "a" + ".a" * 5000 + " = 1"):
        with pytest.raises(SettingsError, match=r"nested too deeply|too many digits|more than 10 parts"):
            load_faults(script(tmp_path, text), settings())
    with pytest.raises(SettingsError, match="not a file"):
        load_faults(tmp_path, settings())


@pytest.mark.parametrize(
    ("written", "seconds"), [("90 s", 90.0), ("1.5 h", 5400.0), ("1d 2h 3min", 93_780.0)]
)
def test_durations(written: str, seconds: float) -> None:
    """Parts add up."""
    assert duration_s(written) == seconds


@pytest.mark.parametrize("written", ["", "h", "3", "-3 h", "3 h x", 5, None])
def test_what_is_no_duration(written: object) -> None:
    """Anything else is refused."""
    assert duration_s(written) is None


@pytest.mark.parametrize(
    ("kind", "written", "size"),
    [
        (KELVIN, "-0.5 K", -0.5),
        (SHARE, "40 %", 0.4),
        (WATER, "20 L", 0.02),
        (SHARE, "101 %", None),
        (SHARE, "-1 %", None),
        (WATER, "20", None),
        (KELVIN, 3, None),
    ],
)
def test_sizes(kind: Size, written: object, size: float | None) -> None:
    """A size carries its unit and stays within what there can be."""
    assert kind.read(written) == (size if size is None else pytest.approx(size))


def test_every_kind_is_specified_and_its_size_has_a_good_example() -> None:
    """No kind lacks its row, and what the page shows as an example can be read."""
    assert set(SPECS) == set(FaultKind)
    assert all(spec.by.read(spec.by.example) for spec in SPECS.values() if spec.by is not None)


def test_the_page_in_the_repository_is_fresh() -> None:
    """After a change of a kind it is written anew: python -m controller.simulator.plant.faults_page."""
    assert (EXAMPLE_SETTINGS.parent / "FAULTS.md").read_text(encoding="utf-8") == page()


def test_the_command_prints_the_page() -> None:
    """The page is made by running the module."""
    done = subprocess.run(
        [sys.executable, "-m", "controller.simulator.plant.faults_page"],
        capture_output=True, check=True, cwd=EXAMPLE_SETTINGS.parents[1], env={"PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    assert done.stdout.decode("utf-8") == page()


def test_the_example_on_the_page_is_a_good_script(tmp_path: Path) -> None:
    """It can be used as it stands with the example house."""
    kinds = [fault.kind for fault in load_faults(script(tmp_path, EXAMPLE), settings())]
    assert kinds == [FaultKind.BUS_HUNG, FaultKind.PUMP_CLOGGED, FaultKind.PROBE_SWAPPED]


def test_the_board_breaks_and_heals_in_time() -> None:
    """A fault is there from its time on until its end, and the next change is known."""
    board = FaultBoard([ScriptedFault(FaultKind.FAN_DEAD, "north", 100.0, 200.0)])
    assert board.next_change_s == 100.0
    assert not board.bring_up_to(99.0)
    assert board.bring_up_to(100.0)
    assert board.find(FaultKind.FAN_DEAD, "north")
    assert board.find(FaultKind.FAN_DEAD, "south") is None
    assert board.bring_up_to(200.0)
    assert not board.any()


@pytest.mark.parametrize("due_s", [108_000.0, 2.3 * 86_400.0, 2.32 * 86_400.0])
def test_a_change_is_due_although_the_time_so_far_is_a_rounding_short_of_it(due_s: float) -> None:
    """Added-up time may miss the last digit of a fault's time; the fault comes then, once."""
    board = FaultBoard([ScriptedFault(FaultKind.FAN_DEAD, "north", due_s, due_s + 60.0)])
    board.bring_up_to(0.0)
    nearly_s = math.nextafter(due_s, 0.0)
    assert board.bring_up_to(nearly_s)
    assert board.find(FaultKind.FAN_DEAD, "north") is not None
    assert board.next_change_s == due_s + 60.0
