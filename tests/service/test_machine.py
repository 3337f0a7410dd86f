"""What the service needs of a machine is looked for where systemd, udev and the kernel have it."""

from __future__ import annotations

import grp
import os
import pwd

import pytest

from controller.service import machine
from controller.service.installed import State, program
from controller.service.machine import looks_at_machine
from tests.process.bench import ROOT

HOUSE = (ROOT / "config" / "one-loop.toml").read_text(encoding="utf-8")
MINE = HOUSE.replace("28-01a4c07d", "28-0316a279")


@pytest.fixture
def user(monkeypatch):
    """The service's user is the one who runs the test, and in group gpio."""
    me = pwd.getpwuid(os.getuid())
    own = grp.getgrgid(me.pw_gid).gr_name
    monkeypatch.setattr(machine, "SERVICE_USER", me.pw_name)
    monkeypatch.setattr(machine, "PIN_GROUP", own)
    return me


@pytest.fixture
def root(tmp_path):
    """A machine with everything on it."""
    for name in ("etc/hypocaust", "usr/lib/systemd/system", "usr/lib/udev/rules.d", "dev"):
        (tmp_path / name).mkdir(parents=True)
    unit = f"[Service]\nExecStart={program()} run /etc/hypocaust/house.toml\n"
    (tmp_path / "usr/lib/systemd/system/hypocaust.service").write_text(unit, encoding="utf-8")
    (tmp_path / "usr/lib/udev/rules.d/60-hypocaust-gpio.rules").touch()
    (tmp_path / "dev/gpiochip0").touch()
    (tmp_path / "dev/gpiochip0").chmod(0o660)
    (tmp_path / "sys/bus/w1/devices/28-0316a2790001").mkdir(parents=True)
    settings = tmp_path / "etc/hypocaust/house.toml"
    settings.write_text(MINE, encoding="utf-8")
    settings.chmod(0o640)
    return tmp_path


def looks(root):
    """Every look by its name."""
    return {look.what: look for look in looks_at_machine(root / "etc/hypocaust/house.toml", root)}


@pytest.mark.usefixtures("user")
def test_a_machine_that_has_everything_passes(root):
    """Only the service is not here, because no systemd runs below that root."""
    found = looks(root)
    assert {what for what, look in found.items() if look.state is not State.PASS} == {"service"}
    assert "1 probe on it" in found["1-wire bus"].words


UNIT = "usr/lib/systemd/system/hypocaust.service"
RULE = "usr/lib/udev/rules.d/60-hypocaust-gpio.rules"
SETTINGS = "etc/hypocaust/house.toml"
CHIP = "dev/gpiochip0"
PROBE = "sys/bus/w1/devices/28-0316a2790001"


@pytest.mark.usefixtures("user")
@pytest.mark.parametrize(
    ("what", "spoil", "state", "words"),
    [
        ("unit", lambda root: (root / UNIT).unlink(), State.FAIL, "not installed"),
        ("udev rule", lambda root: (root / RULE).unlink(), State.FAIL, "not installed"),
        ("settings", lambda root: write(root, "tick = 5\n"), State.FAIL, "5 errors, the first"),
        ("settings", lambda root: write(root, HOUSE), State.NOT_HERE, "still the example"),
        ("permissions", lambda root: (root / SETTINGS).chmod(0o646), State.FAIL, "others"),
        ("permissions", lambda root: (root / SETTINGS).unlink(), State.FAIL, "No such file"),
        ("pins", lambda root: (root / CHIP).unlink(), State.NOT_HERE, "no GPIO chip"),
        ("pins", lambda root: (root / CHIP).chmod(0o600), State.FAIL, "may not use"),
        ("1-wire bus", lambda root: (root / PROBE).rmdir(), State.NOT_HERE, "no probe"),
    ],
)
def test_each_thing_that_is_missing_is_named(root, what, spoil, state, words):
    """One thing is taken away, and its look alone changes."""
    spoil(root)
    look = looks(root)[what]
    assert (look.state, words in look.words) == (state, True), look


def write(root, text):
    """Put other settings into the machine."""
    (root / "etc/hypocaust/house.toml").write_text(text, encoding="utf-8")


@pytest.mark.usefixtures("user")
def test_a_unit_of_another_installation_is_found_out(root):
    """A unit in /etc outranks the package's, and would start something else."""
    folder = root / "etc/systemd/system"
    folder.mkdir(parents=True)
    (folder / "hypocaust.service").write_text(
        "[Service]\nExecStart=/opt/other/hypocaust run x\n", encoding="utf-8"
    )
    look = looks(root)["unit"]
    assert look.state is State.FAIL
    assert "/opt/other/hypocaust" in look.words


def test_a_machine_without_the_user_says_so(root, monkeypatch):
    """The user and what depends on it fail with the command that makes it."""
    monkeypatch.setattr(machine, "SERVICE_USER", "no-such-user-here")
    found = looks(root)
    assert found["user"].state is State.FAIL
    assert "systemd-sysusers" in found["user"].words
    assert found["permissions"].state is State.FAIL


@pytest.mark.usefixtures("user")
@pytest.mark.parametrize(
    ("enabled", "runs", "state"),
    [
        ("enabled", "active", State.PASS),
        ("enabled", "failed", State.FAIL),
        ("disabled", "inactive", State.NOT_HERE),
        ("", "", State.NOT_HERE),
    ],
)
def test_the_service_is_asked_after_where_systemd_runs(root, monkeypatch, enabled, runs, state):
    """Running and enabled passes, failed fails, and at rest it is not here yet."""
    (root / "run/systemd/system").mkdir(parents=True)
    monkeypatch.setattr(machine, "_asked", {"is-enabled": enabled, "is-active": runs}.__getitem__)
    assert looks(root)["service"].state is state
