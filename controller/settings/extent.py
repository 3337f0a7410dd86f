"""How much a text asks of a TOML reader, found in one pass of bounded cost before any reader sees it.

A reader takes time and memory with the square of the parts of a key, whatever its size in bytes, and nests as
deep as the text does. The pass knows only which signs belong together; where it no longer understands the
text, a TOML reader has stopped at the latest.
"""

from __future__ import annotations

import re

# Settings have three parts at most (loops.north.fan_pin) and no value in more than one pair of brackets.
MOST_KEY_PARTS = 10
DEEPEST_BRACKETS = 4
# Keys, values and brackets. The largest house the schema allows (16 loops, openings and 64 probes, every key
# written out) has about 1530 of them.
MOST_ENTRIES = 6000

_TOKEN = re.compile(
    r"""
      (?P<blank> (?: [ \t\r\n]++ | \#[^\n]*+ )++ )
    | (?P<text>  \"{3} (?: [^"\\]++ | \\[\s\S] | "(?!"") )*+ \"{3}"{0,2}+
               | '{3} (?: [^']++ | '(?!'') )*+ '{3}'{0,2}+ )
    | (?P<stop>  \"{3} | '{3} )
    | (?P<part>  [A-Za-z0-9_+:-]++ | "(?: [^"\\\n]++ | \\[^\n] )*+" | '[^'\n]*+' )
    | (?P<dot>   \. )
    | (?P<open>  [\[{] )
    | (?P<close> [\]}] )
    | (?P<other> [=,] )
    """,
    re.VERBOSE,
)


def excess(text: str) -> tuple[str, int] | None:
    """What a text has too much of and where, as words and a position; None if it may be read."""
    parts = entries = depth = at = 0
    dotted = False
    while found := _TOKEN.match(text, at):
        at, kind = found.end(), found.lastgroup
        if kind == "stop":
            break
        if kind == "part":
            parts = parts + 1 if dotted else 1
            entries += parts == 1
        elif kind == "open":
            depth, entries = depth + 1, entries + 1
        elif kind == "close":
            depth = max(depth - 1, 0)
        elif kind == "text":
            entries += 1
        if kind != "blank":
            dotted = kind == "dot"
        if words := _too_much(parts, depth, entries):
            return words, at
    return None


def _too_much(parts: int, depth: int, entries: int) -> str:
    """The first limit that is passed, in words; empty if none is."""
    if parts > MOST_KEY_PARTS:
        return f"a key has more than {MOST_KEY_PARTS} parts; expected two or three, as in [loops.north]"
    if depth > DEEPEST_BRACKETS:
        return "brackets are nested too deeply; expected a table such as [loops.north], or a plain value"
    if entries > MOST_ENTRIES:
        return f"there are more than {MOST_ENTRIES} keys and values; expected far fewer"
    return ""
