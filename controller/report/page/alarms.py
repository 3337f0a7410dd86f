"""Every alarm, what it asked for, and what was done about it as far as the history shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.faults import FAULTS
from controller.report.markup import Markup, tag
from controller.report.page.parts import paragraph, section, table
from controller.report.page.reading import counted, listed
from controller.units import duration_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.faults import FaultRow
    from controller.report.data import AlarmSpell, ReportData, Said
    from controller.report.page.reading import Reader

URGENCY = {1: "to act on at once", 2: "to act on today", 3: "to act on this week"}
NOTHING_SAID = "Nothing was said."


def alarms(data: ReportData, reader: Reader) -> Markup:
    """The section, alarms of a kind together, the most urgent first."""
    children: list[Markup] = []
    if not data.alarms:
        children.append(paragraph("No alarm was raised."))
    else:
        children.append(
            paragraph(
                "The history shows what ran, and what was said at the machine (seen, done, house). What was "
                "done by hand in the house is not in it. Hours of several fans or pumps are added up."
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
    named = any(spell.subject for spell in spells)
    heads = ["raised", "lasted", *(["about"] if named else []), "what it said", "what was done"]
    rows = [_row(spell, reader, named=named) for spell in spells]
    return tag(
        "div",
        tag("h3", heading),
        *_meaning(fault),
        table(f"Alarm {code}, each time", heads, rows, "wordy"),
        class_="alarm",
    )


def _meaning(fault: FaultRow | None) -> tuple[Markup, ...]:
    if fault is None:
        return (paragraph("This alarm is of another release of the controller."),)
    return (
        paragraph(tag("b", "Cause. "), fault.cause),
        paragraph(tag("b", "What to do. "), fault.action),
    )


def _row(spell: AlarmSpell, reader: Reader, *, named: bool) -> list[str]:
    lasted = (
        "end not on record"
        if spell.over is None
        else duration_text((spell.over - spell.raised).total_seconds())
    )
    ran = [f"fans {spell.fan_h:.1f} h"] if spell.fan_h > 0.0 else []
    ran += [f"pumps {duration_text(spell.pump_s)}"] if spell.pump_s > 0.0 else []
    done = [f"Ran meanwhile: {listed(ran)}."] if ran else []
    done += [f"It called {counted(spell.calls, 'time')}."] if spell.calls > 1 else []
    done += [f"{reader.moment(one.at)}: {one.words}." for one in spell.said] or [NOTHING_SAID]
    about = [spell.subject or "–"] if named else []
    return [reader.moment(spell.raised), lasted, *about, spell.detail or "–", " ".join(done)]


def _done(done: Sequence[Said], reader: Reader) -> Markup:
    rows = [[reader.moment(one.at), one.words] for one in done]
    return tag(
        "div",
        tag("h3", "Also said at the machine"),
        table("Checks by hand, and a house without a crop", ("when", "what"), rows, "wordy"),
    )
