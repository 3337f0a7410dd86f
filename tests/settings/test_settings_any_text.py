"""Whatever stands in the file: settings or a SettingsError, and nothing else."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.settings.load import (
    SettingsError,
    parse,
)
from controller.settings.schema import Settings
from tests.settings.edit import HOUSE_TEXT


@settings(deadline=None)
@given(st.text())
def test_any_text_gives_settings_or_a_settings_error(text):
    """No text whatever raises anything else."""
    try:
        assert isinstance(parse(text), Settings)
    except SettingsError as trouble:
        assert trouble.problems  # noqa: PT017 - both outcomes are right, and each has its check


VALUES = st.sampled_from(
    [
        '""',
        "1",
        "-1",
        "1e308",
        "nan",
        "inf",
        "true",
        "[]",
        "{}",
        '"5 °C"',
        '"5 K"',
        '"9999 d"',
        "2026-01-31",
        '"x"',
    ]
)


@settings(deadline=None)
@given(st.data())
def test_a_good_file_with_anything_changed_gives_settings_or_a_settings_error(data):
    """Values swapped, lines lost or doubled: the answer is settings or problems that each have a line."""
    lines = [line for line in HOUSE_TEXT.split("\n") if line and not line.startswith("#")]
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["value", "drop", "double", "move"])):
            case "value":
                lines[at] = re.sub(r"= *[^#]*", lambda _: f"= {data.draw(VALUES)} ", lines[at], count=1)
            case "drop":
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case _:
                lines.insert(data.draw(st.integers(0, len(lines) - 1)), lines.pop(at))
    try:
        assert isinstance(parse("\n".join(lines)), Settings)
    except SettingsError as trouble:
        assert all(1 <= problem.line <= len(lines) for problem in trouble.problems)  # noqa: PT017 - as above


ODD_KEYS = ["[key]", "", " ", "a.b", "°", "NAME", "__class__", "model_config", "heat_below_c"]
KNOWN_KEYS = sorted(set(re.findall(r"^([a-z_]+) =", HOUSE_TEXT, re.MULTILINE)) | set(Settings.model_fields))
PLAIN = st.one_of(
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["5 °C", "5 K", "10 min", "soil", "main", "a", "28-01a4c07c0013", "/x", ""]),
)
TREES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(
        st.lists(inner, max_size=2),
        st.dictionaries(st.sampled_from([*KNOWN_KEYS, *ODD_KEYS]), inner, max_size=4),
    ),
    max_leaves=25,
)


def inline(value: object) -> str:
    """A value as TOML writes it on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {inline(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(inline(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from([*Settings.model_fields, *ODD_KEYS]), TREES, min_size=1))
def test_any_document_gives_settings_or_a_settings_error(document):
    """Known and odd keys with values of every kind in every place: each mistake finds words and a line."""
    text = "\n".join(f"{json.dumps(key)} = {inline(value)}" for key, value in document.items())
    with pytest.raises(SettingsError) as caught:
        parse(text)
    for problem in caught.value.problems:
        assert 1 <= problem.line <= len(document)
        assert problem.message.isprintable()


@pytest.mark.parametrize(
    "text", ['"[key]" = 1', '[site]\n"[key]" = 1', '[loops."[key]"]', '[loops]\n"[key]" = 3']
)
def test_a_key_that_looks_like_a_mark_of_the_checker_is_a_key(text, problems_of):
    """A table named like pydantic's own mark for bad names is blamed like any other."""
    assert any("[key]" in key for key in problems_of(text))
