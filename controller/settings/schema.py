"""Every setting: its default, its range with the reason, and what a smaller or larger value does.

Attribute names carry the SI unit (``heat_below_c``); the key in the file does not (``heat_below = "6 °C"``),
because there the value carries it. Sections without which the controller cannot work have no default.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from controller.settings.quantities import Quantity, plain_key
from controller.units import TemperatureUnit

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9-]{0,23}$")]
Pin = Annotated[int, Field(ge=0, le=27)]

Celsius = Annotated[float, Quantity("temperature")]
Kelvin = Annotated[float, Quantity("difference")]
Seconds = Annotated[float, Quantity("duration")]
Watts = Annotated[float, Quantity("power")]
AirFlow = Annotated[float, Quantity("air flow")]
WaterFlow = Annotated[float, Quantity("water flow")]
Metres = Annotated[float, Quantity("length")]
CubicMetres = Annotated[float, Quantity("volume")]
KelvinPerSecond = Annotated[float, Quantity("rate of rise")]


def setting(
    default: Any, meaning: str, *, smaller: str = "", larger: str = "", low: Any = None, high: Any = None
) -> Any:
    """Declare a setting with everything its documentation needs.

    Args:
        default: the default as a person writes it (``"6 °C"``), or ``...`` where there is none.
        meaning: what it is, one sentence.
        smaller: what a smaller value does.
        larger: what a larger value does.
        low: smallest allowed value as a person writes it.
        high: largest allowed value as a person writes it.
    """
    extra = {"smaller": smaller, "larger": larger, "low": low, "high": high}
    return Field(default, description=meaning, json_schema_extra=extra, validate_default=True)


class Section(BaseModel):
    """A table of the settings file: unknown keys are errors, values never change after loading."""

    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, alias_generator=plain_key, validate_by_name=True
    )


class Site(Section):
    """[site]: which house this is."""

    name: Name = setting(..., "Short name of the site; part of every MQTT topic.")
    title: str = setting("", "Name of the house as people say it, for reports and the status.")
    altitude_m: Metres = setting(
        "0 m",
        "Height above sea level; sets the air density that heat figures are worked out with.",
        smaller="Denser air, more heat per cubic metre.",
        larger="Thinner air, less heat per cubic metre.",
        low="-400 m",
        high="5000 m",
    )
    show: Annotated[TemperatureUnit, Field(strict=False)] = setting(
        "°C", 'Unit in which people read temperatures, "°C" or "°F"; machines always get °C.'
    )


class Setpoints(Section):
    """[setpoints]: what the air and the soil may do."""

    frost_limit_c: Celsius = setting(
        "2 °C",
        "Below this the crop is in danger: every usable warmth is returned and the frost alarm is raised.",
        smaller="Later alarm; less power spent on nights that stay above it.",
        larger="Earlier alarm and earlier help, more fan hours.",
        low="-10 °C",
        high="15 °C",
    )
    heat_below_c: Celsius = setting(
        "5 °C",
        "Below this air temperature warmth is returned from the soil.",
        smaller="Warmth is kept for the coldest hours; plants run cooler.",
        larger="Warmer nights, but the store can be empty when the frost comes.",
        low="-5 °C",
        high="25 °C",
    )
    comfort_floor_c: Celsius = setting(
        "12 °C",
        "Heat is banked only while the bench air stays above this.",
        smaller="More heat is banked, mornings start cooler.",
        larger="Less heat is banked on cool days.",
        low="0 °C",
        high="30 °C",
    )
    bank_above_c: Celsius = setting(
        "20 °C",
        "Ceiling temperature from which heat may be banked for later.",
        smaller="Banks on weaker sun, more fan hours.",
        larger="Banks only on strong sun.",
        low="5 °C",
        high="40 °C",
    )
    cool_above_c: Celsius = setting(
        "28 °C",
        "Ceiling temperature from which the fans cool the house into the soil, wanted later or not.",
        smaller="Cooler days, more fan hours in summer.",
        larger="Warmer days, fewer fan hours; vents and shade have to do more.",
        low="15 °C",
        high="45 °C",
    )
    air_deadband_k: Kelvin = setting(
        "1 K",
        "How far the air must come back past a setpoint before its demand ends.",
        smaller="Fans follow the setpoint closely and start more often.",
        larger="Fewer starts, the air swings further.",
        low="0.2 K",
        high="5 K",
    )
    too_hot_c: Celsius = setting(
        "40 °C",
        "Bench temperature above which a person is called: the crop suffers and vents must open.",
        smaller="Called earlier on hot days.",
        larger="Called later.",
        low="25 °C",
        high="60 °C",
    )
    root_zone_max_c: Celsius = setting(
        "26 °C",
        "No heat is put into the soil while the root zone is at or above this.",
        smaller="Cooler roots, less storage.",
        larger="More storage, warmer roots.",
        low="10 °C",
        high="40 °C",
    )
    root_zone_min_c: Celsius = setting(
        "6 °C",
        "No heat is taken from the soil while the root zone is at or below this.",
        smaller="More warmth can be taken back, cooler roots.",
        larger="Warmer roots, less help on cold nights.",
        low="0 °C",
        high="25 °C",
    )
    root_zone_deadband_k: Kelvin = setting(
        "0.5 K",
        "How far the root zone must come back before its limit lets go.",
        smaller="Limit lets go sooner.",
        larger="Limit lets go later, fewer starts.",
        low="0.1 K",
        high="3 K",
    )


class Fans(Section):
    """[fans]: when a loop's fan may run and how it is looked after."""

    useful_difference_k: Kelvin = setting(
        "5 K",
        "Ceiling minus soil temperature (either way) from which a fan is worth starting.",
        smaller="More heat moved for more electricity.",
        larger="Only the best hours are used.",
        low="1 K",
        high="20 K",
    )
    difference_deadband_k: Kelvin = setting(
        "2 K",
        "A running fan stops when the difference has shrunk to the useful difference minus this.",
        smaller="Stops earlier, starts more often.",
        larger="Runs longer on a smaller difference.",
        low="0.5 K",
        high="10 K",
    )
    frost_difference_k: Kelvin = setting(
        "3 K",
        "Soil minus ceiling temperature that is enough when the air is at the frost limit.",
        smaller="Helps the crop down to the last bit of warmth.",
        larger="Gives up earlier on a nearly empty store.",
        low="1 K",
        high="20 K",
    )
    heat_per_watt: float = setting(
        4.0,
        "Heat the loop is expected to move for each watt of fan power before it may start (1 to 50).",
        smaller="Runs for less gain.",
        larger="Runs only when the gain is large.",
        low=1.0,
        high=50.0,
    )
    proven_heat_per_watt: float = setting(
        1.5,
        "Heat the outlet must prove for each watt after the purge time, or the fan stops (0 to 20).",
        smaller="Tolerates weak loops.",
        larger="Stops weak loops sooner.",
        low=0.0,
        high=20.0,
    )
    purge_s: Seconds = setting(
        "5 min",
        "Time after a start until the outlet shows what the tubes really deliver.",
        smaller="Judged before the tubes have settled.",
        larger="A useless run lasts longer.",
        low="1 min",
        high="30 min",
    )
    back_off_s: Seconds = setting(
        "30 min",
        "Pause after a run that moved no heat; doubled each time in a row.",
        smaller="Tries again sooner.",
        larger="Wastes less on a bad loop.",
        low="5 min",
        high="6 h",
    )
    longest_back_off_s: Seconds = setting(
        "8 h",
        "Longest pause the doubling may reach.",
        smaller="A bad loop is tried more often.",
        larger="A healed loop is found later.",
        low="30 min",
        high="48 h",
    )
    minimum_run_s: Seconds = setting(
        "10 min",
        "Shortest run of a fan; only a safety trip may cut it.",
        smaller="More starts.",
        larger="Fewer starts, more overrun.",
        low="1 min",
        high="60 min",
    )
    minimum_rest_s: Seconds = setting(
        "5 min",
        "Shortest pause between two runs of a fan.",
        smaller="Motor cools less between starts.",
        larger="Reacts later.",
        low="1 min",
        high="60 min",
    )
    starts_per_hour: int = setting(
        3, "Most starts of one fan in any hour (1 to 12).", smaller="Kinder to the motor.", larger="Reacts faster.",
        low=1, high=12,
    )
    stagger_s: Seconds = setting(
        "30 s",
        "Time between any two motor starts, so that inrush currents never add up.",
        smaller="All fans are on sooner.",
        larger="Gentler on the supply.",
        low="5 s",
        high="10 min",
    )
    run_in_frost_with_float_unreadable: bool = setting(
        False,
        "Whether a loop whose float cannot be read (not: reads wet) may still run at the frost limit, "
        "as long as its outlet proves within the purge time that air comes through.",
    )


