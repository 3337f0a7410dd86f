"""Everything off, and nothing else: what runs after the daemon has stopped, crashed or been killed.

It shares no state with the daemon, does not validate the settings, and reads only the pins from them. The
last good copy of the settings counts as well: the daemon may have been running on that, or on wiring that the
file has lost since.
"""

from __future__ import annotations

import re
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.equipment import ALL_WELL, TODAY
from controller.outputs.board import BoardError, open_factory
from controller.outputs.deadline import DeadlineSwitch
from controller.outputs.relay import Relay
from controller.settings.last_good import copy_of, read_copy
from controller.settings.toml_file import LARGEST_FILE_BYTES, NotTomlError, beginning_of, parsed

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from controller.outputs.board import PinFactory
    from controller.outputs.ports import Switch

# Fans first, for the reason the bank of the daemon has: see there.
EQUIPMENT = (("loops", "fan", "fan_pin"), ("sumps", "pump", "pump_pin"))
SIGNALS = ((ALL_WELL, "pin", "active_high"), (TODAY, "today_pin", "today_active_high"))
HEADER = re.compile(r'^\s*\[\s*(\w+)(?:\s*\.\s*"?([\w-]+)"?)?\s*\]')
ENTRY = re.compile(r'^\s*((?:fan_|pump_|today_)?pin|(?:today_)?active_high|pin_factory)\s*=\s*"?([\w-]+)"?')
WORDS = {"true": True, "false": False}
# No chip has a line of three digits; Python refuses even to write a number of thousands of them.
HIGHEST_NUMBER = 999


@dataclass(frozen=True, slots=True)
class PinToClear:
    """One pin to drive off: which output hangs on it and which level means ON."""

    output: str
    pin: int
    active_high: bool


@dataclass(frozen=True, slots=True)
class PinList:
    """Pins found in a settings file, the factory that drives them, and what could not be understood."""

    factory: str
    pins: tuple[PinToClear, ...]
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SafeReport:
    """Outputs that were driven off, and in words what was not."""

    driven: tuple[str, ...]
    problems: tuple[str, ...]


def drive_all_off(path: Path) -> SafeReport:
    """Drive every fan, pump and signal of a settings file off.

    Args:
        path: the settings file; it may be invalid or even damaged.
    """
    found = _with_copy(read_pins(path), path)
    if not found.pins:
        return SafeReport((), found.problems)
    with _work_directory() as directory:
        try:
            factory = open_factory(found.factory, Path(directory))
        except BoardError as problem:
            outputs = ", ".join(pin.output for pin in found.pins)
            return SafeReport((), (*found.problems, f"Not driven off: {outputs}. {problem}"))
        return _drive_off(found, factory)


def _with_copy(found: PinList, path: Path) -> PinList:
    """The pins of the file and those that only its last good copy has."""
    copy = copy_of(path)
    text = read_copy(copy, path)
    if text is None:
        return found
    kept = _pins_in(copy, text)
    own = {pin.pin: pin for pin in found.pins}
    problems = [
        f"{path}: {pin.output} (GPIO {pin.pin}) has another active_high than in the last good copy {copy}; "
        "driven off as the file says. Check with a meter that it is off."
        for pin in kept.pins
        if pin.pin in own and own[pin.pin].active_high is not pin.active_high
    ]
    more = tuple(pin for pin in kept.pins if pin.pin not in own)
    factory = found.factory if found.pins else kept.factory
    return PinList(factory, (*found.pins, *more), (*found.problems, *problems))


def _work_directory() -> AbstractContextManager[str]:
    """A directory for lgpio's pipe that goes away again; on a machine without room, wherever we are."""
    import tempfile  # noqa: PLC0415 - a running controller never asks for one

    try:
        return tempfile.TemporaryDirectory(prefix="hypocaust-safe-")
    except OSError:
        return nullcontext(".")


