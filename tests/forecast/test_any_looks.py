"""Whatever is seen, or not, and whatever the clocks do: nothing of the forecast raises."""

from __future__ import annotations

import json
import math

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.forecast.hours import Place, night_hour
from controller.forecast.outlook import Outlook, outlook
from controller.forecast.watch import Given, Look, no_nights, watched
from controller.record.memory_nights import NightsKept, kept_nights, restored_nights
from tests.forecast.nights import BEGAN_S, Winter

TEMPERATURES = st.one_of(
    st.floats(-60.0, 90.0), st.sampled_from([math.nan, math.inf, -math.inf, -273.15, 85.0, 1e300])
)
STEPS_S = st.one_of(st.just(300.0), st.floats(-1e6, 1e6), st.sampled_from([0.0, 3600.0, 86400.0, 1e12]))
PLACES = st.one_of(st.none(), st.builds(Place, st.floats(-90.0, 90.0), st.floats(-180.0, 180.0)))


@st.composite
def looks(draw: st.DrawFn) -> list[tuple[float, Look, float | None]]:
    """Looks with gaps and jumps, each with a forecast low or without."""
    now_s, utc_s, place = 1000.0, BEGAN_S, draw(PLACES)
    found = []
    for _ in range(draw(st.integers(1, 12))):
        now_s += draw(STEPS_S)
        utc_s = min(max(utc_s + draw(STEPS_S), 0.0), 4e9)
        shown_s = draw(st.sampled_from([utc_s, None]))
        hour = draw(st.one_of(st.none(), st.floats(0.0, 24.0)))
        look = Look(
            *draw(st.tuples(TEMPERATURES, TEMPERATURES, TEMPERATURES, TEMPERATURES)),
            draw(st.booleans()),
            shown_s,
            night_hour(shown_s, place, hour),
            draw(st.floats(-10.0, 30.0)),
        )
        found.append((now_s, look, draw(st.one_of(st.none(), st.floats(-80.0, 40.0)))))
    return found


PRACTISED = Winter()
PRACTISED.pass_nights(12)
PRACTISED.pass_to(23.0)


@given(looks(), st.booleans(), st.booleans())
@settings(max_examples=150, deadline=None)
def test_nothing_raises_and_no_number_is_made_of_nothing(
    seen: list[tuple[float, Look, float | None]], practised: bool, same_boot: bool
) -> None:
    """Also with a restart in the middle; the memory takes whatever was made of it."""
    nights = PRACTISED.nights if practised else no_nights()
    for now_s, look, low_c in seen:
        if low_c is not None:
            nights = nights._replace(given=Given(low_c, now_s))
        nights = watched(nights, look, now_s)
        found = outlook(nights, now_s)
        if isinstance(found, Outlook):
            assert math.isfinite(found.low_c)
        text = json.dumps(kept_nights(nights, now_s), allow_nan=False)
        kept = NightsKept.model_validate(json.loads(text))
        nights = restored_nights(kept, same_boot, 0.0, now_s)