class Pump(Section):
    """[pump]: how every sump pump is run and protected."""

    run_on_s: Seconds = setting(
        "20 s",
        "How long the pump keeps running after the float has fallen.",
        smaller="Less dry running, more starts.",
        larger="Empties the pit further, longer on little water.",
        low="5 s",
        high="2 min",
    )
    longest_run_s: Seconds = setting(
        "5 min",
        "Longest run in one go; then the pump rests, water or not.",
        smaller="A stuck float burns less; a big inflow needs more starts.",
        larger="Empties a big inflow in one go; a stuck float burns more.",
        low="1 min",
        high="30 min",
    )
    rest_s: Seconds = setting(
        "10 min",
        "Rest after a run that reached the longest run.",
        smaller="Tries again sooner, motor hotter.",
        larger="Motor cooler, water stands longer.",
        low="2 min",
        high="60 min",
    )
    tries: int = setting(
        3,
        "Longest runs in a row that may fail to empty the sump before the alarm and the slow duty (1 to 10).",
        smaller="Alarm comes earlier.",
        larger="Alarm comes later.",
        low=1,
        high=10,
    )
    minimum_rest_s: Seconds = setting(
        "2 min",
        "Shortest pause between two runs.",
        smaller="Empties the sump sooner.",
        larger="Kinder to the motor.",
        low="30 s",
        high="30 min",
    )
    starts_per_hour: int = setting(
        10, "Most starts in any hour (2 to 20).", smaller="Kinder to the motor.", larger="Copes with faster inflow.",
        low=2, high=20,
    )
    duty_run_s: Seconds = setting(
        "1 min",
        "Length of a run when the float cannot be believed.",
        smaller="Less dry running.",
        larger="Keeps more inflow out.",
        low="10 s",
        high="3 min",
    )
    duty_rest_s: Seconds = setting(
        "14 min",
        "Rest between those runs on the first day; an hour from the second day on.",
        smaller="Keeps more inflow out.",
        larger="Less dry running.",
        low="10 min",
        high="60 min",
    )
    exercise_every_s: Seconds = setting(
        "7 d",
        "A pump that has not run for this long is run briefly so that it does not seize.",
        smaller="Exercised more often.",
        larger="May seize unnoticed.",
        low="1 d",
        high="60 d",
    )
    exercise_run_s: Seconds = setting(
        "5 s",
        "Length of that run.",
        smaller="Less dry running.",
        larger="Surer to free the shaft.",
        low="1 s",
        high="20 s",
    )
    drain_down_s: Seconds = setting(
        "30 min",
        "Time after the float has fallen during which the tubes still count as wet.",
        smaller="Fans return sooner, perhaps into water.",
        larger="Fans return later.",
        low="1 min",
        high="12 h",
    )


