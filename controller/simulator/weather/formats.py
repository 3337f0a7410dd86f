"""What hourly weather files hold: the columns of TMY3, EnergyPlus EPW and TMY2, their units and their gaps.

Formats: NREL/TP-581-43156 (TMY3), NREL/TP-463-7668 (TMY2), EnergyPlus Auxiliary Programs, "EPW data" (EPW).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from controller.errors import HypocaustError

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

HOURS = 8760
LONGEST_GAP = 6  # hours that may be filled by a straight line
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


class WeatherError(HypocaustError, ValueError):
    """A weather file that cannot be used; the text names file, line, what is wrong and what was expected."""


@dataclass(frozen=True, slots=True)
class Column:
    """One quantity of a file format.

    Attributes:
        name: the quantity's name here.
        place: header text (TMY3) or field position (EPW, TMY2).
        words: what people call it.
        low: least believable value in the file's unit.
        high: largest believable value.
        missing: from this value on, if all nines, or down to it, if negative, the file means "not known".
        unit: unit in the file.
        hint: what to suspect when the range is broken.
        scale: from the file's unit to SI.
        needed: whether the file is refused without it; what is not needed may stand in for something else.
    """

    name: str
    place: str | int
    words: str
    low: float
    high: float
    missing: float
    unit: str
    hint: str = ""
    scale: float = 1.0
    needed: bool = True


@dataclass(slots=True)
class RawYear:
    """A year of hours as read: NaN where a value is missing, line 0 where an hour is missing."""

    path: Path
    title: str
    latitude: float
    longitude: float
    utc_offset_h: float
    altitude_m: float
    columns: dict[str, NDArray[np.float64]]
    lines: NDArray[np.int64]
    notes: list[str] = field(default_factory=list)


_TEMPERATURE_HINT = "is it in °F or K?"

TMY3 = (
    Column("air_c", "Dry-bulb (C)", "air temperature", -70.0, 60.0, -9000.0, "°C", _TEMPERATURE_HINT),
    Column(
        "dew_c", "Dew-point (C)", "dew point", -80.0, 45.0, -9000.0, "°C", _TEMPERATURE_HINT, needed=False
    ),
    Column("rh", "RHum (%)", "relative humidity", 0.0, 110.0, -9000.0, "%", scale=0.01, needed=False),
    Column(
        "pressure_pa", "Pressure (mbar)", "pressure", 500.0, 1100.0, -9000.0, "mbar", "is it in Pa?", 100.0
    ),
    Column("ghi", "GHI (W/m^2)", "global radiation", 0.0, 1500.0, -9000.0, "W/m²", "is it in kJ/m²?"),
    Column("dni", "DNI (W/m^2)", "direct radiation", 0.0, 1500.0, -9000.0, "W/m²", "is it in kJ/m²?"),
    Column("dhi", "DHI (W/m^2)", "diffuse radiation", 0.0, 1500.0, -9000.0, "W/m²", "is it in kJ/m²?"),
    Column("wind_m_s", "Wspd (m/s)", "wind speed", 0.0, 75.0, -9000.0, "m/s"),
    Column("cloud", "TotCld (tenths)", "cloud cover", 0.0, 10.0, -9000.0, "tenths", scale=0.1, needed=False),
    Column("rain_mm", "Lprecip depth (mm)", "rain", 0.0, 3000.0, -9000.0, "mm", needed=False),
    Column("rain_hours", "Lprecip quantity (hr)", "hours of rain", 0.0, 99.0, -9000.0, "h", needed=False),
)
EPW = (
    Column("air_c", 6, "air temperature", -70.0, 60.0, 99.9, "°C", _TEMPERATURE_HINT),
    Column("dew_c", 7, "dew point", -80.0, 45.0, 99.9, "°C", _TEMPERATURE_HINT, needed=False),
    Column("rh", 8, "relative humidity", 0.0, 110.0, 999.0, "%", scale=0.01, needed=False),
    Column("pressure_pa", 9, "pressure", 50_000.0, 110_000.0, 999_999.0, "Pa", "is it in mbar?"),
    Column("sky_w_m2", 12, "sky long-wave radiation", 0.0, 700.0, 9999.0, "W/m²", needed=False),
    Column("ghi", 13, "global radiation", 0.0, 1500.0, 9999.0, "W/m²", "is it in kJ/m²?"),
    Column("dni", 14, "direct radiation", 0.0, 1500.0, 9999.0, "W/m²", "is it in kJ/m²?"),
    Column("dhi", 15, "diffuse radiation", 0.0, 1500.0, 9999.0, "W/m²", "is it in kJ/m²?"),
    Column("wind_m_s", 21, "wind speed", 0.0, 75.0, 999.0, "m/s"),
    Column("cloud", 22, "cloud cover", 0.0, 10.0, 99.0, "tenths", scale=0.1, needed=False),
    Column("rain_mm", 33, "rain", 0.0, 3000.0, 999.0, "mm", needed=False),
    Column("rain_hours", 34, "hours of rain", 0.0, 99.0, 99.0, "h", needed=False),
)
# Fields of a TMY2 line, 1-based first and last column.
TMY2_FIELDS = (
    *((2, 3), (4, 5), (6, 7), (8, 9)),
    *((68, 71), (74, 77), (80, 82), (85, 88)),
    *((18, 21), (24, 27), (30, 33), (96, 98), (60, 61)),
)
TMY2 = (
    Column("air_c", 4, "air temperature", -700.0, 600.0, 9999.0, "0.1 °C", scale=0.1),
    Column("dew_c", 5, "dew point", -800.0, 450.0, 9999.0, "0.1 °C", scale=0.1, needed=False),
    Column("rh", 6, "relative humidity", 0.0, 110.0, 999.0, "%", scale=0.01, needed=False),
    Column("pressure_pa", 7, "pressure", 500.0, 1100.0, 9999.0, "mbar", scale=100.0),
    Column("ghi", 8, "global radiation", 0.0, 1500.0, 9999.0, "W/m²"),
    Column("dni", 9, "direct radiation", 0.0, 1500.0, 9999.0, "W/m²"),
    Column("dhi", 10, "diffuse radiation", 0.0, 1500.0, 9999.0, "W/m²"),
    Column("wind_m_s", 11, "wind speed", 0.0, 750.0, 999.0, "0.1 m/s", scale=0.1),
    Column("cloud", 12, "cloud cover", 0.0, 10.0, 99.0, "tenths", scale=0.1, needed=False),
)
