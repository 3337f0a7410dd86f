"""Two replays side by side: where they switch otherwise, and what every replay takes for granted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from controller.replay.run import Happened, Played
    from controller.units import TemperatureUnit

# Two switchings of one output this close together are the same one: readings are kept every five minutes.
SAME_WITHIN_S = 300.0
NO_ANSWER = (
    "The temperatures are those of the record. The house does not answer to what is switched here, so nobody "
    "can say how much warmer or colder a night would have been; heat that is banked here does not come back."
)
BETWEEN = (
    "Between two readings a probe goes in a straight line; where a fan was switched, roof, air and soil are "
    "what its reason says."
)
WATER = (
    "Floats are not kept as such. A sump counts as wet from the start of its pump for water until the pump "
    "has emptied it, or since it locked out a fan, and as unreadable while its pump ran by the clock."
)
OUTLETS = (
    "Where a fan runs here that stood in the record, its outlet is taken to show the heat that the settings "
    "promise, times the share that its loop has shown."
)
ASSUMED = (NO_ANSWER, BETWEEN, WATER, OUTLETS, "Restarts of the program are not replayed.")


@dataclass(frozen=True, slots=True)
class Result:
    """Both replays.

    Attributes:
        from_utc: first moment that is shown.
        to_utc: first moment after.
        unit: what people read temperatures in.
        names: of the settings file in force and of the one that was tried.
        here: with the settings in force.
        other: with those that were tried, if any.
    """

    from_utc: datetime
    to_utc: datetime
    unit: TemperatureUnit
    names: tuple[str, str]
    here: Played
    other: Played | None


def differing(result: Result) -> list[tuple[str, Happened]]:
    """Switchings that the two replays do not share, marked now or then; of one replay alone all of them."""
    if result.other is None:
        return [("here", happened) for happened in result.here.changes]
    left = [("now", one) for one in _without(result.here.changes, result.other.changes)]
    right = [("then", one) for one in _without(result.other.changes, result.here.changes)]
    return sorted([*left, *right], key=lambda pair: (pair[1].at_utc, pair[0]))


def _without(changes: list[Happened], others: list[Happened]) -> Iterator[Happened]:
    """Those that have no like among the others at about that time."""
    times: dict[tuple[object, bool], list[float]] = {}
    for one in others:
        times.setdefault((one.change.output, one.change.on), []).append(one.at_utc.timestamp())
    for one in changes:
        alike = times.get((one.change.output, one.change.on), [])
        if not any(abs(at_s - one.at_utc.timestamp()) <= SAME_WITHIN_S for at_s in alike):
            yield one