class Fire(Section):
    """[fire]: what stops every fan until a person clears it. Not a fire alarm system."""

    level_c: Celsius = setting(
        "65 °C",
        "Any air probe at or above this stops every fan. Set it above the hottest sunny day of the site.",
        smaller="Sunny days may trip it.",
        larger="Reacts later.",
        low="50 °C",
        high="85 °C",
    )
    rise_k_s: KelvinPerSecond = setting(
        "5 K/min",
        "A rise this fast, held for the time below, stops every fan.",
        smaller="Sun after cloud may trip it.",
        larger="Reacts later.",
        low="2 K/min",
        high="20 K/min",
    )
    rise_for_s: Seconds = setting(
        "2 min",
        "How long the rise must last.",
        smaller="Trips on short bursts.",
        larger="Reacts later.",
        low="1 min",
        high="10 min",
    )


class Loop(Section):
    """[loops.NAME]: one fan, the tubes it feeds and their floor outlet."""

    fan_pin: Pin = setting(..., "GPIO number (BCM) that switches the fan's contactor.")
    active_high: bool = setting(True, "Whether the output is high while the fan runs.")
    sump: Name = setting(..., "Sump that these tubes drain to.")
    flow_m3_s: AirFlow = setting(
        ...,
        "Air the fan moves through all tubes of the loop together.",
        smaller="Heat figures come out lower.",
        larger="Heat figures come out higher.",
        low="0.01 m3/s",
        high="5 m3/s",
    )
    power_w: Watts = setting(
        ...,
        "Electrical power the fan draws.",
        smaller="Heat per watt comes out higher.",
        larger="Heat per watt comes out lower.",
        low="5 W",
        high="5000 W",
    )
    tubes: int = setting(..., "Number of parallel tubes (1 to 200).", low=1, high=200)
    tube_length_m: Metres = setting(..., "Length of one tube.", low="1 m", high="100 m")
    tube_diameter_m: Metres = setting(..., "Inside diameter of one tube.", low="30 mm", high="600 mm")
    tube_wall: Literal["corrugated", "smooth"] = setting(
        "corrugated", 'Inside of the tube wall: "corrugated" or "smooth".'
    )
    depth_m: Metres = setting(..., "Depth of the tube axis below the bed surface.", low="0.2 m", high="4 m")


