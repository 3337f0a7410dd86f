"""The outlook on the night as part of the messages. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.evening import FRESH_S
from controller.diagnosis.evening_words import notice_now
from controller.forecast.store import Heater, Lasts
from controller.telemetry.payloads import TonightParts
from controller.telemetry.said_parts import moment

if TYPE_CHECKING:
    from controller.record.tick import TickRecord

OLD = "the outlook is old, because something keeps it from being renewed"


def tonight_parts(tick: TickRecord) -> TonightParts:
    """What is expected of this night at this tick, or why nothing is."""
    evening = tick.diagnosis.evidence.evening
    expected, nights = evening.expected, evening.nights
    given = nights.given
    given_c = None if given is None else round(given.low_c, 1)
    age_s = tick.now_mono_s - evening.at_s
    if isinstance(expected, str) or age_s > FRESH_S:
        why = expected if isinstance(expected, str) else OLD
        return TonightParts(why=why, words=why, nights_seen=nights.learned, forecast_low_c=given_c)
    night = expected.night
    ends = _moment(tick, expected.lasts_s - age_s) if expected.lasts is Lasts.UNTIL else None
    return TonightParts(
        low_c=_rounded(night.low_c),
        low_from_c=_rounded(night.from_c),
        low_to_c=_rounded(night.to_c),
        without_store_c=_rounded(expected.without_c),
        without_store_from_c=_rounded(expected.without_from_c),
        without_store_to_c=_rounded(expected.without_to_c),
        store=expected.lasts.value,
        store_lasts_until=ends,
        heater=expected.heater.value,
        heater_from=_moment(tick, expected.heater_s - age_s) if expected.heater is Heater.NEEDED else None,
        forecast_low_c=given_c,
        nights_seen=nights.learned,
        words=notice_now(evening, tick.snapshot.hour, tick.now_mono_s, tick.settings.site.show),
    )


def _moment(tick: TickRecord, in_s: float) -> str | None:
    now_utc = tick.snapshot.wall_utc
    return None if now_utc is None else moment(now_utc.timestamp() + in_s)


def _rounded(celsius: float | None) -> float | None:
    return None if celsius is None else round(celsius, 1)
