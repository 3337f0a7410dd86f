"""Where the daemon's files live, on the board and on a desk."""

from __future__ import annotations

import os
import re
import stat
import tempfile
from pathlib import Path

import pytest

from controller.settings.load import parse
from controller.settings.places import (
    desk_directory,
    desk_environment,
    history_file,
    runtime_directory,
    state_directory,
)
from tests.settings.edit import changed

SITE = "fellside"


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """The directory under which everything of a desk is made."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path / f"hypocaust-{os.getuid()}"


def test_the_settings_say_where_files_live_unless_the_service_manager_does(house):
    """The service manager's two variables win over the two settings; an empty variable does not count."""
    settings = parse(
        changed(
            house,
            {"service.runtime_directory": '"/run/other"', "service.state_directory": '"/var/lib/other"'},
        )
    )
    assert runtime_directory(settings, {}) == Path("/run/other")
    assert state_directory(settings, {"STATE_DIRECTORY": ""}) == Path("/var/lib/other")
    assert history_file(settings, {}) == Path("/var/lib/other/history.sqlite3")
    told = {"RUNTIME_DIRECTORY": "/run/told", "STATE_DIRECTORY": "/var/lib/told"}
    assert runtime_directory(settings, told) == Path("/run/told")
    assert state_directory(settings, told) == Path("/var/lib/told")
    assert history_file(settings, told) == Path("/var/lib/told/history.sqlite3")


def test_the_environment_of_the_process_is_asked_where_none_is_given(house, monkeypatch):
    """The daemon itself looks into its own environment."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", "/run/own")
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/own")
    settings = parse(house)
    assert runtime_directory(settings) == Path("/run/own")
    assert state_directory(settings) == Path("/var/lib/own")
    assert history_file(settings) == Path("/var/lib/own/history.sqlite3")


def test_a_history_file_of_its_own_wins(small):
    """The history can be kept elsewhere by naming the file."""
    settings = parse(small + '\n[history]\nfile = "/data/house.sqlite3"\n')
    assert history_file(settings, {"STATE_DIRECTORY": "/var/lib/told"}) == Path("/data/house.sqlite3")


def test_a_desk_has_a_directory_of_its_own_that_only_its_user_can_enter(desk):
    """The simulated house is told two directories below the user's own; asking twice does no harm."""
    assert desk_directory(SITE) == desk / SITE
    for _ in range(2):
        assert desk_environment(SITE) == {
            "RUNTIME_DIRECTORY": str(desk / SITE / "run"),
            "STATE_DIRECTORY": str(desk / SITE / "state"),
        }
    assert stat.S_IMODE(desk.stat().st_mode) == 0o700


def test_a_link_in_place_of_the_desk_is_refused(desk, tmp_path):
    """Somebody who put a link where the directory belongs does not get the files elsewhere."""
    (tmp_path / "elsewhere").mkdir()
    desk.symlink_to(tmp_path / "elsewhere")
    refusal = f"{desk} belongs to somebody else; remove it or set TMPDIR"
    with pytest.raises(PermissionError, match=f"^{re.escape(refusal)}$"):
        desk_environment(SITE)


def test_a_desk_of_somebody_else_is_refused(tmp_path, monkeypatch):
    """A directory that another user has made there is not used."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(os, "getuid", lambda: tmp_path.stat().st_uid + 1)
    with pytest.raises(PermissionError, match="belongs to somebody else"):
        desk_environment(SITE)
