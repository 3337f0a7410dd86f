"""The password file."""

from __future__ import annotations

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


def test_missing_file_is_named(tmp_path):
    """A path with a typing error is said with the path."""
    with pytest.raises(LinkError, match=r"nowhere cannot be read: No such file"):
        read_password(str(tmp_path / "nowhere"))
