"""What is installed is compared with the list it came with, and every damage is named."""

from __future__ import annotations

import base64
import hashlib

import pytest

from controller.service import installed
from controller.service.installed import State, looks_at_program


def sha256(text: str) -> bytes:
    """The digest of a text."""
    return hashlib.sha256(text.encode()).digest()


@pytest.fixture
def package(tmp_path):
    """Two files as the Debian package lays them out, with its list."""
    library = tmp_path / "hypocaust"
    (library / "site" / "controller").mkdir(parents=True)
    files = {library / "site" / "controller" / "loop.py": "a tick\n", library / "compile": "#!/bin/sh\n"}
    for path, text in files.items():
        path.write_text(text, encoding="utf-8")
    lines = (f"{sha256(text).hex()}  {path}\n" for path, text in files.items())
    (library / "manifest").write_text("".join(lines), encoding="utf-8")
    return library / "site" / "controller"


def files_of(package):
    """The look at the files, which comes first."""
    return next(looks_at_program(package))


def test_untouched_files_pass(package):
    """All files of the list are counted."""
    look = files_of(package)
    assert (look.what, look.state) == ("files", State.PASS)
    assert "all 2 " in look.words


def test_a_changed_and_a_missing_file_are_both_named(package):
    """The words name each file, what is wrong with it, and how to mend it."""
    (package / "loop.py").write_text("a tack\n", encoding="utf-8")
    (package.parents[1] / "compile").unlink()
    look = files_of(package)
    assert look.state is State.FAIL
    assert f"{package / 'loop.py'} is not what was published" in look.words
    assert "compile cannot be read (No such file or directory)" in look.words
    assert "apt install --reinstall" in look.words


def test_many_damaged_files_are_counted(package):
    """A failing card damages hundreds; five are named."""
    with (package.parents[1] / "manifest").open("a", encoding="utf-8") as manifest:
        manifest.writelines(f"{'0' * 64}  /missing/{number}\n" for number in range(9))
    assert "/missing/4 " in files_of(package).words
    assert "/missing/5" not in files_of(package).words
    assert "and 4 more" in files_of(package).words


def test_pips_own_notes_are_the_list_of_a_virtual_environment(tmp_path, monkeypatch):
    """Hashes in RECORD are compared; what has none there, such as bytecode, is left out."""
    controller, about = tmp_path / "controller", tmp_path / "hypocaust-1.dist-info"
    controller.mkdir()
    about.mkdir()
    (controller / "loop.py").write_text("a tick\n", encoding="utf-8")
    digest = base64.urlsafe_b64encode(sha256("a tick\n")).decode().rstrip("=")
    (about / "RECORD").write_text(
        f"controller/loop.py,sha256={digest},7\ncontroller/loop.pyc,,\n", encoding="utf-8"
    )
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: hypocaust\nVersion: 1\n", encoding="utf-8")
    monkeypatch.setattr(installed.sysconfig, "get_path", lambda _: str(tmp_path))
    assert "all 1 " in files_of(controller).words
    (controller / "loop.py").write_text("a tack\n", encoding="utf-8")
    assert files_of(controller).state is State.FAIL


def test_a_checkout_has_no_list(tmp_path):
    """Nothing is claimed of files that nobody published."""
    assert files_of(tmp_path / "site" / "controller").state is State.NOT_HERE


def test_a_library_that_cannot_be_imported_is_named(package, monkeypatch):
    """Any error counts, because a damaged file can raise any."""
    (package / "broken_part_of_it.py").write_text("1 / 0\n", encoding="utf-8")
    monkeypatch.syspath_prepend(str(package))
    monkeypatch.setattr(installed, "LOADED", ("sqlite3", "broken_part_of_it", "not_there_at_all"))
    look = next(look for look in looks_at_program(package) if look.what == "libraries")
    assert look.state is State.FAIL
    assert "broken_part_of_it (ZeroDivisionError: division by zero)" in look.words
    assert "not_there_at_all (ModuleNotFoundError" in look.words


def test_what_the_daemon_loads_can_be_loaded_here():
    """The list names real modules."""
    look = next(look for look in looks_at_program() if look.what == "libraries")
    assert look.state is State.PASS, look.words
