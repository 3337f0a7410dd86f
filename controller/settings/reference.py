"""Writes the reference of all settings: ``python -m controller.settings.reference > config/REFERENCE.md``."""

from __future__ import annotations

import sys
from inspect import cleandoc
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin

from pydantic_core import PydanticUndefined

from controller.settings.orders import ORDERS
from controller.settings.problems import dotted
from controller.settings.schema import Settings
from controller.settings.schema.quantities import KINDS, plain_key
from controller.settings.schema.section import Section, detail, quantity_kind
from controller.settings.watch import is_live
from controller.settings.wording import NAMED_TABLES, section_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo

HEAD = """
# Settings reference

Every setting of the settings file: its meaning, default and range, and what a smaller or larger value does.
This page is written from the program itself by `python -m controller.settings.reference`; do not edit it.

- A **measurement** stands in quotes with its unit, such as `"26 °C"`; [Units](#units) lists what is accepted.
- Plain numbers, `true` and `false` stand without quotes.
- A setting marked *live* takes effect when the file is saved. All others are wiring and need a restart.
- An unknown key, a missing unit, a value out of range or a contradiction is an error with its line.
  A file with an error is never used.
"""

LAST_RULES = """
- `service.lease` must be longer than two `service.tick`, or one late tick would switch every output off.
- `judging.air_hold` must be at least two `board.sample_every`, or one lost sample would stop the fans.
- Every pin and every probe identity may be used once only.
- Pins 0, 1, 14 and 15 are the board's own while it starts, and pin 4 is the line of the probes.
- At least one probe is at the ceiling; every loop has at least one soil probe and names a sump of the file.
- Soil, root-zone and outlet probes name a loop of the file; the other probes name none.
- `mqtt.password_file` needs `mqtt.user`.
- A `house.tube_bed` is thicker than every tube and less than twice as thick as any tube is deep.
- The middle of an `openings.NAME` is no higher than `house.ridge`, and its area no larger than the floor.
- A person's `openings.NAME.open_from` comes before `open_until`.
- With a backup heater, `openings.NAME.open_above` must be above `house.heater_below`.
"""


def reference() -> str:
    """The whole page in Markdown."""
    lines = [HEAD.strip(), ""]
    for name in Settings.model_fields:
        section = section_at((name, "NAME")) if name in NAMED_TABLES else section_at((name,))
        if section is not None:
            lines += _section(name, section)
    lines += _units()
    lines += _orders()
    return "\n".join(lines).rstrip("\n") + "\n"


def _section(name: str, section: type[Section]) -> Iterator[str]:
    """One table with all its settings."""
    header = f"{name}.NAME" if name in NAMED_TABLES else name
    _, _, purpose = cleandoc(section.__doc__ or "").partition(": ")
    yield f"## [{header}]"
    yield ""
    yield purpose[:1].upper() + purpose[1:]
    yield ""
    for attribute, field in section.model_fields.items():
        yield from _setting(f"{name}.{plain_key(attribute)}", field)


def _setting(path: str, field: FieldInfo) -> Iterator[str]:
    """One setting: its facts on one line, its meaning and effects below."""
    facts = [f"**`{path.rpartition('.')[2]}`**", quantity_kind(field) or _plain_kind(field.annotation)]
    facts.append(_default(field))
    if detail(field, "low") is not None:
        facts.append(f"from {detail(field, 'low')} to {detail(field, 'high')}")
    if is_live(path):
        facts.append("*live*")
    yield " · ".join(facts) + "  "
    effects = [(name, detail(field, name)) for name in ("smaller", "larger")]
    yield " ".join(
        [field.description or "", *(f"*{name.capitalize()}:* {text}" for name, text in effects if text)]
    )
    yield ""


def _default(field: FieldInfo) -> str:
    """The default as it is written in a file."""
    default = field.default
    if default is PydanticUndefined:
        return "must be given"
    if default is None:
        return "none by default"
    written = f'"{default}"' if isinstance(default, str) else str(default).lower()
    return f"default `{written}`"


def _plain_kind(annotation: Any) -> str:
    """What a setting without a unit is."""
    if get_origin(annotation) is Literal:
        return "one of " + ", ".join(f'`"{choice}"`' for choice in get_args(annotation))
    names = {int: "whole number", int | None: "whole number", float: "number", bool: "`true` or `false`"}
    return names.get(annotation, "text in quotes")


def _units() -> Iterator[str]:
    """The units that are accepted, by kind."""
    yield "## Units"
    yield ""
    yield "| Kind | Units | Example |"
    yield "|---|---|---|"
    for name, kind in KINDS.items():
        units = ", ".join(f"`{unit.name}`" for unit in kind.units)
        yield f'| {name} | {units} | `"{kind.example}"` |'
    yield ""
    yield "`°C` and `°F` may be written without their sign, `L` also as `l`. `gal` and `gpm` mean US gallons."
    yield ""


def _orders() -> Iterator[str]:
    """The rules between settings."""
    yield "## Settings that must fit together"
    yield ""
    for order in ORDERS:
        lower, upper = (dotted((table, plain_key(name))) for table, name in (order.lower, order.upper))
        yield f"- `{lower}` must be {'at most' if order.equal else 'below'} `{upper}`, {order.why}."
    yield LAST_RULES.strip()


if __name__ == "__main__":
    sys.stdout.write(reference())
