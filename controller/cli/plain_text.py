"""Output for terminals: no letters that control them, and plain ASCII where they know no more."""

from __future__ import annotations

import codecs
import sys
import unicodedata
from typing import TextIO, cast

from controller.letters import plain

HANDLER = "hypocaust-plain"
# One letter for one, so that columns stay aligned.
STANDS_FOR = {"°": " ", "²": "2", "³": "3", "–": "-", "—": "-", "−": "-", "×": "x", "·": "*", "…": "~"}


def soften_output() -> None:
    """Write letters only to standard output and error; those that their encoding has not are replaced."""
    codecs.register_error(HANDLER, _replace)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)  # streams put there by a test may have none
        if reconfigure is not None:
            reconfigure(errors=HANDLER)
    sys.stdout, sys.stderr = cast("TextIO", plain(sys.stdout)), cast("TextIO", plain(sys.stderr))


def _replace(problem: UnicodeError) -> tuple[str, int]:
    """Plain letters for those that cannot be written."""
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    unknown = problem.object[problem.start : problem.end]
    return "".join(map(_plain, unknown)), problem.end


def _plain(letter: str) -> str:
    """The one plain letter that says the same or, failing that, a question mark."""
    base = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode("ascii")
    return STANDS_FOR.get(letter) or base[:1] or "?"
