"""Everything that reads, fed with damaged copies of good input; ``python -m tests.lab.fuzz`` tries more."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.lab.fuzz.seeds import HAZARDS, NAMES, seeds
from tests.lab.fuzz.targets import TARGETS, feed

if TYPE_CHECKING:
    from pathlib import Path

# A history file is written to and synchronised each time.
EXAMPLES = {"history": 20}
# A year of weather takes half a second to read, and has a fuzz test of its own among the simulator's tests.
QUICK = [name for name in NAMES if name != "weather"]
ODD = (
    *(
        b"",
        b"\0",
        b"\xff",
        b"\xc2",
        b"\x1b[2J",
        b"-1",
        b"1e999",
        b"nan",
        b"9" * 30,
        b'"',
        b"'",
        b"[",
        b"]",
        b"{",
    ),
    *(
        b"}",
        b"=",
        b".",
        b",",
        b"\n",
        b"\r",
        b"true",
        b"null",
        b'"\\ud800"',
        b"0x10",
        b"--days",
        b"1979-05-27",
    ),
)


@cache
def good(name: str) -> list[bytes]:
    """What to begin with."""
    return [content for content in seeds(name) if content not in HAZARDS]


@st.composite
def damaged(draw: st.DrawFn, name: str) -> bytes:
    """Good input after one to four mishaps, or another's input."""
    content = draw(st.sampled_from(good(name)))
    for _ in range(draw(st.integers(1, 4))):
        begin = draw(st.integers(0, len(content)))
        end = min(begin + draw(st.sampled_from([0, 1, 2, 8, 100])), len(content))
        match draw(st.sampled_from(["replace", "end here", "double"])):
            case "replace":
                content = content[:begin] + draw(st.sampled_from(ODD)) + content[end:]
            case "end here":
                content = content[:begin]
            case _:
                content = content[:end] + content[begin:]
    return content


def test_every_reader_is_a_target() -> None:
    """The names on the command line are those of the targets."""
    assert set(NAMES) == set(TARGETS)


@pytest.mark.parametrize("name", NAMES)
def test_hazards_are_used_or_refused(tmp_path: Path, name: str) -> None:
    """Depth, length and bytes that are no text end no reader with anything but its own error."""
    for content in HAZARDS:
        feed(name, content, tmp_path)


@pytest.mark.parametrize("name", QUICK)
def test_damaged_input_is_used_or_refused(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    """Whatever happened to good input, every reader keeps its word."""
    folder = tmp_path_factory.mktemp(name)

    @settings(max_examples=EXAMPLES.get(name, 40), deadline=None, suppress_health_check=list(HealthCheck))
    @given(content=damaged(name))
    def keeps_its_word(content: bytes) -> None:
        feed(name, content, folder)

    keeps_its_word()
