"""What the service lacks of its unit is asked at start and reported, and keeps nobody from controlling."""

from __future__ import annotations

import os

import pytest
from structlog.testing import capture_logs

from controller.faults import FaultCode
from controller.service import unit_check
from controller.service.unit_check import UnitCheck

AS_SERVICE = {"SYSTEMD_EXEC_PID": str(os.getpid())}
OURS, ANOTHER = 991, 992


@pytest.fixture
def user(monkeypatch):
    """The service's own user, who owns what the tests make and may write only where a test says so."""
    writable = set()
    monkeypatch.setattr(os, "geteuid", lambda: OURS)
    monkeypatch.setattr(os, "access", lambda path, _mode: path in writable)
    return writable


def master(tmp_path, number):
    """A 1-wire bus with probes, as the kernel lists it."""
    file = tmp_path / "w1" / f"w1_bus_master{number}" / "therm_bulk_read"
    file.parent.mkdir(parents=True)
    file.touch()
    return file


def subjects(check):
    """What is found lacking."""
    found = check.findings()
    assert {finding.code for finding in found} <= {FaultCode.UNIT}
    return {finding.subject: finding.detail for finding in found}


def test_a_bus_that_appears_after_the_service_is_reported(tmp_path, clock, user, monkeypatch):
    """A second bus that the sandbox keeps read-only shows within the hour with what to do, logged once."""
    user.add(master(tmp_path, 1))
    check = UnitCheck(clock, tmp_path / "w1", ())
    assert subjects(check) == {}
    master(tmp_path, 2)
    monkeypatch.setattr(unit_check, "_is_read_only", lambda _file: True)
    with capture_logs() as logs:
        for _ in range(3):
            clock.now_mono_s += unit_check.LOOK_AGAIN_S
            (detail,) = subjects(check).values()
    assert "ReadWritePaths=-/sys/devices/w1_bus_master2" in detail
    assert [line["subject"] for line in logs] == ["w1_bus_master2"]
    monkeypatch.setattr(unit_check, "_is_read_only", lambda _file: False)
    clock.now_mono_s += unit_check.LOOK_AGAIN_S
    assert "Install the udev rule" in subjects(check)["w1_bus_master2"]


def test_a_directory_of_another_user_is_reported(tmp_path, clock, user, monkeypatch):
    """A directory left by somebody else names both users and the command; a missing or own one does not."""
    assert not user
    check = UnitCheck(clock, tmp_path / "no bus", (tmp_path, tmp_path / "missing"))
    (detail,) = subjects(check).values()
    assert f"chown -R {OURS}: {tmp_path}" in detail
    for enough in (tmp_path.stat().st_uid, 0):
        monkeypatch.setattr(os, "geteuid", lambda enough=enough: enough)
        assert subjects(UnitCheck(clock, tmp_path / "no bus", (tmp_path,))) == {}


@pytest.mark.parametrize(
    ("groups", "file", "limit", "limited"),
    [
        (
            "0::/system.slice/hypocaust.service",
            "system.slice/hypocaust.service/memory.max",
            "167772160",
            True,
        ),
        ("0::/system.slice/hypocaust.service", "system.slice/hypocaust.service/memory.max", "max", False),
        (
            "0::/system.slice/hypocaust.service",
            None,
            "",
            False,
        ),  # the kernel has that controller switched off
        ("4:memory:/hypocaust\n0::/", "memory/hypocaust/memory.limit_in_bytes", "167772160", True),
        ("4:memory:/hypocaust\n0::/", "memory/hypocaust/memory.limit_in_bytes", "9223372036854771712", False),
        (None, None, "", False),
    ],
)
def test_a_board_that_does_not_limit_memory_is_reported(tmp_path, clock, groups, file, limit, limited):
    """Under the service manager a limit that the kernel does not hold is reported, in either cgroup."""
    if groups is not None:
        (tmp_path / "proc/self").mkdir(parents=True)
        (tmp_path / "proc/self/cgroup").write_text(f"{groups}\n", encoding="ascii")
    if file is not None:
        path = tmp_path / "sys/fs/cgroup" / file
        path.parent.mkdir(parents=True)
        path.write_text(f"{limit}\n", encoding="ascii")
    found = subjects(UnitCheck(clock, tmp_path / "no bus", (), AS_SERVICE, tmp_path))
    assert list(found) == ([] if limited else ["memory"])
    assert limited or "cgroup_enable=memory" in found["memory"]
    assert subjects(UnitCheck(clock, tmp_path / "no bus", (), {}, tmp_path)) == {}