def _drive_off(found: PinList, factory: PinFactory) -> SafeReport:
    """Drive every pin off, hold them until all are, then give them back; one that hangs is left behind."""
    relays: dict[str, Switch] = {}
    problems = list(found.problems)
    for each in found.pins:
        label = f"{each.output} (GPIO {each.pin})"
        try:
            open_relay = partial(Relay, each.pin, each.active_high, factory)
            relays[label] = DeadlineSwitch(open_relay, f"GPIO {each.pin}")
            if relays[label].is_on():
                problems.append(
                    f"{label}: driven off, but the pin reads back on. Isolate it and check the wiring."
                )
        except (BoardError, OSError) as problem:
            problems.append(f"{label}: not driven off. {problem}")
    driven = tuple(label for label in relays if not any(text.startswith(label) for text in problems))
    for label, relay in relays.items():
        try:
            relay.close()
        except OSError as problem:
            problems.append(f"{label}: driven off once, but not again at the end. {problem}")
    factory.close()
    return SafeReport(driven, tuple(problems))


def read_pins(path: Path) -> PinList:
    """Find the output pins in a settings file, as far as they can be made out."""
    try:
        content = beginning_of(path)
    except NotTomlError as problem:
        return PinList("lgpio", (), (f"{path}: {problem}. No pin is known, nothing was driven off.",))
    return _pins_in(path, content.decode("utf-8", errors="replace"), len(content))


def _pins_in(path: Path, text: str, size: int = 0) -> PinList:
    problems: list[str] = []
    try:
        if size > LARGEST_FILE_BYTES:
            raise NotTomlError("too large for a settings file")  # noqa: TRY301 - one place handles all damage
        tables, _ = parsed(text)
    except NotTomlError as problem:
        problems.append(
            f"{path}: damaged ({problem}); pins were found line by line, and some may be missing."
        )
        tables = _scan(text)
    pins = tuple(_pins(path, tables, problems))
    if not pins:
        problems.append(
            f"{path}: no output pin found. Expected fan_pin in [loops.NAME], pump_pin in [sumps.NAME]."
        )
    board = tables.get("board")
    factory = board.get("pin_factory") if isinstance(board, dict) else None
    return PinList("mock" if factory == "mock" else "lgpio", pins, tuple(problems))


def _pins(path: Path, tables: dict[str, Any], problems: list[str]) -> list[PinToClear]:
    """Pins from the tables of a settings file; what cannot be made out is added to ``problems``."""
    found: list[PinToClear] = []
    for section, kind, key in EQUIPMENT:
        group = tables.get(section)
        for name, table in (group if isinstance(group, dict) else {}).items():
            entries = table if isinstance(table, dict) else {}
            output, where = f"{kind}:{name}", f"{path}: {section}.{name}"
            _add_pin(found, problems, output, where, entries, (key, "active_high"))
    signal = tables.get("signal")
    entries = signal if isinstance(signal, dict) else {}
    for fitted, key, level in SIGNALS:
        if key in entries:
            _add_pin(found, problems, str(fitted), f"{path}: signal", entries, (key, level))
    return found


def _add_pin(
    found: list[PinToClear],
    problems: list[str],
    output: str,
    where: str,
    entries: dict[str, Any],
    keys: tuple[str, str],
) -> None:
    """One output of a table: its pin and the level that means ON, or what cannot be made out of them."""
    pin, active_high = entries.get(keys[0]), entries.get(keys[1], True)
    if isinstance(pin, bool) or not isinstance(pin, int) or not 0 <= pin <= HIGHEST_NUMBER:
        problems.append(f"{where}.{keys[0]}: not a pin number; {output} was not driven off.")
    elif not isinstance(active_high, bool):
        problems.append(
            f"{where}.{keys[1]}: neither true nor false, so that the level that "
            f"means OFF is unknown; {output} was not driven off."
        )
    else:
        found.append(PinToClear(output, pin, active_high))


def _scan(text: str) -> dict[str, Any]:
    """Pick tables and pin entries out of a file that is not valid TOML, line by line."""
    tables: dict[str, Any] = {}
    table: dict[str, Any] = {}
    for line in text.splitlines():
        if header := HEADER.match(line):
            table = tables.setdefault(header[1], {})
            if header[2]:
                table = table.setdefault(header[2], {})
        elif line.lstrip().startswith("["):
            table = {}
        elif entry := ENTRY.match(line):
            value = entry[2]
            table[entry[1]] = WORDS.get(value, int(value) if re.fullmatch("[0-9]{1,3}", value) else value)
    return tables
