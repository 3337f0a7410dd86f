"""The unit file: systemd accepts it, the sandbox is tight, and it says what the daemon relies on."""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

SYSTEMD = Path(__file__).parents[2] / "systemd"
UNIT = SYSTEMD / "hypocaust.service"
PROGRAM = "/opt/hypocaust/.venv/bin/hypocaust"
MOST_EXPOSURE = 1.5  # of 10; systemd calls this "OK"

needs_analyze = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None and "CI" not in os.environ,
    reason="systemd-analyze is not installed",
)


@pytest.fixture(scope="module")
def unit():
    """The unit as sections of keys, each with all its values in order."""
    sections = {}
    for line in UNIT.read_text(encoding="utf-8").splitlines():
        if header := re.fullmatch(r"\[(\w+)\]", line):
            section = sections.setdefault(header[1], {})
        elif line and not line.startswith("#"):
            key, value = line.split("=", 1)
            section.setdefault(key, []).append(value)
    return sections


@pytest.fixture
def verifiable(tmp_path):
    """A copy of the unit whose program exists on any machine."""
    text = UNIT.read_text(encoding="utf-8")
    assert text.count(f"={PROGRAM}") == 2
    copy = tmp_path / UNIT.name
    copy.write_text(text.replace(PROGRAM, "/bin/true"), encoding="utf-8")
    return copy