class Sump(Section):
    """[sumps.NAME]: a pit with its float and pump."""

    float_pin: Pin = setting(..., "GPIO number (BCM) of the float switch.")
    float_kind: Literal["opens-on-rise", "closes-on-rise"] = setting(
        "opens-on-rise",
        '"opens-on-rise": contact opens when the water rises, so that a cut wire reads wet (the safe kind). '
        '"closes-on-rise": a cut wire reads dry and nobody notices.',
    )
    wet_after_s: Seconds = setting(
        "0.2 s",
        "How long the float must read wet before it counts; fans stop then.",
        smaller="A spark on the wire can stop the fans.",
        larger="Reacts later (never later than a second).",
        low="0.02 s",
        high="0.6 s",
    )
    dry_after_s: Seconds = setting(
        "5 s",
        "How long the float must read dry before it counts.",
        smaller="Ripples end the pumping early.",
        larger="Pump runs on longer.",
        low="1 s",
        high="60 s",
    )
    pump_pin: Pin = setting(..., "GPIO number (BCM) that switches the pump's contactor.")
    active_high: bool = setting(True, "Whether the output is high while the pump runs.")
    pump_power_w: Watts = setting("400 W", "Electrical power the pump draws.", low="5 W", high="5000 W")


Place = Literal["ceiling", "bench", "outdoor", "soil", "root-zone", "outlet"]


class Probe(Section):
    """[probes.NAME]: one DS18B20."""

    id: Annotated[str, StringConstraints(pattern=r"^28-[0-9a-f]{12}$")] = setting(
        ..., "Identity on the 1-wire bus, as `hypocaust probes` lists it."
    )
    place: Place = setting(..., "Where it hangs: ceiling, bench, outdoor, soil, root-zone or outlet.")
    loop: Name | None = setting(None, "The loop it belongs to, for soil, root-zone and outlet.")
    offset_k: Kelvin = setting(
        "0 K", "Added to what it reads, from the ice-point check.", low="-3 K", high="3 K"
    )


