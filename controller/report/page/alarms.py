"""Every alarm, what it asked for, and what was done about it as far as the history shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.faults import FAULTS
from controller.history.story import URGENCY
from controller.report.markup import Markup, tag
from controller.report.page.parts import paragraph, section, table
from controller.report.page.reading import counted
from controller.units import duration_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.faults import FaultRow
    from controller.report.data import AlarmSpell, ReportData, Said
    from controller.report.page.reading import Reader

HEADS = ("raised", "lasted", "about", "what it said", "what was done")
NOTHING_SAID = "Nobody said anything at the machine."


def alarms(data: ReportData, reader: Reader) -> Markup:
    """The section, alarms of a kind together, the most urgent first."""
    children: list[Markup] = []
    if not data.alarms:
        children.append(paragraph("No alarm was raised."))
    else:
        children.append(
            paragraph(
                "The history shows what was said at the machine (seen, done, house) and when an alarm was "
                "over. What was done by hand in the house is not in it."
            )
        )
    codes = sorted(
        {spell.code for spell in data.alarms}, key=lambda code: (_urgency(data.alarms, code), code)
    )
    children += [
        _kind(code, [spell for spell in data.alarms if spell.code == code], reader) for code in codes
    ]
    if data.done:
        children.append(_done(data.done, reader))
    return section("alarms", "Alarms, and what was done", *children)


def _urgency(spells: Sequence[AlarmSpell], code: str) -> int:
    return min(spell.priority for spell in spells if spell.code == code)


def _kind(code: str, spells: Sequence[AlarmSpell], reader: Reader) -> Markup:
    """All alarms of one code: what it means and asks for, and each time it was raised."""
    fault = next((row for known, row in FAULTS.items() if known.value == code), None)
    heading = (
        f"{code}: {counted(len(spells), 'time')}, {URGENCY.get(_urgency(spells, code), 'no longer known')}"
    )
    rows = [_row(spell, reader) for spell in spells]
    return tag(
        "div",
        tag("h3", heading),
        *_meaning(fault),
        table(f"Alarm {code}, each time", HEADS, rows, "wordy"),
        class_="alarm",
    )


def _meaning(fault: FaultRow | None) -> tuple[Markup, ...]:
    if fault is None:
        return (paragraph("This alarm is of another release of the controller."),)
    return (
        paragraph(tag("b", "Cause. "), fault.cause),
        paragraph(tag("b", "What to do. "), fault.action),
    )


def _row(spell: AlarmSpell, reader: Reader) -> list[str]:
    lasted = (
        "end not on record"
        if spell.over is None
        else duration_text((spell.over - spell.raised).total_seconds())
    )
    done = [f"It called {counted(spell.calls, 'time')}."] if spell.calls > 1 else []
    if spell.fan_h > 0.0:
        done.append(f"Meanwhile the fans ran for {spell.fan_h:.1f} h, added up.")
    if spell.pump_s > 0.0:
        done.append(f"Meanwhile the pumps ran for {duration_text(spell.pump_s)}.")
    done += [f"{reader.moment(one.at)}: {one.words}." for one in spell.said] or [NOTHING_SAID]
    return [
        reader.moment(spell.raised),
        lasted,
        spell.subject or "the house",
        spell.detail or "–",
        " ".join(done),
    ]


def _done(done: Sequence[Said], reader: Reader) -> Markup:
    rows = [[reader.moment(one.at), one.words] for one in done]
    return tag(
        "div",
        tag("h3", "Also said at the machine"),
        table("Checks by hand, and a house without a crop", ("when", "what"), rows, "wordy"),
    )
