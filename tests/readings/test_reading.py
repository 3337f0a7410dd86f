"""What a sensor gives: the words for what is missing, and what is not said."""

from __future__ import annotations

from typing import get_args

from controller.readings.reading import (
    Good,
    Level,
    LevelReading,
    Missing,
    RawFailure,
    RawSample,
    RawTemperature,
    Reading,
    Why,
)
from controller.readings.snapshot import Snapshot


def test_why_a_reading_is_missing_is_told_in_plain_words() -> None:
    """A person reads them after the probe's name."""
    assert {why.name: why.value for why in Why} == {
        "NOT_FITTED": "is not fitted",
        "NEVER_READ": "has not been read yet",
        "SILENT": "does not answer",
        "NOISY": "answers with damaged data",
        "POWER_ON": "gives its power-on value (85 °C) instead of a measurement",
        "NO_POWER": "reports too little supply power to measure",
        "ALL_ZERO": "answers with nothing but zeros (data line shorted?)",
        "OUT_OF_RANGE": "reads a temperature that its place cannot have",
        "JUMP": "jumps further than air or soil can change",
        "STUCK": "shows the same value while the others change",
        "STALE": "has given nothing new for too long",
        "OUTVOTED": "disagrees with the other probes of its place",
        "UNREADABLE": "cannot be read",
    }


def test_there_is_a_value_or_a_cause_and_no_third() -> None:
    """A reading is good or missing, a float's too; a sample is a temperature or a failure."""
    assert get_args(Reading) == (Good[float], Missing)
    assert get_args(LevelReading) == (Good[Level], Missing)
    assert get_args(RawSample) == (RawTemperature, RawFailure)


def test_the_float_says_wet_or_dry() -> None:
    """Messages and records rely on the two words."""
    assert [level.value for level in Level] == ["wet", "dry"]


def test_what_is_not_said_of_a_look_is_empty() -> None:
    """No bytes behind a temperature; no findings, nothing cleared or said, no contacts, no date, no hour."""
    assert RawTemperature(20.5, 3.0).scratchpad is None
    unknown = Missing(Why.NEVER_READ, 0.0)
    assert Snapshot(unknown, unknown, unknown, {}, {}, {})[6:] == ((), frozenset(), None, (), {}, None)
