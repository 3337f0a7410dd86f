"""Can the service work on this machine? Its unit, user, rules and settings, and the hardware it drives."""

from __future__ import annotations

import grp
import os
import pwd
import re
import stat
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

from controller.service import running
from controller.service.burden import burden, holder
from controller.service.installed import Look, State, program
from controller.settings.load import SettingsError, load
from controller.settings.ownership import SERVICE_USER

if TYPE_CHECKING:
    from collections.abc import Iterator

UNIT = "hypocaust.service"
RULE = "60-hypocaust-gpio.rules"
PIN_GROUP = "gpio"
# Where systemd and udev look, what a person has put there first (systemd.unit(5), udev(7)).
UNIT_FOLDERS = ("etc/systemd/system", "run/systemd/system", "usr/lib/systemd/system", "lib/systemd/system")
RULE_FOLDERS = ("etc/udev/rules.d", "run/udev/rules.d", "usr/lib/udev/rules.d", "lib/udev/rules.d")
SYSTEMD_RUNS = "run/systemd/system"  # sd_booted(3)
EXAMPLE_PROBES = "28-01a4c07"  # how the identities in the shipped examples begin; no real part has them
PATIENCE_S = 10.0
MARK = f"run/hypocaust/{running.NAME}"


def looks_at_machine(settings: Path, root: Path = Path("/")) -> Iterator[Look]:
    """Look at everything around the program, one thing after the other.

    Args:
        settings: the settings file.
        root: where the machine's directories are.
    """
    yield _user()
    yield _unit(root)
    yield _service(root)
    yield _rule(root)
    yield _closed(settings)
    yield _good(settings)
    yield _pin_chips(root)
    yield _bus(root)
    yield from _burden(root)


def _user() -> Look:
    """The service's user and the group that owns the pins."""
    try:
        user = pwd.getpwnam(SERVICE_USER)
    except KeyError:
        return Look("user", State.FAIL, f"there is no user {SERVICE_USER}; make it: sudo systemd-sysusers")
    if PIN_GROUP not in _groups_of(user):
        return Look(
            "user", State.FAIL, f"{SERVICE_USER} is not in group {PIN_GROUP}; mend it: sudo systemd-sysusers"
        )
    return Look("user", State.PASS, f"{SERVICE_USER} is there and in group {PIN_GROUP}")


def _groups_of(user: pwd.struct_passwd) -> set[str]:
    """The names of all groups a user is in."""
    numbers = os.getgrouplist(user.pw_name, user.pw_gid)
    return {entry.gr_name for entry in grp.getgrall() if entry.gr_gid in numbers}


def _first(root: Path, folders: tuple[str, ...], name: str) -> Path | None:
    """The file that counts among several of one name."""
    return next((root / folder / name for folder in folders if (root / folder / name).is_file()), None)


def _unit(root: Path) -> Look:
    """Whether systemd would start this very program."""
    unit = _first(root, UNIT_FOLDERS, UNIT)
    if unit is None:
        return Look("unit", State.FAIL, f"{UNIT} is not installed; systemd/README.md has the lines")
    started = re.search(r"^ExecStart=(\S+)", unit.read_text(encoding="utf-8", errors="replace"), re.MULTILINE)
    named = started[1] if started else "nothing"
    if named != program():
        words = f"{unit} starts {named}, but this is {program()}. Remove the one that is not wanted"
        return Look("unit", State.FAIL, words)
    return Look("unit", State.PASS, f"{unit} starts {named}")


def _service(root: Path) -> Look:
    """Whether it runs, and will after the next boot."""
    if not (root / SYSTEMD_RUNS).is_dir():
        return Look("service", State.NOT_HERE, "systemd does not run here, so nothing can be started")
    enabled, runs = (_asked(question) for question in ("is-enabled", "is-active"))
    if enabled == "enabled" and runs == "active":
        return Look("service", State.PASS, "it runs, and starts at every boot")
    if runs == "failed":
        words = "it has failed; see: journalctl -u hypocaust; hypocaust status"
        return Look("service", State.FAIL, words)
    once_good = "once the settings are good: sudo systemctl enable --now hypocaust"
    return Look(
        "service", State.NOT_HERE, f"it is {enabled or 'unknown'} and {runs or 'unknown'}; {once_good}"
    )


