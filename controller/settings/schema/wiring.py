"""Tables on the equipment: loops, sumps, probes and the board they hang on."""

from typing import Literal

from controller.settings.schema.section import Section, setting
from controller.settings.schema.values import (
    AirFlow,
    BusIdentity,
    Directory,
    Kelvin,
    Metres,
    Name,
    OptionalFile,
    Seconds,
    Watts,
)


class Loop(Section):
    """[loops.NAME]: one fan, the tubes it feeds and their floor outlet."""

    fan_pin: int = setting(
        ..., "The GPIO number (BCM) that switches the fan's contactor.", low=0, high=27, example="17"
    )
    active_high: bool = setting(True, "Whether the output is high while the fan runs.")
    feedback_pin: int | None = setting(
        None,
        "The GPIO number (BCM) of a contact that closes to ground while the fan runs: an auxiliary contact "
        "of its contactor, or better a current switch.",
        low=0,
        high=27,
    )
    sump: Name = setting(..., "The sump these tubes drain to.", example='"main"')
    flow_m3_s: AirFlow = setting(
        ...,
        "The air the fan moves through all tubes of the loop together when they are clean and dry.",
        smaller="Heat figures come out lower.",
        larger="Heat figures come out higher.",
        low="0.01 m3/s",
        high="5 m3/s",
        example='"0.35 m3/s"',
    )
    power_w: Watts = setting(
        ...,
        "The electrical power the fan draws at that flow. `hypocaust check` reports if no fan could do that.",
        smaller="Heat per watt comes out higher.",
        larger="Heat per watt comes out lower.",
        low="5 W",
        high="5000 W",
        example='"120 W"',
    )
    tubes: int = setting(..., "The number of parallel tubes.", low=1, high=200, example="8")
    tube_length_m: Metres = setting(..., "The length of one tube.", low="1 m", high="100 m", example='"9 m"')
    tube_diameter_m: Metres = setting(
        ..., "The inside diameter of one tube.", low="30 mm", high="600 mm", example='"100 mm"'
    )
    tube_wall: Literal["corrugated", "smooth"] = setting(
        "corrugated", 'Inside of the tube wall: "corrugated" or "smooth".'
    )
    depth_m: Metres = setting(
        ..., "The depth of the tube axis below the bed surface.", low="0.2 m", high="4 m", example='"0.6 m"'
    )


class Sump(Section):
    """[sumps.NAME]: a pit with its float and pump."""

    float_pin: int = setting(..., "The GPIO number (BCM) of the float switch.", low=0, high=27, example="27")
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
    pump_pin: int = setting(
        ..., "The GPIO number (BCM) that switches the pump's contactor.", low=0, high=27, example="22"
    )
    active_high: bool = setting(True, "Whether the output is high while the pump runs.")
    feedback_pin: int | None = setting(
        None,
        "The GPIO number (BCM) of a contact that closes to ground while the pump runs.",
        low=0,
        high=27,
    )
    high_float_pin: int | None = setting(
        None,
        "The GPIO number (BCM) of a second float, of the same kind, above the first. It calls a person and "
        "switches nothing.",
        low=0,
        high=27,
    )
    pump_power_w: Watts = setting("400 W", "Electrical power the pump draws.", low="5 W", high="5000 W")


class Signal(Section):
    """[signal]: outputs that call a person without any network; leave the table out where none is fitted."""

    pin: int = setting(
        ...,
        "The GPIO number (BCM) of the signal that is on while all is well. It goes off on every alarm to act "
        "on now, and with the program, the board and the supply.",
        low=0,
        high=27,
        example="25",
    )
    active_high: bool = setting(True, "Whether that output is high while all is well.")
    today_pin: int | None = setting(
        None,
        "The GPIO number (BCM) of a lamp that is on while something is to be done today, or at once.",
        low=0,
        high=27,
    )
    today_active_high: bool = setting(True, "Whether that output is high while the lamp is on.")


Place = Literal["ceiling", "bench", "outdoor", "soil", "root-zone", "outlet"]


class Probe(Section):
    """[probes.NAME]: one DS18B20."""

    id: BusIdentity = setting(
        ..., "The identity on the 1-wire bus, as `hypocaust probes` lists it.", example='"28-0123456789ab"'
    )
    place: Place = setting(
        ..., "The place it hangs at: ceiling, bench, outdoor, soil, root-zone or outlet.", example='"ceiling"'
    )
    loop: Name | None = setting(None, "The loop it belongs to, for soil, root-zone and outlet.")
    offset_k: Kelvin = setting(
        "0 K", "Added to what it reads, from the ice-point check.", low="-3 K", high="3 K"
    )


class Board(Section):
    """[board]: the computer and its buses."""

    pin_factory: Literal["lgpio", "mock"] = setting(
        "lgpio", '"lgpio" drives real pins; "mock" drives none (dry run on a desk, with real 1-wire files).'
    )
    w1_devices: Directory = setting("/sys/bus/w1/devices", "Where the kernel lists the 1-wire probes.")
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
    supply_pin: int | None = setting(
        None,
        "The GPIO number (BCM) of a relay contact that closes to ground while the motors have their supply.",
        low=0,
        high=27,
    )
    board_voltage: OptionalFile = setting(
        "",
        'Where the kernel reports a board voltage that is too low, on boards that can: "/sys/class/hwmon". '
        "Empty: not watched.",
    )
