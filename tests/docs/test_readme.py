"""Every command, path and settings block in the README, and in the page on installing, is true."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys

import pytest

from controller import __version__
from controller.cli import _parser
from controller.diagnosis.attendance import EMPTY_FOR_S
from controller.faults import ABOUT_THE_CROP, DAY_S, MAY_BE_SEEN, FaultCode
from controller.service.operator_requests import DAWN_HOUR
from controller.settings.load import load, parse
from controller.settings.schema.quantities import read_quantity
from controller.telemetry.hand_checks import HAND_CHECKS
from tests.process.bench import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = ["README.md", *sorted(str(page.relative_to(ROOT)) for page in (ROOT / "systemd").glob("*.md"))]
# Installing has a page of its own.
INSTALLING = (ROOT / "systemd" / "README.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"<!-- (?P<mark>[^>]*?) -->\n *```(?P<language>\w+)\n(?P<text>.*?)\n *```", re.DOTALL)


def blocks(mark: str, page: str = f"{README}\n{INSTALLING}") -> list[str]:
    """The code blocks under a marker."""
    return [found["text"] for found in BLOCK.finditer(page) if found["mark"] == mark]


def lines(mark: str, page: str = f"{README}\n{INSTALLING}") -> list[list[str]]:
    """The commands in those blocks, as words, without comments."""
    words = [shlex.split(line, comments=True) for block in blocks(mark, page) for line in block.splitlines()]
    return [line for line in words if line]


def hypocaust_commands() -> list[list[str]]:
    """Every use of our command that README asks a person to type."""
    marks = ("command: rehearse", "try", "board", "package")
    typed = [line for mark in marks for line in lines(mark)]
    found = []
    for line in typed:
        for start, word in enumerate(line):
            if word.endswith("bin/hypocaust") or (word == "hypocaust" and line[:start] in ([], ["sudo"])):
                found.append(line[start + 1 :])
    return found


@pytest.mark.parametrize("page", PAGES)
def test_every_code_block_is_marked(page: str) -> None:
    """No block escapes these tests: each has a marker above it."""
    text = (ROOT / page).read_text(encoding="utf-8")
    assert text.count("```") == 2 * sum(1 for _ in BLOCK.finditer(text))


@pytest.mark.parametrize("mark", ["command: rehearse", "command: test"])
def test_the_two_commands_are_single_lines(mark: str) -> None:
    """Each of the two is one line to copy, with all of its own set-up."""
    (text,) = blocks(mark)
    assert "\n" not in text
    assert "apt-get install" in text
    assert "venv" in text
    assert "pip install" in text


def test_every_command_is_understood() -> None:
    """The command line accepts every hypocaust command in README as it is printed."""
    commands = hypocaust_commands()
    assert len(commands) >= 9
    for words in commands:
        _parser().parse_args(words)


def test_every_command_of_the_program_is_in_the_table() -> None:
    """The command table names exactly the commands the program has."""
    table = set(re.findall(r"^\| `hypocaust (\w+)", README, re.MULTILINE))
    done = subprocess.run(
        [sys.executable, "-m", "controller", "--help"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert table == set(re.findall(r"^    (\w+)  ", done.stdout, re.MULTILINE))


def test_settings_blocks_load() -> None:
    """Each settings block, put into the smallest house, is accepted as it is printed."""
    smallest = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8")
    shown = blocks("settings")
    assert shown
    for block in shown:
        parse(f"{smallest}\n{block}", "README.md")


@pytest.mark.parametrize("page", [*PAGES, "DEVELOPERS.md", "tests/lab/README.md"])
def test_every_linked_file_exists(page: str) -> None:
    """Links lead somewhere, from the folder of the page."""
    text = (ROOT / page).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert target.startswith("https:") or (ROOT / page).parent.joinpath(target).exists(), target


def test_every_file_named_for_the_board_exists() -> None:
    """Paths that a person copies to the board lead somewhere."""
    for line in lines("board"):
        for word in line:
            if word.startswith(("config/", "systemd/")):
                assert (ROOT / word).exists(), word


def test_the_install_paths_are_those_of_the_unit() -> None:
    """Where pip installs is where the service looks."""
    unit = (ROOT / "systemd" / "hypocaust.service").read_text(encoding="utf-8")
    assert "/opt/hypocaust/.venv/bin/hypocaust run /etc/hypocaust/house.toml" in unit
    text = "\n".join(blocks("board", INSTALLING))
    assert "/opt/hypocaust/.venv" in text
    assert "/etc/hypocaust/house.toml" in text


def test_the_board_steps_are_complete() -> None:
    """Bytecode goes where the unit looks for it, and udev's rules are read anew after they are installed."""
    unit = (ROOT / "systemd" / "hypocaust.service").read_text(encoding="utf-8")
    steps = [" ".join(line).removeprefix("sudo ") for line in lines("board", INSTALLING)]
    compiled = next(step for step in steps if "compileall" in step)
    for name in ("PYTHONOPTIMIZE", "PYTHONPYCACHEPREFIX"):
        (wanted,) = re.findall(rf"^Environment=({name}=\S+)$", unit, re.MULTILINE)
        assert wanted in compiled.split()
    assert steps.index("udevadm control --reload") > next(
        n for n, step in enumerate(steps) if "udev/rules.d" in step
    )
    rules = (ROOT / "systemd" / "60-hypocaust-gpio.rules").read_text(encoding="utf-8")
    trigger = next(step for step in steps if step.startswith("udevadm trigger"))
    assert {
        f"--subsystem-match={name}" for name in re.findall(r'^SUBSYSTEM=="(\w+)"', rules, re.MULTILINE)
    } <= set(trigger.split())
    assert {f"--action={name}" for name in re.findall(r'ACTION=="(\w+)"', rules)} <= set(trigger.split())


