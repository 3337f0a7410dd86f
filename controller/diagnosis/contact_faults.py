"""What the contacts show: motors that do not follow, water at the upper float, a supply that is gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.state import Demand
from controller.equipment import OutputId
from controller.faults import FaultCode, Finding
from controller.readings.contacts import ContactKind
from controller.readings.reading import Good, Level

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.decision.state import ControllerState
    from controller.readings.contacts import Contact, ContactReading
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings

# A contactor follows within a tenth of a second, a current switch within seconds. [practice]
FOLLOWS_WITHIN_S = 5.0


def contact_findings(
    snapshot: Snapshot, state: ControllerState, settings: Settings, now_s: float
) -> Iterator[Finding]:
    """Everything that is wrong as far as the contacts show it.

    Args:
        snapshot: with the contacts that are fitted.
        state: what is commanded, and since when.
        settings: which sump a loop drains to.
        now_s: now.
    """
    for contact, reading in snapshot.contacts.items():
        if reading.yes is None:
            subject = f"{contact.kind.value} {contact.name}".strip()
            yield Finding(FaultCode.CONTACT, subject, "cannot be read")
            continue
        match contact.kind:
            case ContactKind.FAN_RUNS:
                yield from _fan(contact.name, reading, snapshot, state, settings, now_s)
            case ContactKind.PUMP_RUNS:
                yield from _pump(contact.name, reading, snapshot, state, now_s)
            case _:
                yield from _others(contact, reading, snapshot, now_s)


def _disagrees_for_s(
    output: OutputId, reading: ContactReading, state: ControllerState, now_s: float
) -> float | None:
    """How long a motor has not followed its command, None if it does or may still be about to."""
    commanded = state.outputs[output]
    if reading.yes is commanded.on:
        return None
    for_s = now_s - max(reading.since_mono_s, commanded.since_mono_s)
    return for_s if for_s >= FOLLOWS_WITHIN_S else None


def _fan(
    name: str,
    reading: ContactReading,
    snapshot: Snapshot,
    state: ControllerState,
    settings: Settings,
    now_s: float,
) -> Iterator[Finding]:
    for_s = _disagrees_for_s(OutputId.fan(name), reading, state, now_s)
    if for_s is None:
        return
    if not reading.yes:
        frost = state.fans[name].demand is Demand.FROST
        why = "; the house is at the frost limit" if frost else ""
        yield Finding(
            FaultCode.FAN_STANDS, name, f"commanded on, and its contact says it stands{why}", int(frost)
        )
        return
    danger = _danger(settings.loops[name].sump, snapshot, state)
    detail = f"its contact says it runs although it is commanded off{danger}"
    yield Finding(FaultCode.FAN_UNASKED, name, detail, int(bool(danger)))


def _danger(sump: str, snapshot: Snapshot, state: ControllerState) -> str:
    """What makes a fan that runs unasked dangerous now, empty if nothing does."""
    if state.fire.latched_detail is not None:
        return ": it feeds a fire"
    level = snapshot.sumps[sump]
    if isinstance(level, Good) and level.value is Level.WET:
        return f": it blows into water, sump {sump} is wet"
    return (
        ""
        if isinstance(level, Good)
        else f": water may stand in its tubes, the float of sump {sump} is not known"
    )


def _pump(
    name: str, reading: ContactReading, snapshot: Snapshot, state: ControllerState, now_s: float
) -> Iterator[Finding]:
    for_s = _disagrees_for_s(OutputId.pump(name), reading, state, now_s)
    if for_s is None:
        return
    level = snapshot.sumps[name]
    wet = isinstance(level, Good) and level.value is Level.WET
    if not reading.yes:
        water = "; there is water in the sump" if wet else ""
        detail = f"commanded on, and its contact says it stands{water}"
        yield Finding(FaultCode.PUMP_STANDS, name, detail, int(wet))
    else:
        dry = "" if wet else "; it may run dry"
        yield Finding(
            FaultCode.PUMP_UNASKED, name, f"its contact says it runs although it is commanded off{dry}"
        )


def _others(contact: Contact, reading: ContactReading, snapshot: Snapshot, now_s: float) -> Iterator[Finding]:
    lasts = now_s - reading.since_mono_s >= FOLLOWS_WITHIN_S
    if contact.kind is ContactKind.HIGH_WATER and reading.yes and lasts:
        level = snapshot.sumps[contact.name]
        below = "dry: it is stuck, or its wire is shorted"
        if not isinstance(level, Good):
            below = "not known"
        elif level.value is Level.WET:
            below = "wet as well"
        yield Finding(
            FaultCode.HIGH_WATER, contact.name, f"the upper float is wet, the one below it is {below}"
        )
    elif contact.kind is ContactKind.SUPPLY_THERE and not reading.yes and lasts:
        yield Finding(FaultCode.SUPPLY_GONE, "", "the relay on the motors' supply has dropped")
    elif contact.kind is ContactKind.VOLTAGE_LOW and reading.yes:
        yield Finding(FaultCode.VOLTAGE_LOW, "", "the kernel reports a voltage that is too low")
