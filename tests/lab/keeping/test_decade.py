"""The years that are made for measuring are of the kind that the daemon keeps."""

from __future__ import annotations

from datetime import timedelta

from controller.history.queries import History
from controller.settings.load import load
from tests.lab.keeping.decade import START, BusyHouse, fill
from tests.lab.pages import ROOT


def test_days_have_the_readings_and_starts_asked_for_and_old_ones_are_thinned(tmp_path):
    """Of four days the last is kept fine, the others by the hour; every start and every day is there."""
    settings = load(ROOT / "config" / "house.toml")
    path = tmp_path / "history.sqlite3"
    assert list(fill(path, BusyHouse(settings, 20), 4, keep_fine_days=1, every=1)) == [1, 2, 3, 4]
    end = START + timedelta(days=4)
    with History(path) as history:
        spans = [sample.span_s for sample in history.samples(START, end)]
        fans = [change for change in history.changes(START, end) if change.output.kind == "fan" and change.on]
        days = history.days(START.date(), end.date())
    assert (spans.count(0), spans.count(3600)) == (288, 3 * 24)
    assert len(fans) == 4 * 20
    assert all(change.sentence.startswith("banking heat") for change in fans)
    assert len(days) == 4
