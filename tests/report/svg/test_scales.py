"""Scales: values and times to places, with ticks that people like."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.report.svg.scales import TimeScale, scale_of

NEW_YEAR = datetime(2026, 1, 1)  # noqa: DTZ001 - charts count hours as the clock on the wall does


@pytest.mark.parametrize(
    ("values", "most", "floor", "ticks"),
    [
        ([-16.9, 35.6], 6, None, (-20, -10, 0, 10, 20, 30, 40)),
        ([0.0, 1683.0], 5, 0.0, (0, 500, 1000, 1500, 2000)),
        ([3.2, 4.1], 5, None, (3.2, 3.4, 3.6, 3.8, 4.0, 4.2)),
        ([7.0], 5, None, (7.0, 7.2, 7.4, 7.6, 7.8, 8.0)),
        ([], 5, None, (0, 0.2, 0.4, 0.6, 0.8, 1.0)),
        ([0.0, 0.0], 4, 0.0, (0, 0.25, 0.5, 0.75, 1.0)),
    ],
)
def test_ticks_are_round_and_enclose_all_values(
    values: list[float], most: int, floor: float | None, ticks: tuple[float, ...]
) -> None:
    """Also of one value, of none, and of nothing but 0."""
    assert scale_of(values, most, floor)[1] == pytest.approx(ticks)


@given(st.lists(st.floats(-1e6, 1e6), max_size=20), st.integers(2, 8))
def test_every_value_has_a_place_in_the_chart(values: list[float], most: int) -> None:
    """Whatever the values are, and without a crowd of ticks."""
    scale, ticks = scale_of(values, most)
    assert all(-1e-6 <= scale.share(value) <= 1.0 + 1e-6 for value in values)
    assert 2 <= len(ticks) <= most + 3
    assert list(ticks) == sorted(set(ticks))


@pytest.mark.parametrize(
    ("length", "texts"),
    [
        (timedelta(hours=30), ["00:00", "03:00", "06:00", "09:00"]),
        (timedelta(days=3), ["00:00", "06:00", "12:00", "18:00"]),
        (timedelta(days=7), ["1 Jan", "2 Jan", "3 Jan", "4 Jan"]),
        (timedelta(days=40), ["1 Jan", "8 Jan", "15 Jan", "22 Jan"]),
        (timedelta(days=365), ["Jan", "Feb", "Mar", "Apr"]),
        (timedelta(days=1200), ["Jan 2026", "Apr 2026", "Jul 2026", "Oct 2026"]),
    ],
)
def test_time_is_divided_as_people_do(length: timedelta, texts: list[str]) -> None:
    """Into hours, days, weeks, months or quarters."""
    ticks = TimeScale(NEW_YEAR, NEW_YEAR + length).ticks()
    assert [tick.text for tick in ticks if tick.text][:4] == texts
    assert all(0.0 <= tick.share <= 1.0 for tick in ticks)
    assert any(tick.line for tick in ticks)


def test_a_chart_of_days_has_days_even_if_they_are_few() -> None:
    """Its values are those of days, so hours would mean nothing."""
    ticks = TimeScale(NEW_YEAR, NEW_YEAR + timedelta(days=2)).ticks(hours=False)
    assert [tick.text for tick in ticks if tick.text] == ["1 Jan", "2 Jan"]


def test_a_month_that_is_hardly_shown_has_no_name() -> None:
    """The last days of January before a spring stay without a word that would not fit."""
    ticks = TimeScale(datetime(2026, 1, 30), datetime(2026, 5, 31)).ticks()  # noqa: DTZ001
    assert [tick.text for tick in ticks if tick.text] == ["Feb", "Mar", "Apr", "May"]


def test_a_moment_outside_lies_at_the_edge() -> None:
    """A run that began before the picture begins with it."""
    across = TimeScale(NEW_YEAR, NEW_YEAR + timedelta(days=1))
    assert across.share(NEW_YEAR - timedelta(hours=5)) == 0.0
    assert across.share(NEW_YEAR + timedelta(hours=6)) == 0.25
    assert across.share(NEW_YEAR + timedelta(days=9)) == 1.0
