"""From a history and the settings to everything a report holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from controller.evidence.accounting import Heat, account
from controller.evidence.helped import Helped, did_it_help
from controller.history.series import read_series
from controller.record.tally import JOULES_PER_KWH
from controller.report.alarms import said_of_the_house, spells_of
from controller.report.calendar import DAY, calendar_of
from controller.report.data import Interval, Limits, Month, ReportData
from controller.report.days import Known, days_of, pictures_of
from controller.report.figures import figures_of, interval, more_of
from controller.report.runs import runs_of
from controller.report.traces import traces_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from controller.evidence.accounting import Account
    from controller.evidence.helped import NotEnough
    from controller.history.queries import History
    from controller.report.calendar import Calendar
    from controller.report.data import Day
    from controller.settings.schema import Settings

USUAL_DAYS = 365
# A motor's run that began this long before the report is still shown. [practice]
BEFORE = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class Period:
    """Which days a report is about: both ends included, by the calendar of the house."""

    first: date
    last: date
    calendar: Calendar

    @property
    def days(self) -> int:
        """How many."""
        return (self.last - self.first).days + 1

    @property
    def from_utc(self) -> datetime:
        """First moment."""
        return self.calendar.begin(self.first)

    @property
    def to_utc(self) -> datetime:
        """First moment after."""
        return self.calendar.begin(self.last + DAY)


def period_of(history: History, first: date | None, last: date | None) -> Period | None:
    """The days asked for; by default those of the last year that the history holds, None if it holds no time.

    Args:
        history: open for reading.
        first: first day, None for a year before the last, or the first on record if that is later.
        last: last day, None for that of the newest row.
    """
    calendar = calendar_of(history.day_ends())
    newest, oldest = history.newest_utc(), history.oldest_utc()
    if newest is None or oldest is None:
        return None
    # A row of midnight sharp closes the day before.
    last = last or calendar.local(newest - timedelta(minutes=1)).date()
    first = first or max(min(calendar.local(oldest).date(), last), last - timedelta(days=USUAL_DAYS - 1))
    return Period(first, max(first, last), calendar)


def gather(
    history: History, settings: Settings, period: Period, price_per_kwh: float | None = None
) -> ReportData:
    """Work out a whole report.

    Args:
        history: open for reading.
        settings: of the house as it is wired now.
        period: which days.
        price_per_kwh: of heat and electricity alike, in any currency; None if not known.

    Raises:
        StorageError: the file cannot be read.
    """
    series = read_series(history, settings, period.from_utc, period.to_utc)
    offset = period.calendar.offset_s
    heat, helped = account(series, settings, offset), did_it_help(series, settings, offset, price_per_kwh)
    traces = traces_of(series, settings)
    known = Known(traces, heat, {tally.date: tally for tally in history.days(period.first, period.last)})
    runs = runs_of(
        history.changes(period.from_utc - BEFORE, period.to_utc), series.to_utc, settings.site.show
    )
    days = days_of(period.first, period.last, period.calendar, known, runs)
    events = tuple(history.events(period.from_utc, period.to_utc))
    whole = heat.whole
    doubts = helped.doubts if isinstance(helped, Helped) else ()
    return ReportData(
        site=settings.site.name,
        title=settings.site.title or settings.site.name,
        first=period.first,
        last=period.last,
        zone=period.calendar.words(),
        figures=figures_of(helped, whole),
        more=more_of(helped),
        heated_nights=helped.heated_nights,
        money=interval(helped.money) if isinstance(helped, Helped) else None,
        fit_error_k=helped.fit_error_k if isinstance(helped, Helped) else None,
        nights=helped.nights if isinstance(helped, Helped) else 0,
        banked_kwh=interval(whole.banked.times(1.0 / JOULES_PER_KWH)),
        returned_kwh=interval(whole.returned.times(1.0 / JOULES_PER_KWH)),
        moisture_share=list(whole.latent_share),
        electricity_kwh=whole.electricity_j / JOULES_PER_KWH,
        days=days,
        months=months_of(heat, days),
        pictures=pictures_of(days, raises_of(helped), period.calendar, traces, runs),
        alarms=spells_of(history.alarms(period.from_utc, period.to_utc), events, runs),
        done=said_of_the_house(events),
        pauses=traces.pauses(),
        limits=_limits(settings),
        loops=list(settings.loops),
        outdoor_probe="outdoors" in traces.columns,
        house_from=traces.house_from,
        hourly=traces.hourly(),
        damaged_rows=history.damaged_rows,
        notes=list(dict.fromkeys((*heat.doubts.values(), *doubts))),
    )


def months_of(heat: Account, days: Sequence[Day]) -> list[Month]:
    """The heat of each month that has a day on record."""
    by_month = {day.date.isoformat()[:7]: Heat() for day in days} | heat.by_month()
    return [
        Month(
            month=month,
            banked_kwh=interval(sums.banked.times(1.0 / JOULES_PER_KWH)),
            returned_kwh=interval(sums.returned.times(1.0 / JOULES_PER_KWH)),
            electricity_kwh=sums.electricity_j / JOULES_PER_KWH,
        )
        for month, sums in sorted(by_month.items())
    ]


def raises_of(helped: Helped | NotEnough) -> Mapping[date, Interval]:
    """By what the store raised the low of each night with fans, by the day on which that night ended."""
    if not isinstance(helped, Helped):
        return {}
    return {
        night.evening + DAY: Interval(
            value=night.low_c - night.without_c.value,
            low=night.low_c - night.without_c.high,
            high=night.low_c - night.without_c.low,
        )
        for night in helped.rows
        if night.heated
    }


def _limits(settings: Settings) -> Limits:
    points = settings.setpoints
    return Limits(
        frost_limit_c=points.frost_limit_c,
        cool_above_c=points.cool_above_c if points.cooling else None,
        too_hot_c=points.too_hot_c,
    )
