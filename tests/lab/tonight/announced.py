"""Which nights would have been announced, by the outlook and by last night alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.diagnosis.evening import Evening, Expected, warning
from controller.forecast.outlook import NIGHTS_FOR_BOUNDS

if TYPE_CHECKING:
    from tests.lab.tonight.scores import Played

HOURS = range(17, 22)


class Announced(NamedTuple):
    """Nights that passed the limit, those of them that were announced, and those announced for nothing."""

    frosty: int
    announced: int
    for_nothing: int


class Both(NamedTuple):
    """By the outlook, and by the coldest of last night alone."""

    by_outlook: Announced
    as_last: Announced


def announced(played: Played, limit_c: float) -> Both:
    """What would have been announced in the evenings in which the outlook had bounds."""
    judged: set[int] = set()
    told: set[int] = set()
    for hour in HOURS:
        for said in played.said.get(str(hour), ()):
            if said.learned < NIGHTS_FOR_BOUNDS or said.expected is None:
                continue
            judged.add(said.night)
            warned = warning(Evening(played.nights, Expected(said.expected), 0.0), 0.0)
            if warned is not None and warned.low_c <= limit_c:
                told.add(said.night)
    judged = {night for night in judged if night in played.lows and night - 1 in played.lows}
    frosty = {night for night in judged if played.lows[night][0] <= limit_c}
    last = {night for night in judged if played.lows[night - 1][0] <= limit_c}
    return Both(_counted(frosty, told & judged), _counted(frosty, last))


def _counted(frosty: set[int], told: set[int]) -> Announced:
    return Announced(len(frosty), len(frosty & told), len(told - frosty))