def _asked(question: str) -> str:
    """One word of systemd about the service, empty if it says nothing."""
    try:
        answer = subprocess.run(  # noqa: S603 - fixed words
            ["systemctl", question, UNIT],  # noqa: S607 - found on the path of the person who asks
            capture_output=True, text=True, check=False, timeout=PATIENCE_S,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return answer.stdout.strip()


def _rule(root: Path) -> Look:
    """Whether pins and bus are given to their group at boot."""
    rule = _first(root, RULE_FOLDERS, RULE)
    if rule is None:
        return Look("udev rule", State.FAIL, f"{RULE} is not installed; systemd/README.md has the lines")
    return Look("udev rule", State.PASS, f"{rule} gives pins and bus to group {PIN_GROUP}")


def _closed(settings: Path) -> Look:
    """Whether the service can read the settings, and nobody but root can change them."""
    what = "permissions"
    try:
        user = pwd.getpwnam(SERVICE_USER)
        places = [(path, path.stat()) for path in (settings.parent, settings)]
    except KeyError:
        return Look(what, State.FAIL, f"there is no user {SERVICE_USER} who could read {settings}")
    except OSError as problem:
        return Look(
            what, State.FAIL, f"{problem.filename}: {problem.strerror}. As root: sudo hypocaust verify"
        )
    groups = os.getgrouplist(user.pw_name, user.pw_gid)
    for path, about in places:
        need = 0o5 if stat.S_ISDIR(about.st_mode) else 0o4
        if not _allowed(about, user.pw_uid, groups, need):
            words = f"{SERVICE_USER} cannot read {path}; mend it: sudo chgrp {SERVICE_USER} {path}"
            return Look(what, State.FAIL, f"{words}; sudo chmod g+rX {path}")
        if about.st_mode & stat.S_IWOTH or about.st_uid not in (0, user.pw_uid):
            words = f"{path} can be changed by others; mend it: sudo chown root {path}; sudo chmod o-w {path}"
            return Look(what, State.FAIL, words)
    return Look(what, State.PASS, f"{SERVICE_USER} can read {settings}, and others cannot change it")


def _allowed(about: os.stat_result, user: int, groups: list[int], need: int) -> bool:
    """Whether a user may do what three mode bits say."""
    shift = 6 if about.st_uid == user else 3 if about.st_gid in groups else 0
    return about.st_mode >> shift & need == need


def _good(settings: Path) -> Look:
    """Whether the settings are good, and those of a real house."""
    try:
        good = load(settings)
    except SettingsError as trouble:
        count = len(trouble.problems)
        words = f"{count} error{'s' if count > 1 else ''}, the first: {str(trouble).splitlines()[0]}"
        return Look("settings", State.FAIL, f"{words}. See all: sudo hypocaust check {settings}")
    if any(probe.id.startswith(EXAMPLE_PROBES) for probe in good.probes.values()):
        words = f"{settings} is still the example; put in your pins and probes (hypocaust probes lists them)"
        return Look("settings", State.NOT_HERE, words)
    return Look("settings", State.PASS, f"{settings} is good")


def _pin_chips(root: Path) -> Look:
    """Whether there are pins, and the group may use them."""
    chips = sorted((root / "dev").glob("gpiochip*"))
    if not chips:
        return Look("pins", State.NOT_HERE, "this machine has no GPIO chip (/dev/gpiochip*)")
    try:
        number = grp.getgrnam(PIN_GROUP).gr_gid
    except KeyError:
        return Look("pins", State.FAIL, f"there is no group {PIN_GROUP}; make it: sudo systemd-sysusers")
    kept = [str(chip) for chip in chips if not _allowed(chip.stat(), -1, [number], 0o6)]
    if kept:
        words = (
            f"group {PIN_GROUP} may not use {', '.join(kept)}. Restart the board: the udev rule opens them"
        )
        return Look("pins", State.FAIL, words)
    return Look("pins", State.PASS, f"{', '.join(chip.name for chip in chips)}, open to group {PIN_GROUP}")


def _bus(root: Path) -> Look:
    """Whether there is a 1-wire bus, with probes on it."""
    devices = root / "sys/bus/w1/devices"
    if not devices.is_dir():
        words = "no 1-wire bus; on most boards dtoverlay=w1-gpio in config.txt enables it"
        return Look("1-wire bus", State.NOT_HERE, words)
    count = len(list(devices.glob("28-*")))
    if not count:
        return Look(
            "1-wire bus", State.NOT_HERE, "the bus is there, but no probe answers; check plug and pull-up"
        )
    return Look("1-wire bus", State.PASS, f"{count} probe{'s' if count > 1 else ''} on it")


def _burden(root: Path) -> Iterator[Look]:
    """What the controller takes of the machine, while one runs."""
    process = holder(root / MARK, root)
    taken = None if process is None else burden(process, root)
    if taken is not None:
        yield Look("burden", State.PASS, str(taken))
