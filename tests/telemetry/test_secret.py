"""The password file."""

from __future__ import annotations

import os

import pytest

from controller.telemetry.secret import read_password
from controller.telemetry.trouble import LinkError


def written(tmp_path, content: bytes, mode: int = 0o600) -> str:
    """A password file."""
    file = tmp_path / "password"
    file.write_bytes(content)
    file.chmod(mode)
    return str(file)


@pytest.mark.parametrize(
    "content", [b"s3cret w\xc3\xb6rd", b"s3cret w\xc3\xb6rd\n", b"s3cret w\xc3\xb6rd\r\n"]
)
def test_password_is_the_content_without_the_line_end(tmp_path, content):
    """An editor's line end is not part of the password; blanks within are."""
    assert read_password(written(tmp_path, content)) == "s3cret wörd"


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o660, 0o777])
def test_file_open_to_others_is_refused_with_the_way_to_mend_it(tmp_path, mode):
    """A password that others can read is no secret: refused, with the command that closes the file."""
    with pytest.raises(LinkError, match="chmod 600") as refused:
        read_password(written(tmp_path, b"s3cret", mode))
    assert "s3cret" not in str(refused.value)


@pytest.mark.parametrize(
    ("content", "says"), [(b"", "empty"), (b"\n", "empty"), (b"x" * 1025, "longer"), (b"s3cret\xff", "UTF-8")]
)
def test_file_that_holds_no_password_is_named_but_not_quoted(tmp_path, content, says):
    """Empty, endless or binary: the message names the file and what is wrong, never its content."""
    path = written(tmp_path, content)
    with pytest.raises(LinkError, match=says) as refused:
        read_password(path)
    assert path in str(refused.value)
    assert "s3cret" not in str(refused.value)


@pytest.mark.parametrize("typed", ["/s3cret", "/s3cret/word", "/" + "s3cret" * 60, "/s3cret\0word"])
def test_a_path_that_leads_nowhere_is_not_repeated(typed):
    """It may be the password itself, typed into the wrong place."""
    with pytest.raises(LinkError, match=r"password_file cannot be read \(.+\); expected the path") as refused:
        read_password(typed)
    assert "s3cret" not in str(refused.value)


def test_what_is_no_file_is_refused_at_once(tmp_path):
    """A pipe that nobody writes to holds up nobody; a directory is named."""
    os.mkfifo(tmp_path / "pipe", 0o600)
    for path in (tmp_path / "pipe", tmp_path):
        with pytest.raises(LinkError, match=r"is not a file|Is a directory"):
            read_password(str(path))


def test_a_file_of_another_user_is_refused(tmp_path, monkeypatch):
    """Who owns the file can change what the program logs in with."""
    path = written(tmp_path, b"s3cret")
    monkeypatch.setattr("controller.telemetry.secret.os.geteuid", lambda: 4711)
    os.chown(path, 1234, -1) if os.getuid() == 0 else monkeypatch.setattr(
        "controller.telemetry.secret.ROOT", 4712
    )
    with pytest.raises(LinkError, match=f"run: chown 4711 {path}"):
        read_password(path)
