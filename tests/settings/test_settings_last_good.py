"""The last good copy of a settings file: when it is used, whose it must be, and what becomes of a bad one."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from controller.settings.begin import begin, begin_with_file, usable_copy
from controller.settings.last_good import copy_of, read_copy, write_copy
from controller.settings.load import load
from controller.settings.problems import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

DAMAGES = {
    "a typo": lambda text: text.replace('"0.30 m3/s"', '"0.30"'),
    "an open quote": lambda text: text.replace('name = "', "name = "),
    "a file of nothing": lambda _: "",
    "zeros after a power cut": lambda text: "\0" * len(text),
    "no file": lambda _: None,
}


@pytest.fixture
def file(tmp_path: Path, house: str, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A good settings file whose copy has been kept, as the service manager names the directories."""
    (tmp_path / "state").mkdir()
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path / "state"))
    path = tmp_path / "house.toml"
    path.write_text(house, encoding="utf-8")
    write_copy(copy_of(path), path, house)
    return path


def damage(file: Path, how: str) -> None:
    """Make the file unusable."""
    text = DAMAGES[how](file.read_text(encoding="utf-8"))
    if text is None:
        file.unlink()
    else:
        file.write_text(text, encoding="utf-8")


def test_a_good_file_is_used_whatever_is_kept(file: Path) -> None:
    """The copy stands in for a refused file only."""
    start = begin(file)
    assert (start.settings, start.copy, start.rejected) == (load(file), None, None)
    assert start.text == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("how", DAMAGES)
def test_a_refused_file_starts_with_its_copy_and_says_why(file: Path, how: str) -> None:
    """The settings are those of the copy, and the reason names the file."""
    good = load(file)
    damage(file, how)
    start = begin(file)
    assert start.settings == good
    assert (start.copy, start.text) == (copy_of(file), None)
    assert start.rejected is not None
    assert str(file) in start.rejected.text
    assert usable_copy(file) == copy_of(file)
    with pytest.raises(SettingsError):
        begin_with_file(file)


def _open_to_others(copy: Path) -> None:
    copy.chmod(0o666)


def _linked(copy: Path) -> None:
    elsewhere = copy.rename(copy.with_name("elsewhere"))
    copy.symlink_to(elsewhere)


def _of_another_user(copy: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("only root can give a file away")
    os.chown(copy, 12345, 12345)


def _of_another_house(copy: Path) -> None:
    other = copy.with_name("other.toml")
    write_copy(copy, other, copy.read_text(encoding="utf-8").partition("\n")[2])


def _bad_itself(copy: Path) -> None:
    copy.write_text(copy.read_text(encoding="utf-8").replace("fan_pin", "fan_pni"), encoding="utf-8")


def _gone(copy: Path) -> None:
    copy.unlink()


@pytest.mark.parametrize(
    "spoil", [_open_to_others, _linked, _of_another_user, _of_another_house, _bad_itself, _gone]
)
def test_a_copy_that_cannot_be_trusted_starts_nothing(file: Path, spoil: object) -> None:
    """Only what this program has kept of this very file, and what nobody else can have changed."""
    spoil(copy_of(file))  # type: ignore[operator]
    damage(file, "a typo")
    with pytest.raises(SettingsError):
        begin(file)
    assert usable_copy(file) is None


def test_the_directory_is_found_in_what_is_left_of_the_file(tmp_path: Path, house: str) -> None:
    """Without the service manager's word the file itself is asked, damaged or not."""
    path = tmp_path / "house.toml"
    text = house.replace('"/var/lib/hypocaust"', f'"{tmp_path / "mine"}"')
    assert text != house
    for broken in (text.encode(), text.replace('name = "', "name = ").encode(), b"# \xff\n" + text.encode()):
        path.write_bytes(broken)
        assert copy_of(path, {}) == tmp_path / "mine" / "last-good.toml"  # where every release looks
    path.unlink()
    assert copy_of(path, {}).parent.is_absolute()


def test_a_copy_holds_every_byte_and_is_closed_to_others(file: Path) -> None:
    """Odd line ends and letters come back as they were; a shorter text leaves nothing of a longer one."""
    text = 'a = "°"\r\n\n# ü\n'
    write_copy(copy_of(file), file, text)
    assert read_copy(copy_of(file), file) == text
    assert copy_of(file).stat().st_mode & 0o777 == 0o640
