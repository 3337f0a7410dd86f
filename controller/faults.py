"""The fault table: every fault the controller can name, and what a person needs to know about it.

Each row is an alarm in the sense of ISA-18.2 / IEC 62682 in small: cause, consequence, action, time to act,
priority, on and off delays. What needs no action is no alarm and is not in this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum

MINUTE_S = 60.0
HOUR_S = 3600.0
DAY_S = 86400.0


class Priority(IntEnum):
    """How soon a person must act; lower is more urgent."""

    ACT_NOW = 1
    TODAY = 2
    THIS_WEEK = 3


class FaultCode(Enum):
    """Stable names of faults; the value is the last level of the alarm's MQTT topic."""

    __hash__ = object.__hash__  # looked up at every tick; that of ``Enum`` is plain Python

    FIRE = "fire"
    FIRE_ONE_PROBE = "fire-one-probe"
    FROST = "frost"
    FROST_TONIGHT = "frost-tonight"
    FROST_IN_FLOOD = "frost-in-flood"
    TOO_HOT = "too-hot"
    CEILING_UNKNOWN = "ceiling-unknown"
    PROBE = "probe"
    PROBE_OFF = "probe-off"
    PROBE_IN_SUN = "probe-in-sun"
    BUS = "bus"
    SOIL_UNKNOWN = "soil-unknown"
    FLOAT = "float"
    FLOAT_CHATTER = "float-chatter"
    SUMP_NOT_EMPTYING = "sump-not-emptying"
    PUMP_SLOW = "pump-slow"
    PUMP_CYCLING = "pump-cycling"
    WATER_RETURNS = "water-returns"
    SUMP_QUIET = "sump-quiet"
    FAN_NO_EFFECT = "fan-no-effect"
    FAN_UNASKED = "fan-unasked"
    FAN_SWAPPED = "fan-swapped"
    TUBES_SHUT = "tubes-shut"
    FAN_STANDS = "fan-stands"
    PUMP_STANDS = "pump-stands"
    PUMP_UNASKED = "pump-unasked"
    HIGH_WATER = "high-water"
    SUPPLY_GONE = "supply-gone"
    VOLTAGE_LOW = "voltage-low"
    CONTACT = "contact"
    LOOP_WEAK = "loop-weak"
    HOUSE_OPEN = "house-open"
    OUTPUT = "output"
    STORAGE = "storage"
    SETTINGS_REJECTED = "settings-rejected"
    LINK = "link"
    CLOCK = "clock"
    RESTARTS = "restarts"
    PART_FAILED = "part-failed"
    UNIT = "unit"
    FORECAST_FILE = "forecast-file"
    PROMISE = "promise"


