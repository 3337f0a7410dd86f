"""Changes to the sample house by key, so that no test has to know which value stands there."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

HOUSE_TEXT = (Path(__file__).parents[2] / "config" / "house.toml").read_text(encoding="utf-8")


def _line(text: str, key: str) -> re.Match[str]:
    """Where ``name = value`` of a key like ``fans.purge`` or ``loops.north.fan_pin`` stands."""
    table, _, name = key.rpartition(".")
    value = r'"[^"\n]*"|[^\s#]+'
    found = re.search(rf"^\[{re.escape(table)}\]\n(?:(?!\[).*\n)*?({name} = (?:{value}))", text, re.MULTILINE)
    assert found is not None, f"{key} is not written in the file"
    return found


def line_at(text: str, key: str) -> int:
    """The number of the line on which a key stands."""
    return text.count("\n", 0, _line(text, key).start(1)) + 1


def value_at(text: str, key: str) -> str:
    """What stands in the file for a key, as TOML."""
    return _line(text, key)[1].partition(" = ")[2]


def with_line(text: str, key: str, line: str) -> str:
    """The file with ``name = value`` of a key replaced by something else."""
    found = _line(text, key)
    return text[: found.start(1)] + line + text[found.end(1) :]


def changed(text: str, values: Mapping[str, str]) -> str:
    """The file with other values (as TOML) for some keys, each of which must stand there with another."""
    for key, value in values.items():
        assert value_at(text, key) != value, f"{key} is {value} already"
        text = with_line(text, key, f"{key.rpartition('.')[2]} = {value}")
    return text


def with_options(text: str) -> str:
    """The file with everything fitted: the # is taken off all that is optional."""
    return re.sub(r'^# (\[[a-z]+\]|[a-z_]+ = (?:"[^"\n]*"|\w+))$', r"\1", text, flags=re.MULTILINE)
