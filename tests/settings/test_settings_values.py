"""Names, titles, paths, hosts and probe identities: what is just accepted and what is just refused."""

from __future__ import annotations

import re

import pytest
from pydantic import TypeAdapter, ValidationError

from controller.settings.schema.values import (
    Account,
    BusIdentity,
    Directory,
    Host,
    Name,
    OptionalFile,
    ShownUnit,
    Title,
)
from controller.units import TemperatureUnit

NO_NAME = "is not a valid name; expected a small letter, then at most 23 small letters, digits or hyphens"
NO_TITLE = "is not a valid title; expected at most 80 letters on one line"
NO_ACCOUNT = "is not valid here; expected at most 128 letters on one line"
NO_PATH = "is not a full path; expected one that starts with /"
NO_FILE = f"{NO_PATH}, or nothing between the quotes"
NO_HOST = "is not a host; expected a name or an address"
NO_IDENTITY = (
    "is not a probe identity; expected 28- and twelve digits or letters a to f (see `hypocaust probes`)"
)

GOOD = [
    (Name, ["a", "z9-", "a" + "-" * 23]),
    (Title, ["", "Fell side, bed 2 – the old one", "x" * 80]),
    (Account, ["", "house@home", "x" * 128]),
    (Directory, ["/", "/run/hypocaust", "/a b"]),
    (OptionalFile, ["", "/", "/etc/ca.pem"]),
    (Host, ["a", "broker.example_1", "10.0.0.2", "[fe80::1%eth0]", "x" * 253]),
    (BusIdentity, ["28-0123456789ab", "28-cdef00000000"]),
]
BAD = [
    (Name, ["", "A", "9a", "-a", "a_b", "a b", "a" * 25], NO_NAME),
    (Title, ["x" * 81, "a\x00", "a\x1f", "a\x7f", "a\x9f", "a\n"], NO_TITLE),
    (Account, ["x" * 129, "a\x00", "a\x1f", "a\x7f", "a\x9f", "a\n"], NO_ACCOUNT),
    (Directory, ["", "run", "./run", "/a\x00"], NO_PATH),
    (OptionalFile, ["ca.pem", " /ca.pem", "/a\x00"], NO_FILE),
    (Host, ["", "my broker", "a/b", "a\n", "x" * 254], NO_HOST),
    (
        BusIdentity,
        ["28-0123456789a", "28-0123456789abc", "10-0123456789ab", "28-0123456789AB", "28-0123456789ag", ""],
        NO_IDENTITY,
    ),
]


@pytest.mark.parametrize(
    ("kind", "texts"), GOOD, ids=["name", "title", "account", "path", "file", "host", "id"]
)
def test_a_text_that_just_fits_is_taken_as_it_is(kind, texts):
    """The shortest, the longest and the oddest text of each kind."""
    assert [TypeAdapter(kind).validate_python(text) for text in texts] == texts


@pytest.mark.parametrize(
    ("kind", "texts", "words"), BAD, ids=["name", "title", "account", "path", "file", "host", "id"]
)
def test_a_text_that_just_does_not_fit_is_refused_with_what_was_expected(kind, texts, words):
    """One letter more, one sign of another sort: the words of the kind end the message."""
    adapter = TypeAdapter(kind)
    for text in texts:
        with pytest.raises(ValidationError) as caught:
            adapter.validate_python(text)
        (error,) = caught.value.errors()
        assert error["msg"].endswith(f" {words}"), text


def test_the_unit_people_read_is_written_with_or_without_its_sign():
    """Both units, as text or as the program's own; anything else is quoted and refused."""
    adapter = TypeAdapter(ShownUnit)
    for unit in TemperatureUnit:
        for written in (unit, unit.value, unit.value.removeprefix("°")):
            assert adapter.validate_python(written) is unit
    for written, told in (("K", '"K"'), ("c", '"c"'), (3, "3")):
        wanted = f'{told} is not a unit for temperatures; expected "°C" or "°F"'
        with pytest.raises(ValidationError, match=re.escape(wanted)):
            adapter.validate_python(written)
