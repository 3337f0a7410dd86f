"""Single plays of the detection table, in a module that worker processes can import."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.rehearsal.journal import Doing
from controller.rehearsal.run import Rehearsal, rehearse
from controller.simulator.plant.fault_kinds import FaultKind
from tests.lab.campaign.expected import EXPECTED
from tests.lab.detection.episodes import HOUSE, wired

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.rehearsal.journal import Span
    from tests.lab.detection.episodes import Scene, Trial

Told = tuple[float, str] | None
WIRED_TICK_S = 10.0
DEAD = {FaultKind.FAN_DEAD: Doing.FAN, FaultKind.PUMP_DEAD: Doing.PUMP}


def told(trial: Trial, scene: Scene) -> Told:
    """Seconds from the fault to the first alarm of its kind, and its code; None if there was none.

    Raises:
        AssertionError: a safety promise was broken.
    """
    days = trial.lead_days + trial.days
    first_day = scene.breaks - timedelta(days=trial.lead_days)
    house, pace_s = (wired(), WIRED_TICK_S) if trial.wired else (HOUSE, None)
    plan = Rehearsal(
        house, scene.weather, first_day, days, seed=scene.seed, faults=trial.faults(), pace_s=pace_s
    )
    outcome = rehearse(plan)
    assert outcome.summary.promises.broken == []
    codes = {code.value for code in EXPECTED[trial.kind]}
    shows = _shows(trial, scene, outcome.spans)
    for call in outcome.calls:
        passed = call.at.replace(tzinfo=None) - shows
        if passed >= timedelta(0) and call.alarm.code.value in codes:
            return passed.total_seconds(), call.alarm.code.value
    return None


def _shows(trial: Trial, scene: Scene, spans: Sequence[Span]) -> datetime:
    """When the fault can be seen: at once, or at a contact with the first command that is not followed."""
    if not trial.wired or trial.kind not in DEAD:
        return scene.breaks
    began = [
        max(span.began.replace(tzinfo=None), scene.breaks)
        for span in spans
        if span.doing is DEAD[trial.kind]
        and span.name == trial.subject
        and span.ended.replace(tzinfo=None) > scene.breaks
    ]
    return min(began, default=scene.breaks)


def sound(weather: str, seed: int, days: float) -> list[tuple[str, int]]:
    """Every alarm that a sound year raised: code and priority."""
    first_day = datetime(2026, 1, 1)  # noqa: DTZ001 - local time of the weather's place
    outcome = rehearse(Rehearsal(HOUSE, weather, first_day, days, seed=seed))
    assert outcome.summary.promises.broken == []
    return [(call.alarm.code.value, int(call.alarm.priority)) for call in outcome.calls]
