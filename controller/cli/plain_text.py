"""Output for terminals that know no more than plain ASCII letters."""

from __future__ import annotations

import codecs
import sys
import unicodedata

HANDLER = "hypocaust-plain"
# One letter for one, so that columns stay aligned.
STANDS_FOR = {"°": " ", "²": "2", "³": "3", "–": "-", "—": "-", "−": "-", "×": "x", "·": "*", "…": "~"}


def soften_output() -> None:
    """Write to standard output and error whatever their encoding: letters it has not are replaced."""
    codecs.register_error(HANDLER, _replace)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)  # streams put there by a test may have none
        if reconfigure is not None:
            reconfigure(errors=HANDLER)


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
