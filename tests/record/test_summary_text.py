"""A day and a month in one paragraph."""

from __future__ import annotations

import pytest

from controller.record.summary_text import day_text, month_text
from controller.record.tally import DayTally, LoopTally, PumpTally, added
from controller.units import TemperatureUnit

C, F = TemperatureUnit.CELSIUS, TemperatureUnit.FAHRENHEIT
LOOP = LoopTally(9000.0, 3, 3.24e6, 37.8e6, 16.2e6)
DAY = DayTally(
    "2026-01-31", 86_400.0, 3.06, 24.0, {"north": LOOP, "south": LOOP}, {"main": PumpTally(180.0, 2, 72e3)}
)


NOTHING = {"loops": {}, "pumps": {}}
STANDING = ["frost", "probe: bench", "storage: backup", "link", "unit"]


@pytest.mark.parametrize(
    ("day", "unit", "wrong", "sentences"),
    [
        (
            DAY,
            C,
            [],
            (
                "Saturday 31 January 2026: 3.1 to 24.0 °C.",
                "The fans ran 5 h 00 min for 1.8 kWh, banked 21 kWh and returned 9.0 kWh.",
                "The pump ran twice, 3 min.",
                "Nothing is wrong.",
            ),
        ),
        (
            DAY._replace(air_min_c=None, air_max_c=None, **NOTHING),
            C,
            STANDING,
            (
                "Saturday 31 January 2026: no air probe could be read.",
                "No fan ran.",
                "No pump ran.",
                "Alarms that stand: frost, probe: bench, storage: backup and 2 more.",
            ),
        ),
        (
            DAY._replace(date=None, covered_s=7200.0, loops={}, pumps={"main": PumpTally(60.0, 1, 1.0)}),
            F,
            STANDING[:1],
            (
                "A day without a date: 37.5 to 75.2 °F.",
                "No fan ran.",
                "The pump ran once, 60 s.",
                "Watched for 2 h 00 min only.",
                "Alarms that stand: frost.",
            ),
        ),
    ],
)
def test_a_day_says_what_it_was_like(day, unit, wrong, sentences):
    """Air, fans and their heat, pump, how much of it was watched, and what is wrong; in the reader's unit."""
    assert day_text(day, unit, wrong) == " ".join(sentences)


def test_a_month_says_how_much_of_it_was_watched_and_what_alarms_came():
    """Its sums are those of its days."""
    month = added(DAY, DAY._replace(air_min_c=-2.5, pumps={}))
    assert month_text(month, C, 0, 0) == (
        "January 2026: -2.5 to 24.0 °C. The fans ran 10 h 00 min for 3.6 kWh, banked 42 kWh and returned "
        "18 kWh. The pump ran twice, 3 min. Watched for 2.0 days. No alarm was raised."
    )
    assert month_text(month, C, 5, 2).endswith("Alarms raised: 5, to act on at once: 2.")
