"""From a TOML file to settings, or to everything that is wrong with it at once."""

from __future__ import annotations

import re
import stat
import tomllib
from dataclasses import dataclass
from itertools import islice
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from controller.settings.contradictions import contradictions
from controller.settings.draft import draft_of_document
from controller.settings.locate import KeyPath, lines_of, locate
from controller.settings.problems import Problem, SettingsError, dotted
from controller.settings.schema import Settings
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

# A house of 16 loops and 64 probes with a comment on every line stays below a fifth of this.
LARGEST_FILE_BYTES = 250_000
# A file that is no settings file at all has thousands; nobody reads them, and working them out takes time.
MOST_PROBLEMS = 200

_POSITION = re.compile(r"\(at line (\d+), column (\d+)\)")
_CURLY_QUOTES = re.compile(r"=\s*[“”„‘’‚«»]")
_UNQUOTED = re.compile(r"=\s*([+-]?[0-9.,]+\s*(?:°?[CFK]|[A-Za-z][A-Za-z0-9/]*))\s*(?:#.*)?$")


@dataclass(frozen=True, slots=True)
class Loaded:
    """Good settings with the text they came from.

    Attributes:
        settings: the settings.
        document: the same as the TOML reader gives it, values as the person wrote them.
        lines: where each key stands.
        name: the file, as messages call it.
    """

    settings: Settings
    document: dict[str, Any]
    lines: dict[KeyPath, int]
    name: str


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
    return _understand(_text_of(Path(path)), str(path))


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


def _text_of(path: Path) -> str:
    """The text of a file.

    Raises:
        SettingsError: there is none, with the reason.
    """

    def failed(message: str) -> SettingsError:
        """The one error of a file that cannot be read."""
        return SettingsError(str(path), [Problem(None, "", message)])

    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise failed("this is not a file; expected a settings file such as house.toml")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as trouble:  # ValueError: a NUL in the name
        reason = getattr(trouble, "strerror", None) or "this is no file name"
        raise failed(f"it cannot be read ({reason}); expected a settings file there") from None
    if len(content) > LARGEST_FILE_BYTES:
        raise failed(
            f"the file is larger than {LARGEST_FILE_BYTES // 1000} kB; expected a settings file of a few kB"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = content.count(b"\n", 0, trouble.start) + 1
        message = "the file is not UTF-8 text; save it again as plain text with the encoding UTF-8"
        raise SettingsError(str(path), [Problem(line, "", message)]) from None


def _understand(text: str, name: str) -> Loaded:
    """Settings from a text.

    Raises:
        SettingsError: with everything that is wrong with it.
    """
    document, lines = _parsed(text, name)
    if not document:
        message = "there are no settings in it; expected [site], [loops.NAME], [sumps.NAME] and [probes.NAME]"
        raise SettingsError(name, [Problem(None, "", message)])
    problems = list(islice(problems_between(draft_of_document(document), lines), MOST_PROBLEMS))
    try:
        settings = Settings.model_validate(document)
    except ValidationError as trouble:
        problems += _schema_problems(trouble.errors(include_url=False), lines)
    if problems:
        raise SettingsError(name, problems)
    return Loaded(settings, document, lines, name)


def _schema_problems(errors: list[ErrorDetails], lines: dict[KeyPath, int]) -> Iterator[Problem]:
    """What the tables found wrong by themselves, in the order of the file."""
    located = sorted(((locate(lines, path_of(error)), error) for error in errors), key=itemgetter(0))
    for line, error in located[:MOST_PROBLEMS]:
        yield Problem(line, dotted(path_of(error)), words_of(error))
    if len(located) > MOST_PROBLEMS:
        line = located[MOST_PROBLEMS][0]
        yield Problem(line, "", f"and {len(located) - MOST_PROBLEMS} more; is this a settings file at all?")


def _parsed(text: str, name: str) -> tuple[dict[str, Any], dict[KeyPath, int]]:
    """The document and the lines of its keys.

    Raises:
        SettingsError: the text is not TOML; reading stops at the first place that is not.
    """
    try:
        return tomllib.loads(text), lines_of(text)
    except tomllib.TOMLDecodeError as trouble:
        raise SettingsError(name, [_syntax_problem(text, str(trouble))]) from None
    except RecursionError:
        raise SettingsError(name, [Problem(None, "", "brackets are nested too deeply to be read")]) from None
    except ValueError:  # Python refuses to read a whole number of more than 4300 digits
        raise SettingsError(name, [Problem(None, "", "a number has too many digits to be read")]) from None


def _syntax_problem(text: str, trouble: str) -> Problem:
    """Where and why the TOML reader gave up."""
    lines = text.split("\n")
    found = _POSITION.search(trouble)
    number, column = (int(found[1]), f"column {found[2]}: ") if found else (len(lines), "")
    return Problem(number, "", column + _syntax_words(lines[number - 1].strip(), trouble))


def _syntax_words(line: str, trouble: str) -> str:
    """The usual slips in plain words; for the others what the TOML reader says."""
    unquoted = _UNQUOTED.search(line)
    if unquoted:
        return f'a value with a unit needs quotes; expected "{unquoted[1]}"'
    if _CURLY_QUOTES.search(line):
        return "there are curly quotes, as word processors make them; expected straight ones"
    if trouble.startswith("Cannot"):
        return "this key or table is in the file already; expected it once only"
    if trouble.startswith("Illegal character '\\n'"):
        return "the line ends before its closing quote; expected a quote at both ends of the value"
    what = trouble.split(" (at ", maxsplit=1)[0]
    return f'this is not TOML ({what}); expected lines like  name = "value"  under a [table]'
