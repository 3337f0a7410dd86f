"""What pydantic found, in words for a grower."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args, get_origin

from controller.settings.schema import Settings
from controller.settings.schema.quantities import plain_key, shown
from controller.settings.schema.section import Section, Shape, detail

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from pydantic.fields import FieldInfo
    from pydantic_core import ErrorDetails

    from controller.settings.locate import KeyPath

# The tables of which a file may hold several, with what one of them is called.
NAMED_TABLES = {"openings": "opening", "loops": "loop", "sumps": "sump", "probes": "probe"}

# In this table a slip of the pen may be a password, and messages are published.
LINK = "mqtt"
NOT_QUOTED = "what is written there (not quoted, as it may be a secret)"

_WRONG_TYPE = {
    "string_type": "text in quotes",
    "bool_type": "true or false, without quotes",
    "int_type": "a whole number, without quotes",
    "int_from_float": "a whole number, without quotes",
    "float_type": "a number, without quotes",
    "finite_number": "a number that is finite",
}


def path_of(error: ErrorDetails) -> KeyPath:
    """The path of an error in the file (pydantic marks a bad name of a table with an extra part)."""
    path = error["loc"]
    return path[:-1] if error["type"] == "refused" and path[-1] == "[key]" else path


def words_of(error: ErrorDetails) -> str:
    """What is wrong and what was expected."""
    kind = error["type"]
    if kind in _WRONG_TYPE:
        return f"{_quoted(error)} is the wrong kind of value; expected {_WRONG_TYPE[kind]}"
    return _WORDS.get(kind, _other)(error)


def _may_be_secret(error: ErrorDetails) -> bool:
    """Whether the words on an error would quote what nobody may see; a number for a number is harmless."""
    path = path_of(error)
    if path[:1] != (LINK,) or error["type"] in ("missing", "extra_forbidden"):
        return False
    return not isinstance(error["input"], int | float) or "password" in str(path[-1])


def _quoted(error: ErrorDetails) -> str:
    """The wrong value as a message may quote it."""
    return NOT_QUOTED if _may_be_secret(error) else shown(error["input"])


def _refused(error: ErrorDetails) -> str:
    """Our own checks bring their words along."""
    if not _may_be_secret(error):
        return error["msg"]
    path = path_of(error)
    field = _field(section_at(path[:-1]), str(path[-1]))
    shape = next((mark for mark in field.metadata if isinstance(mark, Shape)), None) if field else None
    if shape is not None:
        return f"{NOT_QUOTED} {shape.words}"
    return f"{NOT_QUOTED} is not usable; expected: {field.description if field else ''}"


def _other(error: ErrorDetails) -> str:
    """The few things pydantic words well enough itself."""
    return f"{_quoted(error)} is not usable here: {error['msg']}"


def _no_choice(error: ErrorDetails) -> str:
    """A text that is not among the choices."""
    choices = error["ctx"]["expected"].replace("'", '"')
    return f"{_quoted(error)} is not one of the choices; expected {choices}"


def _no_table(error: ErrorDetails) -> str:
    """A value where a table belongs."""
    return f"{_quoted(error)} is a value; expected a table{_header(path_of(error))}"


def _header(path: KeyPath) -> str:
    """The table header that was expected, for a message."""
    if path[0] in NAMED_TABLES:
        return f" [{path[0]}.NAME]" if len(path) == 1 else f" [{path[0]}.{path[1]}]"
    return f" [{path[0]}]"


def _missing(error: ErrorDetails) -> str:
    """A key or table that must be given."""
    path = path_of(error)
    if len(path) == 1:
        return f"this table is missing; expected{_header(path)}"
    section = section_at(path[:-1])
    field = _field(section, str(path[-1]))
    if field is None:
        return "is missing"
    meaning = (field.description or "").partition(". ")[0].rstrip(".")
    return (
        f"is missing: give {meaning[:1].lower()}{meaning[1:]}, as in {path[-1]} = {detail(field, 'example')}"
    )


def _unknown(error: ErrorDetails) -> str:
    """An unknown key, with the known one that was probably meant."""
    from difflib import get_close_matches  # noqa: PLC0415 - the daemon does without it while all is well

    from controller.settings.migrations import mended_by  # noqa: PLC0415 - likewise

    path = path_of(error)
    if (step := mended_by(path)) is not None:
        return f"is gone since {step.day} (format {step.to}); `hypocaust migrate FILE` shows what to change"
    key = str(path[-1])
    section = section_at(path[:-1]) or Settings
    known = keys_of(section)
    what = "is not a known table" if len(path) == 1 else "is not a known setting"
    near = [plain_key(key)] if plain_key(key) in known else get_close_matches(key, known)
    if near:
        return f'{what}; did you mean "{near[0]}"?'
    homes = [
        name
        for name in keys_of(Settings)
        if key in keys_of(section_at((name, "NAME")) or section_at((name,)))
    ]
    if homes:
        home = f"{homes[0]}.NAME" if homes[0] in NAMED_TABLES else homes[0]
        return f"{what} here; it belongs under [{home}]"
    return f"{what}; expected one of {', '.join(known)}"


def _too_few(error: ErrorDetails) -> str:
    """A kind of table of which one is needed."""
    return f"is empty; expected at least one [{path_of(error)[0]}.NAME]"


def _too_many(error: ErrorDetails) -> str:
    """A kind of table of which there are too many."""
    return f"there are too many; expected at most {error['ctx']['max_length']}"


_WORDS: dict[str, Callable[[ErrorDetails], str]] = {
    "refused": _refused,
    "missing": _missing,
    "extra_forbidden": _unknown,
    "literal_error": _no_choice,
    "model_type": _no_table,
    "dict_type": _no_table,
    "too_short": _too_few,
    "too_long": _too_many,
}


def section_at(path: Sequence[str | int]) -> type[Section] | None:
    """The table that stands at a path of the file, or None where no table is known."""
    section: type[Section] = Settings
    parts = list(path)
    while parts:
        field = _field(section, str(parts.pop(0)))
        inner = _inner_section(field.annotation) if field else None
        if field is None or inner is None:
            return None
        if get_origin(field.annotation) is dict:
            if not parts:
                return None
            parts.pop(0)
        section = inner
    return section


def keys_of(section: type[Section] | None) -> list[str]:
    """The keys a table may have, as they stand in the file."""
    return [plain_key(name) for name in section.model_fields] if section else []


def _field(section: type[Section] | None, key: str) -> FieldInfo | None:
    """The setting behind a key of the file."""
    fields = section.model_fields if section else {}
    return next((field for name, field in fields.items() if plain_key(name) == key), None)


def _inner_section(annotation: Any) -> type[Section] | None:
    """The table class inside an annotation such as ``dict[Name, Loop]`` or ``Mqtt | None``."""
    if isinstance(annotation, type) and issubclass(annotation, Section):
        return annotation
    for part in get_args(annotation):
        inner = _inner_section(part)
        if inner is not None:
            return inner
    return None
