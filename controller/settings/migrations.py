"""What became of settings that older files still have: one step for each change of the form.

A file may say which form it has (`format` in [site]). Where it does not, the oldest thing in it that
no longer exists, or is no longer allowed, shows it. config/CHANGES.md has the same changes in words.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from controller.settings.schema.quantities import QuantityError, read_quantity
from controller.settings.schema.surroundings import FORMAT
from controller.settings.toml_edit import TomlEdit

if TYPE_CHECKING:
    from collections.abc import Callable

MINUTE_S: Final = 60.0
LONGEST_RUN_S, USUAL_LONGEST_RUN = 15 * MINUTE_S, "30 min"
LONGEST_REST_S, USUAL_REST = 6 * MINUTE_S, "2 min"
LEAST_STARTS = 4
LEAST_LEASE_S, USUAL_LEASE = 30.0, "35 s"

# Settings that are gone: the step that mends the file, by table and key.
GONE: Final = {
    ("setpoints", "bank_above"): 2,
    ("fans", "frost_difference"): 2,
    ("pump", "tries"): 3,
    ("supply",): 6,
}


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the form.

    Attributes:
        to: the form the file has afterwards.
        day: when the program changed.
        what: what changed, for the person who reads the diff.
        is_older: whether something in a document shows that it was written before this change.
        apply: makes the change.
        look_at: a setting that means something else since then, by table and key.
    """

    to: int
    day: str
    what: str
    is_older: Callable[[TomlEdit], bool]
    apply: Callable[[TomlEdit], None]
    look_at: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """What a file needs.

    Attributes:
        found: the form it is written in.
        steps: the changes since then that alter something in it, or the meaning of something.
        text: the text after them.
    """

    found: int
    steps: tuple[Step, ...]
    text: str


def plan(text: str) -> Plan:
    """Work out what an older settings file needs for this release.

    Raises:
        NotTomlError: it is not TOML.
        ByHandError: it is written in a way that only a person can change.
    """
    edit = TomlEdit(text)
    found = form_of(edit)
    if found > FORMAT:
        return Plan(found, (), text)
    steps = []
    for step in STEPS:
        if step.to > found:
            before = repr(edit.document)
            step.apply(edit)
            means_else = step.look_at is not None and edit.value(*step.look_at) is not None
            if means_else or repr(edit.document) != before:
                steps.append(step)
    if not steps and edit.value("site", "format") in (None, FORMAT):
        return Plan(found, (), text)
    if isinstance(edit.document.get("site"), dict):
        edit.put("site", "format", FORMAT, "the form of this file; hypocaust migrate keeps it")
    return Plan(found, tuple(steps), edit.text())


def form_of(edit: TomlEdit) -> int:
    """The form a file is written in, as it says or as its settings show."""
    said = edit.value("site", "format")
    if isinstance(said, int) and not isinstance(said, bool):
        return said
    return min((step.to - 1 for step in STEPS if step.is_older(edit)), default=FORMAT)


def diff(name: str, old: str, new: str) -> str:
    """The change as a unified diff."""
    lines = difflib.unified_diff(
        old.splitlines(), new.splitlines(), name, f"{name} (format {FORMAT})", lineterm=""
    )
    return "\n".join(lines)


def mended_by(path: tuple[Any, ...]) -> Step | None:
    """The step that mends a setting which no longer exists, None where there never was one."""
    to = GONE.get(tuple(path))
    return next((step for step in STEPS if step.to == to), None)


def _seconds(edit: TomlEdit, table: str, key: str) -> float | None:
    """A duration of the file, None if it is not there or cannot be read."""
    written = edit.value(table, key)
    try:
        return None if written is None else read_quantity("duration", written).si
    except QuantityError:
        return None


def _drop(edit: TomlEdit, to: int) -> None:
    """Turn what went with a step into comments."""
    for path, gone_with in GONE.items():
        if gone_with == to and len(path) > 1 and edit.value(*path) is not None:
            edit.drop(path[0], path[1], f"until format {to}")


def _has_gone(to: int) -> Callable[[TomlEdit], bool]:
    """Whether something is in the file that went with this step."""
    paths = [path for path, gone_with in GONE.items() if gone_with == to]
    return lambda edit: any(
        path[0] in edit.document if len(path) == 1 else edit.value(*path) is not None for path in paths
    )