class Judging(Section):
    """[judging]: when a sample is believed and how long a reading holds."""

    air_hold_s: Seconds = setting(
        "5 min",
        "How long the last good air temperature may be used.",
        smaller="Fans stop sooner when a probe falls silent.",
        larger="Fans run longer on old news.",
        low="1 min",
        high="15 min",
    )
    soil_hold_s: Seconds = setting(
        "6 h",
        "How long the last good soil or root-zone temperature may be used; soil moves slowly.",
        smaller="A silent soil probe stops its fan sooner.",
        larger="Fan runs longer on old news.",
        low="10 min",
        high="24 h",
    )
    air_jump_k: Kelvin = setting(
        "10 K",
        "A change larger than this from one sample to the next is dropped unless the next one confirms it.",
        smaller="Drops true changes.",
        larger="Believes more false ones.",
        low="3 K",
        high="40 K",
    )
    soil_jump_k: Kelvin = setting(
        "3 K", "The same for soil and root zone.", smaller="Drops true changes.", larger="Believes more false ones.",
        low="0.5 K", high="20 K",
    )
    air_stuck_s: Seconds = setting(
        "6 h",
        "An air probe that shows the same last digit for this long while others move is not believed.",
        smaller="Calm nights look like a fault.",
        larger="A frozen probe is found later.",
        low="1 h",
        high="48 h",
    )
    soil_stuck_s: Seconds = setting(
        "14 d", "The same for soil and root zone.", smaller="Calm soil looks like a fault.",
        larger="A frozen probe is found later.", low="1 d", high="60 d",
    )
    vote_spread_k: Kelvin = setting(
        "6 K",
        "Probes of one place that differ by more than this are in dispute; the odd one out is dropped.",
        smaller="Disputes over sun patches.",
        larger="A drifting probe stays in the vote.",
        low="1 K",
        high="20 K",
    )


class Board(Section):
    """[board]: the computer and its buses."""

    pin_factory: Literal["lgpio", "mock"] = setting(
        "lgpio", '"lgpio" drives real pins; "mock" drives none (dry run on a desk, with real 1-wire files).'
    )
    w1_devices: str = setting("/sys/bus/w1/devices", "Where the kernel lists the 1-wire probes.")
    sample_every_s: Seconds = setting(
        "15 s",
        "Pause between two rounds of reading all probes.",
        smaller="Fresher readings, more bus traffic.",
        larger="Older readings.",
        low="2 s",
        high="2 min",
    )
    read_deadline_s: Seconds = setting(
        "5 s",
        "A probe that takes longer than this to answer counts as silent.",
        smaller="Slow probes count as silent.",
        larger="One hanging probe holds up the round for longer.",
        low="1 s",
        high="30 s",
    )


class Service(Section):
    """[service]: the daemon itself."""

    tick_s: Seconds = setting(
        "10 s",
        "Time between two decisions; a float edge is always answered at once.",
        smaller="More processor time.",
        larger="Slower reaction to temperature.",
        low="1 s",
        high="60 s",
    )
    lease_s: Seconds = setting(
        "35 s",
        "Outputs go off by themselves when no tick has renewed them for this long.",
        smaller="A hanging program is stopped sooner.",
        larger="Outputs stay as they are for longer.",
        low="3 s",
        high="3 min",
    )
    runtime_directory: str = setting(
        "/run/hypocaust", "Where the status file and the timers live (RUNTIME_DIRECTORY, if set, wins)."
    )
    state_directory: str = setting(
        "/var/lib/hypocaust", "Where history and latches live (STATE_DIRECTORY, if set, wins)."
    )


class Mqtt(Section):
    """[mqtt]: where the status is published. Leave the section out to publish nothing."""

    host: str = setting("localhost", "Name or address of the broker.")
    port: int = setting(1883, "TCP port of the broker (1 to 65535); 8883 is usual with TLS.", low=1, high=65535)
    version: Literal["3.1.1", "5"] = setting("5", 'MQTT version the broker speaks: "3.1.1" or "5".')
    client_id: str = setting("", 'Client identity; empty means "hypocaust-" and the site name.')
    user: str = setting("", "User name; empty means none.")
    password_file: str = setting("", "File that holds the password and nothing else, readable by the service only.")
    tls: bool = setting(False, "Whether to encrypt and to check the broker's certificate.")
    ca_file: str = setting("", "Certificate authority to trust; empty means the system's.")
    publish_every_s: Seconds = setting(
        "1 min",
        "How often unchanged values are repeated; changes and alarms go out at once.",
        smaller="More traffic.",
        larger="Phones learn later that the house fell silent.",
        low="5 s",
        high="15 min",
    )
    outbox_limit: int = setting(
        500, "Messages kept while the broker is away (20 to 10000); newest win.", smaller="Less memory.",
        larger="More alarms survive a long outage.", low=20, high=10000,
    )


