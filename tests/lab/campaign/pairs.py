"""Short episodes in which two kinds of trouble meet, so that every pair of kinds is played at least once."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from itertools import combinations
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S
from controller.settings.load import parse
from tests.lab.campaign.draw import KINDS, PLACES, Drawing, Episode, drawn_episode, in_turn
from tests.lab.campaign.houses import drawn_house
from tests.lab.campaign.troubles import ENDINGS

if TYPE_CHECKING:
    from controller.simulator.plant.fault_kinds import FaultKind
    from controller.simulator.plant.faults import ScriptedFault
    from tests.lab.campaign.troubles import Trouble, TroubleKind

PAIRS: tuple[tuple[FaultKind | TroubleKind, FaultKind | TroubleKind], ...] = tuple(combinations(KINDS, 2))
# Seeds from here on are those of pairs: one after the other, and then again with other houses and weathers.
FIRST_SEED = 1_000_000_000
DAYS = 1.0
FIRST_S, LATEST_S = 2 * HOUR_S, 16 * HOUR_S
MEETS_WITHIN_S = 2 * HOUR_S


def episode_of(seed: int, days: float | None = None) -> Episode:
    """The episode of any seed: one of chance, or from ``FIRST_SEED`` on one of a pair."""
    return drawn_episode(seed, days) if seed < FIRST_SEED else paired_episode(seed, days)


def paired_episode(seed: int, days: float | None = None) -> Episode:
    """An episode in which the two kinds of a pair begin within two hours of each other."""
    random_ = random.Random(seed)  # noqa: S311 - a campaign has to be repeatable
    pair = PAIRS[(seed - FIRST_SEED) % len(PAIRS)]
    length_s = (DAYS if days is None else days) * DAY_S
    faults: list[ScriptedFault] = []
    troubles: list[Trouble] = []
    while True:
        house, text = drawn_house(random_)
        drawing = Drawing(random_, parse(text), text, length_s, faults, troubles)
        if all(drawing.possible(kind) for kind in pair):
            break
    _draw(drawing, pair)
    first_day = datetime(2026, 1, 1) + timedelta(days=random_.randrange(365))  # noqa: DTZ001 - local to the weather
    return Episode(
        seed,
        house,
        text,
        random_.choice(PLACES),
        0,
        first_day,
        length_s / DAY_S,
        tuple(sorted(faults, key=lambda fault: fault.at_s)),
        in_turn(troubles),
        random_.choice((HOUR_S, 6 * HOUR_S)),
    )


def _draw(drawing: Drawing, pair: tuple[FaultKind | TroubleKind, FaultKind | TroubleKind]) -> None:
    """The second while the first lasts; an ending only once the ending before it is over."""
    random_ = drawing.random
    first, second = pair if random_.random() < 0.5 else pair[::-1]
    at_s = random_.uniform(FIRST_S, LATEST_S)
    drawing.add(first, at_s)
    later_s = at_s + random_.uniform(0.0, MEETS_WITHIN_S)
    if first in ENDINGS and second in ENDINGS:
        later_s = max(later_s, *(each.until_s + 60.0 for each in drawing.troubles))
    drawing.add(second, later_s)
