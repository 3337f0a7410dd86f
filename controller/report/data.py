"""What a report holds, in SI and UTC; the JSON of ``report --json`` and its schema."""

from __future__ import annotations

from datetime import date, datetime  # noqa: TC003 - pydantic reads the types of the fields
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Interval(_Part):
    """A value and the interval that holds the true one in 90 of 100 cases, of heat in 95."""

    value: float
    low: float
    high: float


FigureCode = Literal[
    "night-raise",
    "all-nights-raise",
    "frost-nights-avoided",
    "frost-hours-avoided",
    "hot-hours-avoided",
    "heater-heat",
    "heat-per-electricity",
]


class Figure(_Part):
    """One figure with its range."""

    code: FigureCode
    unit: Literal["K", "1", "h", "kWh"]
    interval: Interval | None = Field(description="null where the data do not allow it yet")
    covers: Literal[90, 95] = Field(description="in how many of 100 cases the interval holds the truth")
    missing: str = Field(description="what is missing for it; empty where there is an interval")


class Range(_Part):
    """Lowest and highest temperature of a day."""

    low_c: float
    high_c: float


class Day(_Part):
    """One day by the calendar of the house."""

    date: date
    covered_h: float = Field(ge=0.0, description="hours the controller ran")
    outdoors: Range | None = Field(description="of ten-minute means; null where there is no probe or reading")
    house: Range | None = Field(description="among the crop, or under the roof where no probe hangs there")
    soil: Range | None = Field(description="at the tubes, mean of the loops")
    fan_h: float = Field(ge=0.0, description="hours of all fans, added up")
    electricity_kwh: float = Field(ge=0.0, description="of the fans")
    banked_kwh: float = Field(ge=0.0, description="dry heat the fans brought into the soil")
    returned_kwh: float = Field(ge=0.0, description="dry heat they took out of it")
    pump_wet_runs: int = Field(ge=0, description="runs of the pumps on a wet float that began on this day")
    pump_wet_s: float = Field(ge=0.0, description="seconds they lasted")
    pump_other_runs: int = Field(ge=0, description="their exercise, and runs by the clock on a silent float")
    pump_other_s: float = Field(ge=0.0, description="seconds they lasted")
    fans_stopped_by_water: int = Field(ge=0, description="runs of fans that ended because water came")


class Month(_Part):
    """One calendar month, or what of it lies in the report."""

    month: str = Field(pattern=r"^\d{4}-\d\d$")
    banked_kwh: Interval = Field(description="dry heat the fans brought into the soil")
    returned_kwh: Interval = Field(description="dry heat they took out of it")
    electricity_kwh: float = Field(ge=0.0, description="of the fans")


class Run(_Part):
    """One run of a fan or pump."""

    kind: Literal["fan", "pump"]
    name: str = Field(description="loop or sump")
    began: datetime
    ended: datetime
    code: str = Field(description="of the reason it started for")
    why: str = Field(description="that reason, in words")
    end_code: str = Field(description="of the reason it stopped for; empty where that is not known")


class Line(_Part):
    """One line of a picture."""

    place: Literal["outdoors", "soil", "roof", "house", "outlet"]
    celsius: list[float | None]


class Picture(_Part):
    """A day in full: temperatures, and what ran."""

    kind: Literal["best", "worst", "hottest"]
    date: date
    began: datetime
    ended: datetime
    step_s: float = Field(gt=0.0, description="between two values of a line")
    lines: list[Line]
    runs: list[Run]
    raise_k: Interval | None = Field(description="by what the store raised that night's minimum, if known")
    low_c: float | None = Field(description="lowest of the house that day, or that night from noon to noon")
    high_c: float | None = Field(description="highest of the house in the picture")


class Said(_Part):
    """Something a person said to the controller while an alarm stood."""

    at: datetime
    words: str


class AlarmSpell(_Part):
    """One alarm from its first call to its end."""

    code: str
    subject: str
    priority: int = Field(description="1 act now, 2 today, 3 this week: the most urgent it was")
    raised: datetime
    over: datetime | None = Field(description="null where the history does not show its end")
    calls: int = Field(ge=1, description="how often it was raised anew or became worse")
    detail: str = Field(description="numbers or words at its first call")
    fan_h: float = Field(ge=0.0, description="hours the fans ran meanwhile, added up")
    pump_s: float = Field(ge=0.0, description="seconds the pumps ran meanwhile, added up")
    said: list[Said]


class Pause(_Part):
    """A time of which the history holds no reading."""

    began: datetime
    ended: datetime


class Limits(_Part):
    """Setpoints that the figures and charts refer to, as they are now."""

    frost_limit_c: float
    cool_above_c: float | None = Field(description="null where cooling never begins")
    too_hot_c: float | None


class ReportData(_Part):
    """A whole report."""

    site: str
    title: str
    first: date = Field(description="first day, by the calendar of the house")
    last: date = Field(description="last day")
    zone: str = Field(description="whose time the calendar is: hours from UTC, or of this machine")
    figures: list[Figure] = Field(description="the five at the head")
    more: list[Figure] = Field(description="two more: of all nights, and hours of frost; empty without them")
    money: Interval | None = Field(
        description="what a heater's heat costs less the electricity of the fans; null without a price"
    )
    heated_nights: int = Field(ge=0, description="nights on which fans ran and the air was read")
    nights: int = Field(ge=0, description="nights that have a figure; 0 while there are too few")
    fit_error_k: float | None = Field(
        description="what the model of the house misses from step to step of its own nights; null without one"
    )
    banked_kwh: Interval = Field(description="of the whole time, dry heat")
    returned_kwh: Interval = Field(description="of the whole time, dry heat")
    moisture_share: list[float] = Field(
        description="least and most of moisture's share in the heat banked, 0 to 1"
    )
    electricity_kwh: float = Field(ge=0.0, description="of the fans, the whole time")
    days: list[Day]
    months: list[Month]
    pictures: list[Picture]
    alarms: list[AlarmSpell]
    done: list[Said] = Field(description="checks by hand, and what was said of a house without a crop")
    pauses: list[Pause] = Field(description="longer than an hour")
    limits: Limits
    loops: list[str] = Field(description="in the order of the settings")
    outdoor_probe: bool
    house_from: Literal["bench", "ceiling", "none"] = Field(description="where the house is measured")
    hourly: float = Field(ge=0.0, le=1.0, description="share of the readings that are hourly means by now")
    damaged_rows: int = Field(ge=0, description="rows of the history that could not be understood")
    notes: list[str] = Field(description="assumptions of the figures, in words")
