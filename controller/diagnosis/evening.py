"""The outlook on the night: what the forecast has learned, with the store and the crop's limit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from controller.decision.demand import WARMING
from controller.diagnosis.heat_share import known_share
from controller.diagnosis.tonight import Warned, coldest, mean_soil_c
from controller.faults import HOUR_S
from controller.forecast.hours import night_hour, place_of
from controller.forecast.outlook import Outlook, outlook
from controller.forecast.store import (
    RAISE_UNSURE_K,
    RAISE_UNSURE_SHARE,
    Heater,
    Lasts,
    Shell,
    Store,
)
from controller.forecast.watch import (
    LOOK_EVERY_S,
    Given,
    Look,
    Nights,
    is_due,
    low_so_far_c,
    no_nights,
    watched,
)
from controller.readings.reading import Good
from controller.readings.said import Act

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.state import ControllerState
    from controller.diagnosis.heat_share import HeatShare
    from controller.readings.reading import Reading
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings

NAN = math.nan
RENEWED_EVERY_S, FRESH_S = 900.0, HOUR_S
# A night is announced if the limit lies within this share of the half-width below what is expected; by the
# log alone more is announced for nothing, so that little is missed. What is announced lies so many times as
# far below as the lower bound. Found on winters of ``tests.lab.winters.SETTING`` and a sound year in Alaska.
WARNS_BY_LOG, WARNS_BY_FORECAST = 0.8, 0.05
ANNOUNCES = 1.3


class Expected(NamedTuple):
    """What is expected of the night now.

    Attributes:
        night: the coldest of the house with the store.
        without_c: the coldest without it, None where the soil cannot be read.
        without_from_c: it may be so cold, None before there are bounds.
        without_to_c: or only so cold.
        lasts: how long the store lasts.
        lasts_s: for how long from now, where it ends.
        heater: whether one will be needed for the crop limit.
        heater_s: in how long, where it is needed.
    """

    night: Outlook
    without_c: float | None = None
    without_from_c: float | None = None
    without_to_c: float | None = None
    lasts: Lasts = Lasts.UNKNOWN
    lasts_s: float = 0.0
    heater: Heater = Heater.UNKNOWN
    heater_s: float = 0.0


class Evening(NamedTuple):
    """What is remembered of nights, and what is expected of this one.

    Attributes:
        nights: what was learned.
        expected: of this night, or why nothing is.
        at_s: when that was said.
    """

    nights: Nights
    expected: Expected | str
    at_s: float


def no_evening() -> Evening:
    """Before the first look."""
    return Evening(no_nights(), "the controller has just started", -math.inf)


def looked_ahead(
    before: Evening,
    snapshot: Snapshot,
    state: ControllerState,
    shares: Mapping[str, HeatShare],
    hour: float | None,
    settings: Settings,
    now_s: float,
) -> Evening:
    """What is known and expected after one tick; it looks every few minutes, and when a forecast is given.

    Args:
        before: what the tick before has left.
        snapshot: judged readings of this tick.
        state: what the decision has left.
        shares: by loop, how much of the promised heat it moves.
        hour: of the day, by the clock or by the air of the house; None while nothing shows it.
        settings: the settings in force.
        now_s: monotonic time of this tick in s.
    """
    given = [said for said in snapshot.said if said.act is Act.LOW]
    if not given and not is_due(before.nights, now_s):
        return before
    nights = before.nights
    if given:
        nights = nights._replace(given=Given(float(given[-1].about), now_s))
    nights = watched(nights, _look(snapshot, state, hour, settings), now_s)
    if not given and 0.0 <= now_s - before.at_s < RENEWED_EVERY_S - LOOK_EVERY_S / 2.0:
        return before._replace(nights=nights)
    said = outlook(nights, now_s)
    if isinstance(said, Outlook):
        return Evening(nights, with_store(said, nights, shares, settings), now_s)
    return Evening(nights, said, now_s)


def warning(evening: Evening, now_s: float) -> Warned | None:
    """What the outlook has to say for the announcement of frost; None without bounds, or if it is old."""
    expected = evening.expected
    if not isinstance(expected, Expected) or now_s - evening.at_s > FRESH_S:
        return None
    night = expected.night
    if night.half_k is None or night.from_c is None:
        return None
    within = WARNS_BY_FORECAST if night.by_forecast else WARNS_BY_LOG
    announced_c = night.low_c - ANNOUNCES * (night.low_c - night.from_c)
    return Warned(night.low_c - within * night.half_k, announced_c)


def _look(snapshot: Snapshot, state: ControllerState, hour: float | None, settings: Settings) -> Look:
    air_c, soil_c = coldest(snapshot), mean_soil_c(snapshot)
    utc_s = None if snapshot.wall_utc is None else snapshot.wall_utc.timestamp()
    return Look(
        _value(snapshot.outdoor),
        NAN if air_c is None else air_c,
        _value(snapshot.ceiling),
        NAN if soil_c is None else soil_c,
        any(fan.demand in WARMING for fan in state.fans.values()),
        utc_s,
        night_hour(utc_s, place_of(settings.site.location), hour),
        settings.setpoints.heat_below_c + settings.setpoints.air_deadband_k,
    )


def with_store(
    night: Outlook, nights: Nights, shares: Mapping[str, HeatShare], settings: Settings
) -> Expected:
    """The outlook with what the store does, and whether a heater will be needed.

    Args:
        night: what is expected of it.
        nights: what was learned, and seen last.
        shares: by loop, how much of the promised heat it moves.
        settings: the settings in force.
    """
    look = nights.look
    if look is None or look.hour is None or not math.isfinite(look.soil_c + look.air_c):
        return Expected(night)
    points, house = settings.setpoints, settings.house
    loops = settings.derived.loops
    store = Store(
        tuple(loop.expected_w_per_k * (known_share(shares[loop.name]) or 1.0) for loop in loops),
        tuple(points.heat_below_c - rank * settings.fans.return_spread_k for rank in range(len(loops))),
        look.soil_c,
        settings.fans.return_difference_k,
        nights.fade_k_h,
    )
    shell = Shell(
        house.length_m,
        house.width_m,
        house.ridge_m,
        house.cover,
        house.air_changes_per_hour,
        house.screen_saving,
    )
    raise_k = store.raise_k(night.low_c, shell.loss_w_per_k())
    without_c = night.low_c - raise_k
    without_from_c = without_to_c = None
    if night.half_k is not None:
        half_k = math.hypot(night.half_k, RAISE_UNSURE_SHARE * raise_k + RAISE_UNSURE_K * (raise_k > 0.0))
        without_from_c = without_c - half_k
        without_to_c = min(without_c + half_k, night.to_c if night.to_c is not None else math.inf)
    left_h = look.hour.left_h
    lasts, lasts_s = _lasts(store, night.low_c, look.air_c, points.heat_below_c, left_h)
    heater, heater_s = _heater(night, low_so_far_c(nights), points.frost_limit_c, left_h)
    return Expected(night, without_c, without_from_c, without_to_c, lasts, lasts_s, heater, heater_s)


def _lasts(store: Store, low_c: float, air_c: float, below_c: float, left_h: float) -> tuple[Lasts, float]:
    """How long the store lasts, and for how long from now where it ends before sunrise."""
    if low_c > below_c:
        return Lasts.NOT_NEEDED, 0.0
    hours = store.lasts_h(low_c)
    if hours is None:
        return Lasts.UNKNOWN, 0.0
    if hours == 0.0:
        return Lasts.EMPTY, 0.0
    ends_h = _reached_in_h(air_c, low_c, below_c, left_h) + hours
    return (Lasts.THE_NIGHT, 0.0) if ends_h >= left_h else (Lasts.UNTIL, ends_h * HOUR_S)


def _heater(night: Outlook, low_so_far: float, limit_c: float, left_h: float) -> tuple[Heater, float]:
    """Whether a heater will be needed, and in how long."""
    if night.low_c <= limit_c:
        return Heater.NEEDED, _reached_in_h(low_so_far, night.low_c, limit_c, left_h) * HOUR_S
    if night.from_c is None or night.from_c <= limit_c:
        return Heater.READY, 0.0
    return Heater.NOT_NEEDED, 0.0


def _reached_in_h(air_c: float, low_c: float, at_c: float, left_h: float) -> float:
    """In how many hours the air gets there, if it falls evenly until sunrise."""
    if air_c <= at_c or air_c <= low_c:
        return 0.0
    return (air_c - at_c) / (air_c - low_c) * max(left_h, 0.0)


def _value(reading: Reading) -> float:
    return reading.value if isinstance(reading, Good) else NAN
