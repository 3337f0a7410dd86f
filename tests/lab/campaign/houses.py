"""Settings files for the campaign: the shipped ones, and variations within their limits."""

from __future__ import annotations

import json
import math
import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.settings.contradictions import contradictions
from controller.settings.draft import draft_of_document
from controller.settings.load import parse
from controller.settings.problems import SettingsError
from controller.settings.schema import Fans, Fire, Judging, Pump, Setpoints
from controller.settings.schema.quantities import plain_key, read_quantity
from controller.settings.schema.section import Section, detail, quantity_kind

if TYPE_CHECKING:
    import random

    from pydantic.fields import FieldInfo

    from controller.settings.schema import Settings

CONFIG = Path(__file__).parents[3] / "config"
BASES = ("house", "house", "one-loop", "one-loop", "cool-crop", "warm-crop", "two-sumps", "contacts")
LIVE: dict[str, type[Section]] = {
    "setpoints": Setpoints,
    "fans": Fans,
    "pump": Pump,
    "fire": Fire,
    "judging": Judging,
}
# The unit a varied value is written in, and how many of it are one SI unit.
WRITTEN = {
    "temperature": ("°C", 1.0),
    "difference": ("K", 1.0),
    "duration": ("s", 1.0),
    "rate of rise": ("K/min", 60.0),
}
ATTEMPTS = 20
BAD = (
    "",
    "this is not TOML",
    "[site]\nname = 1\n",
    "[setpoints]\nfrost_limit = 2\n",
    '[setpoints]\nfrost_limit = "2 bananas"\n',
    "\x00\x01\x02",
    "[" * 5000,
)

Document = dict[str, Any]


@cache
def _base(name: str) -> str:
    if name not in ("two-sumps", "contacts"):
        return (CONFIG / f"{name}.toml").read_text(encoding="utf-8")
    document = tomllib.loads(_base("house"))
    if name == "contacts":
        for loop, pin in zip(document["loops"].values(), (5, 6, 13), strict=True):
            loop["feedback_pin"] = pin
        document["sumps"]["main"] |= {"feedback_pin": 19, "high_float_pin": 26}
        document["board"] |= {"supply_pin": 12, "board_voltage": "/sys/class/hwmon"}
        return written(document)
    document["loops"]["south"]["sump"] = "low"
    document["sumps"]["low"] = dict(document["sumps"]["main"], float_pin=5, pump_pin=6)
    return written(document)


def written(document: Document) -> str:
    """A document as TOML; it has tables of plain values, and tables of such tables."""
    lines: list[str] = []
    for name, table in document.items():
        deep = all(isinstance(value, dict) for value in table.values()) and table
        for head, values in ((f"{name}.{k}", v) for k, v in table.items()) if deep else ((name, table),):
            lines.append(f"[{head}]")
            lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items()]
    return "\n".join(lines) + "\n"


def drawn_house(random: random.Random) -> tuple[str, str]:
    """Name and text of a settings file that is good; half of them as shipped, half varied."""
    name = random.choice(BASES)
    text = _base(name)
    if random.random() < 0.5:
        return name, text
    document = tomllib.loads(text)
    for sump in document["sumps"].values():
        sump["float_kind"] = random.choice(("opens-on-rise", "closes-on-rise"))
    return f"{name} varied", varied(document, random)


def varied(document: Document, random: random.Random) -> str:
    """The same wiring with other setpoints and times, within all limits; good."""
    for share in (0.4, *(0.25,) * ATTEMPTS, *(0.05,) * ATTEMPTS):
        text = written(document | _live_tables(document, random, share))
        if (settings := _good(text)) is not None and settings.fire.level_c > settings.setpoints.too_hot_c:
            return text
    return written(document)


def contradictory(text: str, random: random.Random) -> str:
    """A file whose values are all within limits and do not go together."""
    document = tomllib.loads(text)
    for _ in range(100 * ATTEMPTS):
        changed = document | _live_tables(document, random, 0.6)
        if any(contradictions(draft_of_document(changed))):
            return written(changed)
    raise AssertionError("every variation was free of contradictions")


def _good(text: str) -> Settings | None:
    try:
        return parse(text)
    except SettingsError:
        return None


def _live_tables(document: Document, random: random.Random, share: float) -> Document:
    """The tables that may change while the controller runs, with a share of their values drawn anew."""
    tables = {}
    for table, section in LIVE.items():
        values = dict(document.get(table, {}))
        for name, field in section.model_fields.items():
            if random.random() < share:
                values[plain_key(name)] = _drawn(field, random)
        tables[table] = values
    return tables


def _drawn(field: FieldInfo, random: random.Random) -> Any:
    """A value within the limits of a setting, as it is written."""
    low, high = detail(field, "low"), detail(field, "high")
    kind = quantity_kind(field)
    if field.annotation is bool:
        return random.random() < 0.5
    if field.annotation is int:
        return random.randint(low, high)
    if kind is None:
        return round(random.uniform(low, high), 3)
    unit, scale = WRITTEN[kind]
    least, most = read_quantity(kind, low).si, read_quantity(kind, high).si
    if kind == "duration":
        return f"{round(math.exp(random.uniform(math.log(least), math.log(most))))} {unit}"
    return f"{round(random.uniform(least, most) * scale, 2)} {unit}"
