"""From a TOML file to settings, or to everything that is wrong with it at once."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from controller.settings.contradictions import contradictions
from controller.settings.draft import draft_of_document
from controller.settings.locate import KeyPath, locate
from controller.settings.problems import Problem, SettingsError, dotted
from controller.settings.schema import Settings
from controller.settings.toml_file import LARGEST_FILE_BYTES, NotTomlError, parsed, text_of
from controller.settings.wording import path_of, words_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic_core import ErrorDetails

    from controller.settings.draft import Draft

__all__ = [
    "LARGEST_FILE_BYTES",
    "Loaded",
    "Problem",
    "SettingsError",
    "load",
    "parse",
    "problems_between",
    "read",
]

# A file that is no settings file at all has thousands; nobody reads them, and working them out takes time.
MOST_PROBLEMS = 200


@dataclass(frozen=True, slots=True)
class Loaded:
    """Good settings with the text they came from.

    Attributes:
        settings: the settings.
        document: the same as the TOML reader gives it, values as the person wrote them.
        lines: where each key stands.
        name: the file, as messages call it.
        text: what it holds.
    """

    settings: Settings
    document: dict[str, Any]
    lines: dict[KeyPath, int]
    name: str
    text: str


def load(path: str | Path) -> Settings:
    """Read a settings file.

    Raises:
        SettingsError: the file cannot be read or cannot be used.
    """
    return read(path).settings


def read(path: str | Path) -> Loaded:
    """Read a settings file and keep the words it was written in.

    Raises:
        SettingsError: the file cannot be read or cannot be used.
    """
    try:
        text = text_of(Path(path))
    except NotTomlError as trouble:
        raise SettingsError(str(path), [Problem(trouble.line, "", str(trouble))]) from None
    return _understand(text, str(path))


def parse(text: str, name: str = "settings") -> Settings:
    """Read settings from a text; ``name`` stands in for the file name.

    Raises:
        SettingsError: the text cannot be used.
    """
    return _understand(text, name).settings


def problems_between(draft: Draft, lines: dict[KeyPath, int]) -> Iterator[Problem]:
    """The contradictions of a draft, each at the first of its keys that stands in the file."""
    for found in contradictions(draft):
        path = next((path for path in found.paths if draft.is_written(*path)), found.paths[0])
        yield Problem(locate(lines, path), dotted(path), found.message)


def _understand(text: str, name: str) -> Loaded:
    """Settings from a text.

    Raises:
        SettingsError: with everything that is wrong with it.
    """
    try:
        document, lines = parsed(text)
    except NotTomlError as trouble:
        raise SettingsError(name, [Problem(trouble.line, "", str(trouble))]) from None
    if not document:
        message = "there are no settings in it; expected [site], [loops.NAME], [sumps.NAME] and [probes.NAME]"
        raise SettingsError(name, [Problem(None, "", message)])
    problems = list(islice(problems_between(draft_of_document(document), lines), MOST_PROBLEMS))
    try:
        settings = Settings.model_validate(document)
    except ValidationError as trouble:
        problems += _schema_problems(trouble.errors(), lines)
    if problems:
        raise SettingsError(name, problems)
    return Loaded(settings, document, lines, name, text)


def _schema_problems(errors: list[ErrorDetails], lines: dict[KeyPath, int]) -> Iterator[Problem]:
    """What the tables found wrong by themselves, in the order of the file."""
    located = sorted(((locate(lines, path_of(error)), error) for error in errors), key=itemgetter(0))
    for line, error in located[:MOST_PROBLEMS]:
        yield Problem(line, dotted(path_of(error)), words_of(error))
    if len(located) > MOST_PROBLEMS:
        line = located[MOST_PROBLEMS][0]
        yield Problem(line, "", f"and {len(located) - MOST_PROBLEMS} more; is this a settings file at all?")