class History(Section):
    """[history]: what is kept on disk. Leave the section out for the defaults."""

    file: str = setting("", 'SQLite file; empty means "history.sqlite3" in the state directory.')
    every_s: Seconds = setting(
        "5 min",
        "How often readings are written.",
        smaller="Finer history, more wear on the card.",
        larger="Coarser history.",
        low="1 min",
        high="60 min",
    )
    write_every_s: Seconds = setting(
        "1 min",
        "How often the batch is written to the card.",
        smaller="Less is lost in a power cut, more wear.",
        larger="More is lost in a power cut.",
        low="5 s",
        high="15 min",
    )
    keep_fine_days: int = setting(
        400, "Days for which five-minute readings are kept before they are thinned to hourly means (30 to 4000).",
        smaller="Smaller file.", larger="Finer look back.", low=30, high=4000,
    )


class House(Section):
    """[house]: the building; used by the rehearsal and the reports, not by control."""

    length_m: Metres = setting("18 m", "Length of the house.", low="2 m", high="200 m")
    width_m: Metres = setting("7.5 m", "Width of the house.", low="2 m", high="60 m")
    ridge_m: Metres = setting("3.2 m", "Height of the ridge.", low="1.5 m", high="15 m")
    cover: Literal["single film", "double film", "single glass", "twin-wall"] = setting(
        "double film", "What covers it; sets heat loss and light."
    )
    air_changes_per_hour: float = setting(
        0.8,
        "Air leakage in calm weather with everything shut, house volumes an hour (0.05 to 10).",
        smaller="Tighter, warmer nights.",
        larger="Leakier, colder nights.",
        low=0.05,
        high=10.0,
    )
    vents_open_above_c: Celsius = setting(
        "30 °C", "Bench temperature at which the grower (or an opener) opens the vents.", low="15 °C", high="45 °C"
    )
    soil: Literal["sand", "sandy loam", "loam", "clay loam", "silty clay", "clay"] = setting(
        "silty clay", "Soil around the tubes."
    )
    pump_flow_m3_s: WaterFlow = setting("2 L/s", "Water the sump pump moves.", low="0.1 L/s", high="20 L/s")
    sump_volume_m3: CubicMetres = setting(
        "60 L", "Water between the float's fall and its rise.", low="5 L", high="2000 L"
    )


class Settings(Section):
    """A whole settings file.

    Everything in [setpoints], [fans], [pump], [fire], [judging] and the display unit can change while the
    controller runs; the rest is wiring and needs a restart.
    """

    site: Site
    setpoints: Setpoints = Field(default_factory=Setpoints)
    fans: Fans = Field(default_factory=Fans)
    pump: Pump = Field(default_factory=Pump)
    fire: Fire = Field(default_factory=Fire)
    judging: Judging = Field(default_factory=Judging)
    board: Board = Field(default_factory=Board)
    service: Service = Field(default_factory=Service)
    history: History = Field(default_factory=History)
    house: House = Field(default_factory=House)
    mqtt: Mqtt | None = None
    loops: dict[Name, Loop] = Field(min_length=1, max_length=16)
    sumps: dict[Name, Sump] = Field(min_length=1, max_length=4)
    probes: dict[Name, Probe] = Field(min_length=1, max_length=64)

    def probe_names(self, place: str, loop: str | None = None) -> tuple[str, ...]:
        """Names of the probes of one place (and, for loop probes, of one loop), in file order."""
        return tuple(n for n, p in self.probes.items() if p.place == place and p.loop == loop)
