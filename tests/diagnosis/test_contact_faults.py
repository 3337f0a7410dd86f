"""What the contacts show of motors, the upper float and the supplies, and what is said about it."""

from __future__ import annotations

import pytest

from controller.decision.state import Demand, FireState, OutputState
from controller.diagnosis.contact_faults import FOLLOWS_WITHIN_S, contact_findings
from controller.equipment import OutputId
from controller.faults import FAULTS, FaultCode, Finding, Priority
from controller.readings.contacts import Contact, ContactKind, ContactReading
from controller.readings.reading import Good, Level, LevelReading, Missing, Why
from tests.decision.world import HOUSE, World

NOW_S = 10_000.0
WORLD = World()
DRY, WET, BLIND = Good(Level.DRY, NOW_S), Good(Level.WET, NOW_S), Missing(Why.UNREADABLE, NOW_S)
FAN, PUMP = Contact(ContactKind.FAN_RUNS, "north"), Contact(ContactKind.PUMP_RUNS, "main")
HIGH, SUPPLY = Contact(ContactKind.HIGH_WATER, "main"), Contact(ContactKind.SUPPLY_THERE)
VOLTAGE = Contact(ContactKind.VOLTAGE_LOW)


def found(
    contact: Contact,
    yes: bool | None,
    *,
    on: bool = False,
    since_s: float = 60.0,
    commanded_s: float = 60.0,
    level: LevelReading = DRY,
    fire: bool = False,
    frost: bool = False,
) -> list[Finding]:
    """What one contact gives: what it says for how long, and what is commanded for how long."""
    snapshot = WORLD.snapshot()._replace(
        contacts={contact: ContactReading(yes, NOW_S - since_s)}, sumps={"main": level}
    )
    outputs = {o: OutputState(on=on, since_mono_s=NOW_S - commanded_s) for o in WORLD.state.outputs}
    fans = WORLD.state.fans
    if frost:
        fans = {name: fan._replace(demand=Demand.FROST) for name, fan in fans.items()}
    state = WORLD.state._replace(outputs=outputs, fans=fans, fire=FireState("65 °C" if fire else None, NOW_S))
    return list(contact_findings(snapshot, state, HOUSE, NOW_S))


@pytest.mark.parametrize(
    ("finding", "code", "priority", "words"),
    [
        (found(FAN, False, on=True), FaultCode.FAN_STANDS, Priority.TODAY, "commanded on"),
        (found(FAN, False, on=True, frost=True), FaultCode.FAN_STANDS, Priority.ACT_NOW, "frost limit"),
        (found(FAN, True), FaultCode.FAN_UNASKED, Priority.TODAY, "commanded off"),
        (
            found(FAN, True, level=WET),
            FaultCode.FAN_UNASKED,
            Priority.ACT_NOW,
            "it blows into water, sump main",
        ),
        (found(FAN, True, level=BLIND), FaultCode.FAN_UNASKED, Priority.ACT_NOW, "float of sump main is not"),
        (found(FAN, True, fire=True), FaultCode.FAN_UNASKED, Priority.ACT_NOW, "feeds a fire"),
        (found(PUMP, False, on=True), FaultCode.PUMP_STANDS, Priority.TODAY, "commanded on"),
        (
            found(PUMP, False, on=True, level=WET),
            FaultCode.PUMP_STANDS,
            Priority.ACT_NOW,
            "water in the sump",
        ),
        (found(PUMP, True), FaultCode.PUMP_UNASKED, Priority.TODAY, "may run dry"),
        (found(PUMP, True, level=WET), FaultCode.PUMP_UNASKED, Priority.TODAY, "commanded off"),
        (found(HIGH, True), FaultCode.HIGH_WATER, Priority.ACT_NOW, "dry: it is stuck"),
        (found(HIGH, True, level=WET), FaultCode.HIGH_WATER, Priority.ACT_NOW, "wet as well"),
        (found(HIGH, True, level=BLIND), FaultCode.HIGH_WATER, Priority.ACT_NOW, "not known"),
        (found(SUPPLY, False), FaultCode.SUPPLY_GONE, Priority.ACT_NOW, "dropped"),
        (found(VOLTAGE, True), FaultCode.VOLTAGE_LOW, Priority.THIS_WEEK, "too low"),
        (found(HIGH, None), FaultCode.CONTACT, Priority.THIS_WEEK, "cannot be read"),
    ],
)
def test_each_trouble_has_its_alarm(
    finding: list[Finding], code: FaultCode, priority: Priority, words: str
) -> None:
    """One finding, as urgent as what stands behind it, with what was seen."""
    (one,) = finding
    assert one.code is code
    assert FAULTS[code].priority_at(one.level) is priority
    assert words in one.detail


@pytest.mark.parametrize(
    ("contact", "yes", "on"),
    [(FAN, True, True), (FAN, False, False), (PUMP, True, True), (PUMP, False, False), (HIGH, False, False),
     (SUPPLY, True, False), (VOLTAGE, False, False)],
)  # fmt: skip
def test_what_follows_its_command_gives_nothing(contact: Contact, yes: bool, on: bool) -> None:
    """A sound contact is silent."""
    assert found(contact, yes, on=on) == []


@pytest.mark.parametrize("late", ["since_s", "commanded_s"])
def test_a_motor_has_time_to_follow(late: str) -> None:
    """Neither a fresh command nor a fresh contact counts at once."""
    just, long = {late: FOLLOWS_WITHIN_S - 0.1}, {late: FOLLOWS_WITHIN_S}
    assert found(FAN, False, on=True, **just) == []  # type: ignore[arg-type]
    assert len(found(FAN, False, on=True, **long)) == 1  # type: ignore[arg-type]
    if late == "since_s":
        assert found(HIGH, True, **just) == found(SUPPLY, False, **just) == []  # type: ignore[arg-type]


def test_only_motors_that_are_there_are_compared() -> None:
    """Without contacts nothing is found."""
    assert OutputId.fan("north") in WORLD.state.outputs
    assert list(contact_findings(WORLD.snapshot(), WORLD.state, HOUSE, NOW_S)) == []
