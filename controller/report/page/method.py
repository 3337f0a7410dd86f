"""How the figures were made and what they cannot show; last on the page, because it is read last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.report.markup import Markup, joined, tag
from controller.report.page.parts import paragraph, section
from controller.report.page.reading import counted
from controller.units import duration_text

if TYPE_CHECKING:
    from controller.report.data import ReportData
    from controller.report.page.reading import Reader

MOST_PAUSES = 12
METHOD = (
    (
        "Everything here comes from the controller's own history: temperatures every few minutes, every "
        "switching with its reason, and alarms. No weather service and no forecast is used."
    ),
    (
        "Dry heat is flow × heat capacity of air × (roof − outlet) while a fan runs, the heat of its motor "
        "included. Its range comes from the accuracy of the probes (±0.5 K each) and of the flow in the "
        "settings, carried through as shares that do not average out."
    ),
    (
        "What the house would have been without the store is reckoned by a small model of the house that is "
        "fitted to its own log and then runs with the heat of the fans left out. Its range holds the error "
        "of the model as well as chance. It follows the idea of measuring savings against a fitted baseline "
        "(IPMVP options C and D, ASHRAE Guideline 14)."
    ),
    (
        "Temperatures in the charts are means of ten minutes, so the very lowest and highest readings may "
        "lie a little beyond them."
    ),
)


def method(data: ReportData, reader: Reader) -> Markup:
    """The section."""
    limits = [tag("li", text) for text in _limits(data, reader)]
    return section(
        "method",
        "Method and limits",
        *[paragraph(text) for text in METHOD],
        tag("h3", "Limits of this report"),
        tag("ul", joined(limits)),
    )


def _limits(data: ReportData, reader: Reader) -> list[str]:
    """What is missing or doubtful in this very report."""
    found = [f"Days and times are local: {_zone(data)}."]
    found += data.notes
    if data.fit_error_k is not None:
        missed = reader.fine_difference(data.fit_error_k)
        found.append(
            f"The model of the house misses its own nights by {missed} (root mean square from step to "
            f"step). {counted(data.nights, 'night')} could be reckoned; fans brought warmth on "
            f"{data.heated_nights} of them."
        )
    if not data.outdoor_probe:
        found.append("No outdoor probe is in the settings. The house cannot be set against the weather.")
    if data.house_from == "ceiling":
        found.append(
            "No probe hangs among the crop. The house is measured under the roof, which is hotter by day."
        )
    if data.house_from == "none":
        found.append("No probe measures the air of the house.")
    if data.hourly > 0.0:
        share = max(round(100.0 * data.hourly), 1)
        found.append(
            f"{share} % of the time is known only by hourly means, because older readings are thinned."
        )
    if data.pauses:
        shown = "; ".join(
            f"{reader.moment(pause.began)} for {duration_text((pause.ended - pause.began).total_seconds())}"
            for pause in data.pauses[:MOST_PAUSES]
        )
        more = len(data.pauses) - MOST_PAUSES
        rest = f"; and {f'{more} more'}" if more > 0 else ""
        found.append(f"Nothing is on record for these times: {shown}{rest}.")
    if data.damaged_rows:
        rows = counted(data.damaged_rows, "row")
        found.append(
            f"{rows} of the history could not be understood and {'is' if data.damaged_rows == 1 else 'are'} "
            "left out. The card may be failing: make a backup and check it."
        )
    found.append("Probes, loops and limits are taken as the settings name them now, for the whole time.")
    found.append(
        "Rain, sun, doors and vents are not measured, and what people did in the house is not known."
    )
    return found


def _zone(data: ReportData) -> str:
    if data.zone == "of this machine":
        return "the time of the machine that made the report, which agrees with the controller's own days"
    return f"{data.zone}, by which the controller counted its days; this machine has another time zone"