@dataclass(frozen=True, slots=True)
class Finding:
    """A fault that is present now.

    Attributes:
        code: which fault.
        subject: which probe, loop, sump or file; empty where there is only one.
        detail: the numbers or words that complete the alarm text.
        level: how bad it is, where that can change; a standing alarm calls again when it rises.
        over: whether the fault is past, and the detail says what it was; it raises nothing by itself.
    """

    code: FaultCode
    subject: str = ""
    detail: str = ""
    level: int = 0
    over: bool = False


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One line of the fault table.

    Attributes:
        priority: how soon a person must act.
        cause: what usually causes it.
        consequence: what happens if nobody acts.
        action: what to do, in words for a grower.
        time_to_act_s: how long the house copes.
        on_delay_s: how long it must be present before the alarm is raised.
        off_delay_s: how long it must be gone before the alarm clears.
        hidden_by: faults that explain this one, so that it is not raised beside them.
        urgent_from: the level of a finding from which a person must act now, within the hour.
        near_frost: whether that is so while frost is near, because the house then needs what has failed;
            its findings have the level ``NEAR_FROST`` for as long.
    """

    priority: Priority
    cause: str
    consequence: str
    action: str
    time_to_act_s: float
    on_delay_s: float
    off_delay_s: float
    hidden_by: tuple[FaultCode, ...] = ()
    urgent_from: int | None = None
    near_frost: bool = False

    def priority_at(self, level: int) -> Priority:
        """How soon a person must act on a fault that is as bad as this."""
        urgent_from = NEAR_FROST if self.near_frost else self.urgent_from
        urgent = urgent_from is not None and level >= urgent_from
        return Priority.ACT_NOW if urgent else self.priority

    def time_to_act_at_s(self, priority: Priority) -> float:
        """How long the house copes with an alarm of this priority."""
        if priority is self.priority:
            return self.time_to_act_s
        return min(self.time_to_act_s, HOUR_S) if priority < self.priority else max(self.time_to_act_s, DAY_S)


NEAR_FROST = 1
# Heat day after day is one spell and one alarm; it ends after a day and a half without such heat. [practice]
HOT_SPELL_ENDS_S = 36 * HOUR_S
# Fumes of an open flame kill in a closed house, and a heater may use up the air itself (carbon monoxide:
# guidance of every fire service and health authority). [practice]
SAFE_HEAT = (
    "Heat only with an electric heater, or one whose flue and air supply lead outside: the fumes of any "
    "other flame kill in a closed house."
)
KEEP_DRY = "Stay out of the water, it may be live."

FAULTS: dict[FaultCode, FaultRow] = {
    FaultCode.FIRE: FaultRow(
        Priority.ACT_NOW,
        cause="Two air probes, or one that also heats up fast, show more than sun can do.",
        consequence="Fire can spread; every fan is stopped so that none feeds it.",
        action="Keep out, call the fire service, cut the supply outside. When it is safe and the cause is "
        "found, clear it on the machine with: hypocaust clear fire",
        time_to_act_s=0.0,
        on_delay_s=0.0,
        off_delay_s=0.0,
    ),
    FaultCode.FIRE_ONE_PROBE: FaultRow(
        Priority.ACT_NOW,
        cause="One air probe alone shows the heat of a fire, or heats up that fast; the others do not: sun "
        "under a closed ridge, a failing probe, or a fire that begins there.",
        consequence="Every fan is stopped until the others have disagreed for an hour.",
        action="Look from outside first. Smoke or fire: keep out and call the fire service. If not, open the "
        "vents and check that probe.",
        time_to_act_s=15 * MINUTE_S,
        on_delay_s=0.0,
        off_delay_s=0.0,
        hidden_by=(FaultCode.FIRE,),
    ),
    FaultCode.FROST_IN_FLOOD: FaultRow(
        Priority.ACT_NOW,
        cause="The air is at the frost limit while the fans are locked, because there is water in a sump or "
        "its float cannot be read; the detail says which.",
        consequence="The crop freezes; no warmth can come out of the ground.",
        action=f"Cover the crop. {SAFE_HEAT} {KEEP_DRY} Then get the sump empty or the float mended.",
        time_to_act_s=HOUR_S,
        on_delay_s=5 * MINUTE_S,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.FROST: FaultRow(
        Priority.ACT_NOW,
        cause="The crop is colder than was announced in the evening, in hard frost, or nobody was warned; "
        "the detail says which, and what the fans do.",
        consequence="The crop is damaged within hours.",
        action=f"Cover the crop, shut vents and doors. {SAFE_HEAT}",
        time_to_act_s=HOUR_S,
        on_delay_s=10 * MINUTE_S,
        off_delay_s=12 * HOUR_S,
        hidden_by=(FaultCode.FROST_IN_FLOOD,),
    ),
    FaultCode.FROST_TONIGHT: FaultRow(
        Priority.TODAY,
        cause="By the nights before, tonight's outdoor air and the warmth left in the ground, the crop will "
        "be colder than its limit before morning.",
        consequence="Without help the crop may be damaged.",
        action=f"This evening cover the crop, shut vents and doors and get the heater ready. {SAFE_HEAT}",
        time_to_act_s=4 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.TOO_HOT: FaultRow(
        Priority.ACT_NOW,
        cause="Sun brings more heat than vents and fans take away.",
        consequence="Leaves and fruit set suffer; people who work in there can collapse.",
        action="Open vents and doors from outside, draw the shade. Stay in only for minutes, never alone; "
        "water the crop when it has cooled.",
        time_to_act_s=HOUR_S,
        on_delay_s=30 * MINUTE_S,
        off_delay_s=HOT_SPELL_ENDS_S,
        hidden_by=(FaultCode.FIRE, FaultCode.FIRE_ONE_PROBE),
    ),
    FaultCode.SUMP_NOT_EMPTYING: FaultRow(
        Priority.ACT_NOW,
        cause="More water than the pump moves; or pump dead, tripped or clogged, or its discharge blocked or "
        "frozen; or the float is stuck wet or its wire is cut.",
        consequence="Water fills the tubes, or the pump runs dry; fans of this sump stay locked.",
        action=f"Look from above. {KEEP_DRY} Water, and a strong jet from the discharge: add a pump and "
        "find the source. Water and no jet: isolate the pump, then check inlet and discharge. No water: "
        "isolate it, then check float and wire.",
        time_to_act_s=4 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.CEILING_UNKNOWN: FaultRow(
        Priority.TODAY,
        cause="No ceiling probe gives a reading that can be believed.",
        consequence="All fans stay off: nothing is banked and nothing is returned.",
        action="Check plugs and cable of the ceiling probes. In frost cover the crop first.",
        time_to_act_s=12 * HOUR_S,
        on_delay_s=10 * MINUTE_S,
        off_delay_s=10 * MINUTE_S,
        hidden_by=(FaultCode.BUS,),
        near_frost=True,
    ),
    FaultCode.SOIL_UNKNOWN: FaultRow(
        Priority.TODAY,
        cause="The soil probe of this loop gives no reading that can be believed.",
        consequence="The fan of this loop stays off.",
        action="Check plug and cable of the soil probe.",
        time_to_act_s=DAY_S,
        on_delay_s=10 * MINUTE_S,
        off_delay_s=10 * MINUTE_S,
        hidden_by=(FaultCode.BUS,),
        near_frost=True,
    ),
    FaultCode.BUS: FaultRow(
        Priority.TODAY,
        cause="The 1-wire cable is shorted, cut or has lost its supply.",
        consequence="No temperature is known: all fans stay off, and nobody sees frost come.",
        action="In frost cover the crop first. Unplug the probes one by one until the others come back.",
        time_to_act_s=12 * HOUR_S,
        on_delay_s=10 * MINUTE_S,
        off_delay_s=10 * MINUTE_S,
        near_frost=True,
    ),
    FaultCode.PROBE: FaultRow(
        Priority.THIS_WEEK,
        cause="A probe is unplugged, wet, disturbed or worn out.",
        consequence="The controller decides with one reading less.",
        action="Check its plug and cable; warm it in the hand and watch `hypocaust status`; replace it.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=30 * MINUTE_S,
        off_delay_s=30 * MINUTE_S,
        hidden_by=(FaultCode.BUS, FaultCode.CEILING_UNKNOWN),
    ),
    FaultCode.PROBE_OFF: FaultRow(
        Priority.THIS_WEEK,
        cause="The probe has drifted, or hangs where it should not.",
        consequence="The controller acts on a wrong temperature; heat goes in or out at the wrong time.",
        action="Check that it hangs in its place; test it in melting ice and set its offset, or replace it.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=0.0,
        off_delay_s=DAY_S,
        hidden_by=(FaultCode.BUS, FaultCode.PROBE),
    ),
    FaultCode.PROBE_IN_SUN: FaultRow(
        Priority.THIS_WEEK,
        cause="The probe has lost its shade: by day the sun warms it more than the air does.",
        consequence="By day the controller believes the house to be warmer than it is.",
        action="Hang it in the shade again, with air round it.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=0.0,
        off_delay_s=DAY_S,
        hidden_by=(FaultCode.BUS, FaultCode.PROBE),
    ),
    FaultCode.FLOAT: FaultRow(
        Priority.TODAY,
        cause="The float input cannot be read.",
        consequence="Water could rise unseen: fans of this sump stay locked, the pump runs by the clock.",
        action=f"Check the float's cable and plug at the box first. {KEEP_DRY}",
        time_to_act_s=12 * HOUR_S,
        on_delay_s=MINUTE_S,
        off_delay_s=10 * MINUTE_S,
        near_frost=True,
    ),
    FaultCode.FLOAT_CHATTER: FaultRow(
        Priority.THIS_WEEK,
        cause="Waves, a loose plug or a caught float make the switch bounce.",
        consequence="The sump counts as wet, so its fans stay locked.",
        action="Check the float's plug. Isolate the pump, then fit a stilling tube round the float.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=30 * MINUTE_S,
        off_delay_s=HOUR_S,
        hidden_by=(FaultCode.FLOAT,),
    ),
    FaultCode.PUMP_SLOW: FaultRow(
        Priority.THIS_WEEK,
        cause="Strainer or discharge is clogging, or the pump is worn.",
        consequence="Emptying takes longer each time until it fails.",
        action="Isolate the pump, clean strainer and discharge.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=0.0,
        off_delay_s=DAY_S,
        hidden_by=(FaultCode.SUMP_NOT_EMPTYING,),
    ),
    FaultCode.PUMP_CYCLING: FaultRow(
        Priority.TODAY,
        cause="Much water, a small pit or little travel of the float, or water running back.",
        consequence="The pit fills more often than the pump may start, so water rises above the float.",
        action="Find where the water comes from. Isolate the pump, then raise the float's travel and check "
        "the check valve.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=2 * HOUR_S,
        hidden_by=(FaultCode.SUMP_NOT_EMPTYING, FaultCode.FLOAT, FaultCode.WATER_RETURNS),
    ),
    FaultCode.WATER_RETURNS: FaultRow(
        Priority.TODAY,
        cause="Water flows in steadily, as after long rain; or the check valve leaks and water runs back.",
        consequence="With a leak the pump starts again and again for the same water; fans stay locked.",
        action="Watch the pit from dry ground after a run. Inflow keeps rising evenly: find its source. "
        "Water that runs back stops once the discharge pipe is empty: isolate the pump, then clean or "
        "replace the check valve.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=12 * HOUR_S,
        hidden_by=(FaultCode.SUMP_NOT_EMPTYING,),
    ),
    FaultCode.SUMP_QUIET: FaultRow(
        Priority.THIS_WEEK,
        cause="A dry season; or the float hangs dry, or the pump runs all the time without a command.",
        consequence="Unless the season is dry, water rises unseen, or the pump wears out dry.",
        action="First make sure that the pump is not running already. Then lift the float with a dry wooden "
        "stick, from beside the pit: fans must stop and the pump must start.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=0.0,
        off_delay_s=0.0,
        hidden_by=(FaultCode.FLOAT, FaultCode.TUBES_SHUT),
    ),
    FaultCode.FAN_NO_EFFECT: FaultRow(
        Priority.TODAY,
        cause="Fan dead or tripped, tubes blocked or flooded, or the outlet probe fell out.",
        consequence="This loop moves no heat although its fan is commanded on.",
        action="Look at its breaker. Isolate the fan, then check tubes and outlet probe; its capacitor and "
        "wiring are an electrician's.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=MINUTE_S,
        hidden_by=(FaultCode.FAN_STANDS,),
        near_frost=True,
    ),
    FaultCode.FAN_UNASKED: FaultRow(
        Priority.TODAY,
        cause="The fan runs without a command: its contactor is welded, or its switch stands on hand.",
        consequence="It empties the store when no heat is wanted, and the controller cannot stop it.",
        action="Check that the switch is not on hand. Isolate the fan at its breaker, in frost at once, and "
        "have the contactor replaced by an electrician.",
        time_to_act_s=12 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
        urgent_from=1,
        near_frost=True,
    ),
    FaultCode.FAN_SWAPPED: FaultRow(
        Priority.TODAY,
        cause="Two fans, or the outlet probes of two loops, are connected crosswise.",
        consequence="The wrong soil is charged and emptied; these loops are tried less and less often.",
        action="Run one fan at a time and hold a strip of paper over the outlets to see which blows; then "
        "correct the pins of the fans or the ids of the outlet probes in the settings.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.TUBES_SHUT: FaultRow(
        Priority.TODAY,
        cause="No loop of this sump moves heat: water stands in the tubes and the float hangs dry, or the "
        "fans have lost their supply.",
        consequence="Nothing is banked and nothing is returned; water that stands spoils the tubes.",
        action="Look into the sump from beside it. Water: lift the float with a dry wooden stick, and the "
        "pump must start. No water: look at the breaker of the fans.",
        time_to_act_s=12 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
        near_frost=True,
        hidden_by=(FaultCode.SUPPLY_GONE,),
    ),
    FaultCode.FAN_STANDS: FaultRow(
        Priority.TODAY,
        cause="The fan stands although it is commanded on: its switch is not on AUTO, its breaker, overload "
        "or thermal cut-out has opened, or its contactor or motor has failed.",
        consequence="This loop moves no heat.",
        action="Look at its switch. Isolate it, then let an electrician find what has tripped and why; do "
        "not just reset it.",
        time_to_act_s=12 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=MINUTE_S,
        hidden_by=(FaultCode.SUPPLY_GONE,),
        urgent_from=1,
    ),
    FaultCode.PUMP_STANDS: FaultRow(
        Priority.TODAY,
        cause="The pump stands although it is commanded on: its switch is not on AUTO, its breaker, overload "
        "or residual-current device has opened, or its contactor or motor has failed.",
        consequence="Water rises in the sump and into the tubes; fans of this sump stay locked.",
        action="Look at its switch. Isolate it, then let an electrician find what has tripped; stay out of "
        "standing water.",
        time_to_act_s=4 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=MINUTE_S,
        hidden_by=(FaultCode.SUPPLY_GONE,),
        urgent_from=1,
    ),
    FaultCode.PUMP_UNASKED: FaultRow(
        Priority.TODAY,
        cause="The pump runs without a command: its switch stands on HAND, the second float has started it, "
        "or its contactor is welded.",
        consequence="A pump that runs dry is spoiled, and the controller cannot stop it.",
        action="Look from above for water at the second float. Check that the switch is not on HAND. "
        "Otherwise isolate the pump and have the contactor replaced.",
        time_to_act_s=HOUR_S,
        on_delay_s=0.0,
        off_delay_s=MINUTE_S,
    ),
    FaultCode.HIGH_WATER: FaultRow(
        Priority.ACT_NOW,
        cause="Water has reached the upper float: more comes than the pump moves, the pump stands, or the "
        "float below it is stuck dry.",
        consequence="Water fills the tubes; if the float below reads dry, fans may blow into it.",
        action="Look from above. If the pump stands, see its alarm. If it runs, add a pump. If the float "
        "below reads dry, switch the fans of this sump to OFF and free that float.",
        time_to_act_s=HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.SUPPLY_GONE: FaultRow(
        Priority.ACT_NOW,
        cause="The motors have no supply: a power cut that spares this computer, or an open breaker.",
        consequence="No fan and no pump runs, whatever is commanded: frost and water find no help.",
        action="See whether the neighbours have power. If so, let an electrician find what has opened.",
        time_to_act_s=HOUR_S,
        on_delay_s=0.0,
        off_delay_s=MINUTE_S,
    ),
    FaultCode.VOLTAGE_LOW: FaultRow(
        Priority.THIS_WEEK,
        cause="The computer's own supply sags: too weak, too long or thin a cable, or worn out.",
        consequence="The computer slows down, damages its card or restarts.",
        action="Replace the computer's supply and its cable; feed no relay coils from it.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=0.0,
        off_delay_s=DAY_S,
    ),
    FaultCode.CONTACT: FaultRow(
        Priority.THIS_WEEK,
        cause="An input that shows what a motor, float or supply does cannot be read.",
        consequence="What it shows is not monitored.",
        action="Check its pin and cable, or take it out of the settings.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=MINUTE_S,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.LOOP_WEAK: FaultRow(
        Priority.THIS_WEEK,
        cause="Less air than before: leaves or dirt at the grille, silt or water in some tubes; or its soil "
        "or outlet probe has drifted.",
        consequence="The loop moves less heat for the same electricity, and less each week.",
        action="Isolate the fan and clean grille and blades; look into the tubes; check both probes.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=0.0,
        off_delay_s=DAY_S,
        hidden_by=(FaultCode.FAN_NO_EFFECT, FaultCode.FAN_UNASKED, FaultCode.FAN_SWAPPED),
    ),
    FaultCode.HOUSE_OPEN: FaultRow(
        Priority.TODAY,
        cause="A door or vent stands open or a sheet is torn; or a screen or other heat that usually helps "
        "does not.",
        consequence="The house loses its warmth faster than the soil can give it back.",
        action="Shut doors and vents. If all are shut, look for holes in the cover, and what has changed.",
        time_to_act_s=4 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
        hidden_by=(
            FaultCode.FAN_NO_EFFECT,
            FaultCode.TUBES_SHUT,
            FaultCode.FAN_SWAPPED,
            FaultCode.FAN_UNASKED,
        ),
        near_frost=True,
    ),
    FaultCode.OUTPUT: FaultRow(
        Priority.TODAY,
        cause="The pin could not be driven, or the program stopped renewing its commands.",
        consequence="This fan, pump or signal does not follow its commands.",
        action="Read the log. Have the supply isolated, then check the relay board and its cable.",
        time_to_act_s=4 * HOUR_S,
        on_delay_s=0.0,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.STORAGE: FaultRow(
        Priority.TODAY,
        cause="The card is full or nearly so, worn out or read-only.",
        consequence="Control goes on; history is not kept once nothing can be written.",
        action="Free space or replace the card.",
        time_to_act_s=DAY_S,
        on_delay_s=5 * MINUTE_S,
        off_delay_s=10 * MINUTE_S,
    ),
    FaultCode.SETTINGS_REJECTED: FaultRow(
        Priority.TODAY,
        cause="The settings file has errors, or cannot be read.",
        consequence="The last good settings stay in force (after a start, their kept copy); later changes do "
        "not count.",
        action="Run `hypocaust check` on the file and mend the lines it names.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=0.0,
        urgent_from=1,
    ),
    FaultCode.LINK: FaultRow(
        Priority.THIS_WEEK,
        cause="Broker, network or password is wrong.",
        consequence="Control goes on; phones see nothing new.",
        action="Check the broker and the network; see the detail.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=10 * MINUTE_S,
        off_delay_s=MINUTE_S,
    ),
    FaultCode.CLOCK: FaultRow(
        Priority.THIS_WEEK,
        cause="The board has not received the time of day since it started.",
        consequence="Control goes on; messages have no time, and no summary, backup or reminder is made.",
        action="Check the network and the board's time service (timedatectl).",
        time_to_act_s=7 * DAY_S,
        on_delay_s=DAY_S,
        off_delay_s=0.0,
    ),
    FaultCode.RESTARTS: FaultRow(
        Priority.TODAY,
        cause="The controller was started more than three times within a day.",
        consequence="After each start every motor rests first; the crop may be without help.",
        action="Read the log; check the board's power supply and its plug.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=HOUR_S,
    ),
    FaultCode.PART_FAILED: FaultRow(
        Priority.TODAY,
        cause="A part of the program that only remembers, counts or reports has failed: a defect in it.",
        consequence="Control goes on; what the alarm names is missing or old.",
        action="Read the log and report what it says; restart the service at a moment when no fan is needed.",
        time_to_act_s=DAY_S,
        on_delay_s=0.0,
        off_delay_s=HOUR_S,
    ),
    FaultCode.UNIT: FaultRow(
        Priority.THIS_WEEK,
        cause="The system does not give the service everything its unit file asks for.",
        consequence="Control goes on without a protection of the board, or with slower readings.",
        action="Do what the detail says, then restart the service.",
        time_to_act_s=7 * DAY_S,
        on_delay_s=5 * MINUTE_S,
        off_delay_s=0.0,
    ),
    FaultCode.FORECAST_FILE: FaultRow(
        Priority.THIS_WEEK,
        cause="The file with the forecast low is missing or not in the form that is expected.",
        consequence="The outlook on the night goes on without a forecast, with wider bounds.",
        action="Mend the file or the program that writes it, or take forecast_file out of [site].",
        time_to_act_s=7 * DAY_S,
        on_delay_s=10 * MINUTE_S,
        off_delay_s=0.0,
    ),
    FaultCode.PROMISE: FaultRow(
        Priority.ACT_NOW,
        cause="The controller found that it broke one of its own safety rules: a defect in the program.",
        consequence="The output in the detail was not protected as promised.",
        action="Stop the service, switch by hand, and report the detail.",
        time_to_act_s=HOUR_S,
        on_delay_s=0.0,
        off_delay_s=DAY_S,
    ),
}

# Alarms about nothing but a crop: a person may mute them while the house is empty.
ABOUT_THE_CROP = frozenset(
    {
        FaultCode.FROST,
        FaultCode.FROST_TONIGHT,
        FaultCode.FROST_IN_FLOOD,
        FaultCode.TOO_HOT,
        FaultCode.HOUSE_OPEN,
    }
)

# Alarms that somebody may say they have seen. All others can hurt people or flood the tubes (fire, water,
# motors that do not obey) and call whatever is said; so does a new fault until it is entered here. The crop's
# side of frost in a flood is here, because its water has an alarm of its own.
MAY_BE_SEEN = ABOUT_THE_CROP | {
    FaultCode.CEILING_UNKNOWN,
    FaultCode.SOIL_UNKNOWN,
    FaultCode.BUS,
    FaultCode.PROBE,
    FaultCode.PROBE_OFF,
    FaultCode.PROBE_IN_SUN,
    FaultCode.FLOAT_CHATTER,
    FaultCode.PUMP_SLOW,
    FaultCode.FAN_NO_EFFECT,
    FaultCode.FAN_STANDS,
    FaultCode.FAN_SWAPPED,
    FaultCode.LOOP_WEAK,
    FaultCode.VOLTAGE_LOW,
    FaultCode.CONTACT,
    FaultCode.STORAGE,
    FaultCode.SETTINGS_REJECTED,
    FaultCode.LINK,
    FaultCode.CLOCK,
    FaultCode.RESTARTS,
    FaultCode.PART_FAILED,
    FaultCode.UNIT,
    FaultCode.FORECAST_FILE,
}
