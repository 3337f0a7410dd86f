"""No message outgrows its bound or fails to be written, whatever words the machine comes up with."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.diagnosis.alarms import AlarmEvent
from controller.faults import FaultCode
from controller.telemetry.publisher import Publisher
from controller.telemetry.status_file import StatusFile
from tests.telemetry import ticks

LARGEST_BYTES = 120_000  # forty alarms, each with the longest words in the widest letters, and the rest
ANY_TEXT = st.one_of(
    st.text(st.characters(exclude_categories=()), max_size=30),
    st.sampled_from(["\ud800", "\x00", "€" * 5000, "\U0001f331" * 2000, '"' * 3000, "\x1b[2J"]),
)
ALARMS = st.lists(st.tuples(st.sampled_from(FaultCode), ANY_TEXT, ANY_TEXT), max_size=60)


@settings(max_examples=25, deadline=None)
@given(found=ALARMS)
def test_extreme_words_are_published_within_bounds(found: list[tuple[FaultCode, str, str]]) -> None:
    """Alarms with any subject and detail, even halves of characters, reach phones as JSON of bounded size."""
    alarms = [ticks.alarm(code, subject, detail) for code, subject, detail in found]
    tick = ticks.tick(
        diagnosis=ticks.diagnosis(*alarms, events=tuple(AlarmEvent(one, True) for one in alarms))
    )
    letters = []
    post = SimpleNamespace(put=letters.append, connections=lambda: 1)
    Publisher(post, ticks.PROGRAM, lambda: 0).observe(tick)
    assert {f"alarm/{alarm.code.value}" for alarm in alarms} <= {
        letter.topic.removeprefix("hypocaust/fellside/") for letter in letters if letter.payload
    }
    for letter in letters:
        assert len(letter.payload) <= LARGEST_BYTES
        if letter.payload:
            json.loads(letter.payload)
    with TemporaryDirectory() as folder:
        file = StatusFile(Path(folder), ticks.PROGRAM)
        file.observe(tick)
        assert file.findings() == ()
        assert json.loads((Path(folder) / "status.json").read_bytes())["alarms"] or not alarms
