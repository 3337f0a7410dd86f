"""Learns the prior of ``controller/forecast/prior.py`` from the winters of ``tests.lab.winters.SETTING``.

``python -m tests.lab.tonight.prior [NAME ...]`` prints the module; no winter of the test table is used.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import numpy as np

from controller.forecast.features import SIZE
from controller.forecast.nights import MOMENTS
from controller.forecast.scale import stretched
from controller.forecast.watch import no_nights, watched
from tests.lab.tonight.looks import seen
from tests.lab.winters import SETTING, WITH

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from tests.lab.tonight.looks import Seen

# How many nights each weight of the prior is worth, and how far the pooled regression leans towards 0. Both
# were chosen on the same winters: from 2 to 10 nights it matters little.
WORTH_NIGHTS, LEAN_NIGHTS = 4.0, 20.0
# A feature that is nearly always 0 must not become free.
LEAST_SQUARE = 0.05

Example = tuple[tuple[float, ...], float, float]

HEAD = '''"""What is taken to be true of a house before its own nights have shown better.

Written by ``python -m tests.lab.tonight.prior {names}`` from rehearsed winters that are not in the table of
the measured page; each weight is worth about {worth:.0f} nights of the house's own.
"""

from __future__ import annotations

from controller.forecast.ridge import Prior

'''


def examples(one: Seen) -> list[list[Example]]:
    """For each moment of the night: features, and the coldest of house and outdoors less the air outdoors."""
    found: list[list[Example]] = [[] for _ in MOMENTS]
    nights = no_nights()
    for utc_s, look in one.looks:
        passing, past = nights.passing, nights.past
        nights = watched(nights, look, utc_s)
        if nights.past is None or nights.past is past:
            continue
        low_c = stretched(nights.past.low_c, look.warms_below_c)
        for number, guess in enumerate(passing.guesses):
            if guess is not None:
                out = guess.row[1]
                found[number].append((guess.row, low_c - out, nights.past.outdoor_c - out))
    return found


def module(names: Sequence[str], all_examples: Iterable[list[list[Example]]]) -> str:
    """The text of the module."""
    winters = list(all_examples)
    squares = np.zeros(SIZE)
    priors = []
    for number in range(len(MOMENTS)):
        rows = [example for winter in winters for example in winter[number]]
        features = np.array([row for row, _, _ in rows])
        mean_square = (features**2).mean(axis=0)
        squares += mean_square / len(MOMENTS)
        normal = features.T @ features + np.diag(LEAN_NIGHTS * mean_square)
        targets = (np.array([row[1 + which] for row in rows]) for which in (0, 1))
        priors.append([np.linalg.solve(normal, features.T @ target) for target in targets])
    precision = WORTH_NIGHTS * np.maximum(squares, LEAST_SQUARE)
    text = HEAD.format(names=" ".join(names), worth=WORTH_NIGHTS)
    text += f"_PRECISION = {_tuple(precision)}\n"
    text += "# One for each of the moments; for the house, then for outdoors.\nPRIORS = (\n"
    for house, outdoors in priors:
        text += f"    Prior((\n        {_tuple(house)},\n        {_tuple(outdoors)},\n    ), _PRECISION),\n"
    return text + ")\n"


def _tuple(numbers: Iterable[float]) -> str:
    return f"({', '.join(f'{number:.3g}' for number in numbers)})"


def main() -> None:
    """Learn and print."""
    names = sys.argv[1:] or [winter.name for winter in SETTING]
    winters = [winter for winter in SETTING if winter.name in names]
    sys.stdout.write(module(names, [examples(seen(winter, WITH)) for winter in winters]))


if __name__ == "__main__":
    main()
