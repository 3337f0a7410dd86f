"""Single plays of the detection table, in a module that worker processes can import."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.rehearsal.run import Rehearsal, rehearse
from tests.lab.campaign.expected import EXPECTED
from tests.lab.detection.episodes import HOUSE

if TYPE_CHECKING:
    from tests.lab.detection.episodes import Scene, Trial

Told = tuple[float, str] | None


def told(trial: Trial, scene: Scene) -> Told:
    """Seconds from the fault to the first alarm of its kind, and its code; None if there was none.

    Raises:
        AssertionError: a safety promise was broken.
    """
    days = trial.lead_days + trial.days
    first_day = scene.breaks - timedelta(days=trial.lead_days)
    outcome = rehearse(Rehearsal(HOUSE, scene.weather, first_day, days, faults=trial.faults()))
    assert outcome.summary.promises.broken == []
    codes = {code.value for code in EXPECTED[trial.kind]}
    for call in outcome.calls:
        passed = call.at.replace(tzinfo=None) - scene.breaks
        if passed >= timedelta(0) and call.alarm.code.value in codes:
            return passed.total_seconds(), call.alarm.code.value
    return None


def sound(weather: str, seed: int, days: float) -> list[tuple[str, int]]:
    """Every alarm that a sound year raised: code and priority."""
    first_day = datetime(2026, 1, 1)  # noqa: DTZ001 - local time of the weather's place
    outcome = rehearse(Rehearsal(HOUSE, weather, first_day, days, seed=seed))
    assert outcome.summary.promises.broken == []
    return [(call.alarm.code.value, int(call.alarm.priority)) for call in outcome.calls]