@needs_analyze
def test_systemd_accepts_every_line(verifiable):
    """The check of systemd itself finds nothing to say, not even a warning."""
    done = subprocess.run(
        ["systemd-analyze", "verify", str(verifiable)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@needs_analyze
def test_check_of_systemd_would_notice_an_unknown_line(verifiable):
    """The test above is able to fail."""
    text = verifiable.read_text(encoding="utf-8")
    verifiable.write_text(text.replace("WatchdogSec=20", "WatchDogSec=20"), encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", str(verifiable)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert "WatchDogSec" in done.stdout + done.stderr


@needs_analyze
def test_sandbox_is_tight(verifiable):
    """The exposure that systemd works out stays at or below one and a half of ten."""
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--no-pager", str(verifiable)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    exposure = re.search(r"Overall exposure level for \S+: ([\d.]+)", done.stdout)
    assert exposure is not None, done.stdout
    assert float(exposure[1]) <= MOST_EXPOSURE


def test_outputs_are_driven_off_after_every_end(unit):
    """The safe-off program follows a stop, a crash and a failed start, on the same settings file."""
    service = unit["Service"]
    assert service["ExecStart"] == [f"{PROGRAM} run /etc/hypocaust/house.toml"]
    assert service["ExecStopPost"] == [f"{PROGRAM} safe /etc/hypocaust/house.toml"]


def test_controller_is_never_given_up(unit):
    """It is restarted for ever, except where only a person can help: refused settings."""
    service = unit["Service"]
    assert service["Restart"] == ["always"]
    assert float(service["RestartSec"][0]) <= 10
    assert unit["Unit"]["StartLimitIntervalSec"] == ["0"]
    assert "StartLimitIntervalSec" not in service
    assert set(service["RestartPreventExitStatus"][0].split()) == {"2", "78"}


def test_watchdog_switches_a_program_that_stands_still_off_within_every_lease(unit):
    """Found, killed (also if it is stopped or in the kernel) and made safe within the shortest lease."""
    from controller.service.systemd import SAFE_WITHIN_S  # noqa: PLC0415
    from controller.settings.schema import Service  # noqa: PLC0415
    from controller.settings.schema.quantities import read_quantity  # noqa: PLC0415
    from controller.settings.schema.section import detail, quantity_kind  # noqa: PLC0415

    field = Service.model_fields["lease_s"]
    shortest_s, usual_s = (
        read_quantity(quantity_kind(field), text).si for text in (detail(field, "low"), field.default)
    )
    watchdog_s = float(unit["Service"]["WatchdogSec"][0])
    assert unit["Service"]["WatchdogSignal"] == ["SIGKILL"]
    assert watchdog_s + SAFE_WITHIN_S <= shortest_s
    assert watchdog_s + float(unit["Service"]["TimeoutAbortSec"][0]) + SAFE_WITHIN_S <= usual_s
    assert unit["Service"]["Type"] == ["notify"]
    assert unit["Service"]["NotifyAccess"] == ["main"]


def test_gpio_stays_usable_inside_the_sandbox(unit):
    """Chips are allowed as a class, the board's model can be read, and group gpio is not lost."""
    service = unit["Service"]
    assert service["DevicePolicy"] == ["closed"]
    assert service["DeviceAllow"] == ["char-gpiochip rw"]
    assert service["PrivateDevices"] == ["no"]
    assert service["ProcSubset"] == ["all"]
    assert service["PrivateUsers"] == ["no"]
    assert service["SupplementaryGroups"] == ["gpio"]


def test_libraries_find_the_surroundings_they_need(unit):
    """No fallback of pins, no modprobe, and lgpio's pipe in a directory that can be written."""
    service = unit["Service"]
    assert set(service["Environment"]) == {
        "LG_WD=%t/hypocaust",
        "GPIOZERO_PIN_FACTORY=lgpio",
        "W1THERMSENSOR_NO_KERNEL_MODULE=1",
        "MALLOC_ARENA_MAX=1",
        "PYTHONTZPATH=/usr/share/zoneinfo",
        "PYTHONOPTIMIZE=2",
        "PYTHONPYCACHEPREFIX=/opt/hypocaust/pycache",
    }
    assert service["WorkingDirectory"] == ["%t/hypocaust"]
    assert service["RuntimeDirectory"] == ["hypocaust"]
    assert service["StateDirectory"] == ["hypocaust"]


def test_timers_outlive_a_restart_by_hand(unit):
    """Minimum rests hold across stop and start because the runtime directory is kept until the next boot."""
    assert unit["Service"]["RuntimeDirectoryPreserve"] == ["yes"]


def test_network_is_closed_but_for_the_machine_itself(unit):
    """Only localhost is reachable until a person adds the broker's address; nothing waits for a network."""
    service = unit["Service"]
    assert service["IPAddressDeny"] == ["any"]
    assert service["IPAddressAllow"] == ["localhost"]
    assert "AF_UNIX" in service["RestrictAddressFamilies"][0].split()
    assert not re.search(r"network|time-sync", " ".join(unit["Unit"]["After"]))


def test_user_and_group_are_declared(unit):
    """The user of the unit is made by the file beside it, as a member of the group that owns the chips."""
    declared = [
        line.split()
        for line in (SYSTEMD / "hypocaust.sysusers.conf").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    assert ["g", "gpio"] in [words[:2] for words in declared]
    assert ["u", unit["Service"]["User"][0]] in [words[:2] for words in declared]
    assert ["m", unit["Service"]["User"][0], "gpio"] in [words[:3] for words in declared]


@pytest.mark.skipif(shutil.which("systemd-sysusers") is None, reason="systemd-sysusers is not installed")
def test_user_file_is_valid():
    """systemd-sysusers reads the file without complaint."""
    done = subprocess.run(
        ["systemd-sysusers", "--dry-run", str(SYSTEMD / "hypocaust.sysusers.conf")],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0
    assert "hypocaust.sysusers.conf:" not in done.stderr


def test_device_rules_are_comparisons_followed_by_assignments():
    """Every rule names what it matches and what it sets, and its shell command is well formed."""
    rules = [
        line
        for line in (SYSTEMD / "60-hypocaust-gpio.rules").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    term = r'[A-Z]+(?:==|=|\+=)"[^"]*"'
    assert len(rules) == 2
    for rule in rules:
        assert re.fullmatch(rf"{term}(?:, {term})*", rule), rule
        assert rule.startswith("SUBSYSTEM==")
        assert re.search(r'[A-Z](?:=|\+=)"', rule)
        for command in re.findall(r"/bin/sh -c '([^']*)'", rule):
            subprocess.run(["/bin/sh", "-n", "-c", command], check=True, timeout=10)


def test_unit_has_no_section_systemd_does_not_know():
    """A misspelt section would be ignored with all its lines."""
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str
    parser.read_string(UNIT.read_text(encoding="utf-8"))
    assert parser.sections() == ["Unit", "Service", "Install"]