def _warmth_for_frost(edit: TomlEdit) -> None:
    """Until then the fans cooled without being asked; afterwards only where `cooling` said so."""
    _drop(edit, 2)
    if edit.value("setpoints", "cooling") is None:
        edit.put("setpoints", "cooling", True, "as before format 2")


def _is_before_long_runs(edit: TomlEdit) -> bool:
    longest_s, starts = _seconds(edit, "pump", "longest_run"), edit.value("pump", "starts_per_hour")
    rests_s = (_seconds(edit, "pump", key) for key in ("rest", "minimum_rest"))
    return (
        _has_gone(3)(edit)
        or (longest_s is not None and longest_s < LONGEST_RUN_S)
        or any(rest_s is not None and rest_s > LONGEST_REST_S for rest_s in rests_s)
        or (isinstance(starts, int) and starts < LEAST_STARTS)
    )


def _long_runs(edit: TomlEdit) -> None:
    """A wet pit is pumped in long runs with short rests."""
    _drop(edit, 3)
    longest_s, rest_s = (_seconds(edit, "pump", key) for key in ("longest_run", "rest"))
    if longest_s is not None and longest_s < LONGEST_RUN_S:
        edit.put("pump", "longest_run", USUAL_LONGEST_RUN)
        longest_s = None
    if rest_s is not None and rest_s > LONGEST_REST_S:
        edit.put("pump", "rest", USUAL_REST)
        rest_s = _seconds(edit, "pump", "rest")
    if (
        longest_s is not None and rest_s is not None and rest_s > longest_s / 10
    ):  # a rest is a tenth of it at most
        edit.put("pump", "rest", f"{int(longest_s / 10)} s")
    shortest_s, starts = _seconds(edit, "pump", "minimum_rest"), edit.value("pump", "starts_per_hour")
    if shortest_s is not None and shortest_s > LONGEST_REST_S:
        edit.put("pump", "minimum_rest", f"{LONGEST_REST_S / MINUTE_S:g} min")
    if isinstance(starts, int) and starts < LEAST_STARTS:
        edit.put("pump", "starts_per_hour", LEAST_STARTS)


def _has_short_lease(edit: TomlEdit) -> bool:
    lease_s = _seconds(edit, "service", "lease")
    return lease_s is not None and lease_s < LEAST_LEASE_S


def _lease(edit: TomlEdit) -> None:
    if _has_short_lease(edit):
        edit.put("service", "lease", USUAL_LEASE)


def _cooling(edit: TomlEdit) -> None:
    """The default became on; a file without the word meant off."""
    if edit.value("setpoints", "cooling") is None:
        edit.put(
            "setpoints",
            "cooling",
            False,
            "as before format 5, when this was the default; true lets the fans cool",
        )


def _supply(edit: TomlEdit) -> None:
    """The table [supply] went into [board]."""
    if not isinstance(edit.document.get("supply"), dict):
        return
    for key, to_key in (("pin", "supply_pin"), ("board_voltage", "board_voltage")):
        if edit.value("supply", key) is not None:
            edit.move("supply", key, "board", to_key)
    edit.drop_empty("supply", "until format 6")


STEPS: Final = (
    Step(
        2,
        "2026-11-25",
        "warmth is kept for the frost: bank_above and frost_difference are gone, cooling is a choice",
        _has_gone(2),
        _warmth_for_frost,
    ),
    Step(
        3,
        "2026-11-29",
        "a wet pit is pumped in long runs: tries is gone, runs are longer and rests shorter",
        _is_before_long_runs,
        _long_runs,
    ),
    Step(4, "2026-11-29", "service.lease is at least 30 s", _has_short_lease, _lease),
    Step(
        5,
        "2026-11-29",
        "cooling is on unless the file says otherwise, and cool_above is judged at the bench, no longer "
        "under the roof: look at its number",
        lambda _: False,  # nothing in a file shows on which side of this change it was written
        _cooling,
        ("setpoints", "cool_above"),
    ),
    Step(
        6, "2026-11-29", "[supply] went into [board], as supply_pin and board_voltage", _has_gone(6), _supply
    ),
)
