"""The rehearsal as a table: one row an hour, units in the names of the columns."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from controller.rehearsal.hours import HourRow


def write_hours(path: Path, rows: Sequence[HourRow]) -> None:
    """Write the hours as CSV (RFC 4180): temperatures at the end of each hour, sums over it.

    Args:
        path: the file; replaced if it is there.
        rows: at least one.

    Raises:
        OSError: it cannot be written.
    """
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(_record(rows[0])))
        writer.writeheader()
        writer.writerows(_record(row) for row in rows)


def _record(row: HourRow) -> dict[str, str]:
    truth = row.truth
    record = {
        "hour_ended": row.ended.isoformat(timespec="seconds"),
        "bench_c": f"{truth.bench_c:.2f}",
        "bench_min_c": f"{row.bench_min_c:.2f}",
        "ceiling_c": f"{truth.ceiling_c:.2f}",
        "outdoor_c": f"{truth.outdoor_c:.2f}",
        "outdoor_min_c": f"{row.outdoor_min_c:.2f}",
        "humidity_pct": f"{100.0 * truth.air_rh:.0f}",
        "vents_open_pct": f"{100.0 * truth.vents_open:.0f}",
        "heat_into_soil_kwh": f"{row.charged_kwh:.4f}",
        "heat_out_of_soil_kwh": f"{row.discharged_kwh:.4f}",
        "fan_electricity_kwh": f"{row.electricity_kwh:.4f}",
    }
    for name in row.fan_s:
        record |= {
            f"{name}_soil_c": f"{truth.soil_c[name]:.2f}",
            f"{name}_outlet_c": f"{truth.outlet_c[name]:.2f}",
            f"{name}_fan_s": f"{row.fan_s[name]:.0f}",
        }
    for name in row.pump_s:
        record |= {
            f"{name}_float_wet_s": f"{row.wet_s[name]:.0f}",
            f"{name}_pump_s": f"{row.pump_s[name]:.0f}",
        }
    return record