def test_the_package_steps_name_the_release_and_the_machines() -> None:
    """The file that is installed is the one that the line above builds."""
    (arch,) = (line[-1] for line in lines("build") if line[0] == "systemd/package/build")
    assert f"./hypocaust_{__version__}_{arch}.deb" in "\n".join(blocks("package")).split()


def test_numbers_in_the_text_are_the_defaults() -> None:
    """Figures README states are those of the shipped house."""
    house = load(ROOT / "config" / "house.toml")
    assert house.fire.level_c == 65.0
    assert "any air probe at 65 °C" in README
    assert house.service.tick_s == 10.0
    assert "Every ten seconds" in README
    assert house.pump.duty_run_s + house.pump.duty_rest_s == 900.0
    assert "one minute in fifteen" in README


def test_what_can_be_muted_and_what_never_is_as_the_program_has_it() -> None:
    """The codes README names are exactly those of the program; so are dawn and the days of an empty house."""
    flat = " ".join(README.split())
    crop = flat.split("the crop's alarms (")[1].split(")")[0]
    never = flat.split("can never be muted: ")[1].split(" call whatever")[0]
    assert set(re.findall(r"`([a-z-]+)`", crop)) == {code.value for code in ABOUT_THE_CROP}
    assert set(re.findall(r"`([a-z-]+)`", never)) == {code.value for code in FaultCode} - {
        code.value for code in MAY_BE_SEEN
    }
    assert f"at {DAWN_HOUR:02d}:00 local time" in flat
    assert f"call nobody for {EMPTY_FOR_S / DAY_S:.0f} days" in flat
    assert (len(HAND_CHECKS), "lists nine such checks" in flat) == (9, True)


def test_settings_named_in_the_float_notes_are_those_of_the_house() -> None:
    """Each `key = value` that the notes quote stands so in the shipped file, or is the default."""
    text = (ROOT / "hardware-notes" / "float.md").read_text(encoding="utf-8")
    house = load(ROOT / "config" / "house.toml")
    pump, sump = house.pump, house.sumps["main"]
    quoted = dict(re.findall(r'`(\w+) = "?([^"`]+)"?`', text))
    assert quoted.pop("float_kind") == sump.float_kind
    assert len(quoted) == 9
    for key, value in quoted.items():
        held = sump if key in ("wet_after", "dry_after") else pump
        number = getattr(held, key if key == "starts_per_hour" else f"{key}_s")
        assert number == (float(value) if value.isdigit() else read_quantity("duration", value).si)


@pytest.mark.rehearsal
def test_the_rehearsal_command_does_what_it_says() -> None:
    """The main command runs to its end and reports that no promise was broken."""
    done = subprocess.run(
        [sys.executable, "-m", "controller", "rehearse", "config/house.toml", "--days", "1"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "none broken" in done.stdout


def test_mosquitto_tools_are_named_as_they_are_called() -> None:
    """The subscriber README uses comes with what it installs, for tests and board, and is there."""
    assert any(line[0] == "mosquitto_sub" for line in lines("try"))
    for mark in ("command: test", "board"):
        assert "mosquitto-clients" in "\n".join(blocks(mark)).split()
    assert shutil.which("mosquitto_sub") is not None
