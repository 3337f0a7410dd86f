"""Names what the fitted signals cannot show, so that it does not look fine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.diagnosis.outlets import is_known

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.diagnosis.outlet_records import OutletWatch
    from controller.settings.schema import Settings

PROBES_TO_COMPARE = 3


def not_monitored(settings: Settings, outlets: OutletWatch | None = None) -> tuple[str, ...]:
    """Everything that can go wrong unseen with these settings: what, why, and what to do by hand.

    Args:
        settings: which probes, loops and sumps there are.
        outlets: what the outlets have shown so far; None if they are not known.
    """
    return (*_air(settings), *_loops(settings, outlets), *_sumps(settings), *_house(settings))


def _air(settings: Settings) -> Iterator[str]:
    if not settings.probe_names("bench"):
        yield "air among the crop: no bench probe; the ceiling stands in for it"
    if len(settings.probe_names("ceiling")) + len(settings.probe_names("bench")) < PROBES_TO_COMPARE:
        yield (
            "house air probes that read a little wrong: too few to find out which; "
            "compare them with a thermometer every season"
        )
    if not settings.probe_names("outdoor"):
        yield "outdoor air: no outdoor probe"
    else:
        yield (
            "outdoor probe that drifts or hangs in the sun: nothing to compare it with; it switches "
            "nothing; compare it with a thermometer every season"
        )


def _loops(settings: Settings, outlets: OutletWatch | None) -> Iterator[str]:
    for loop in settings.loops:
        turning = settings.loops[loop].feedback_pin is not None
        if not settings.probe_names("outlet", loop):
            yield (
                f"loop {loop}, whether its fan moves heat or even turns: no outlet probe; feel its outlet "
                "every week"
            )
        elif not turning and (
            outlets is None or loop not in outlets.records or not is_known(outlets.records[loop])
        ):
            yield (
                f"loop {loop}, whether its fan turns: its outlet has not yet been seen with fan on and off "
                "in clear weather; feel it every week"
            )
        if not settings.probe_names("root-zone", loop):
            yield f"loop {loop}, its root zone: no root-zone probe; the soil at the tubes stands in for it"
    if any(loop.feedback_pin is None for loop in settings.loops.values()):
        yield (
            "fans while roof and soil are within 5 K of each other: moving and still air look alike then; "
            "listen to them every week"
        )
    if settings.loops:
        yield (
            "grilles that are partly shut, and tubes that silt has shut far from the soil probe: too little "
            "changes at the probes; clean the grilles and compare the outlets by hand every season"
        )
    if settings.loops:
        yield (
            "fans without a current or speed signal: what a motor draws, its bearings, which way it turns; "
            "listen to them every month"
        )
    if sum(bool(settings.probe_names("soil", loop)) for loop in settings.loops) < PROBES_TO_COMPARE:
        yield "soil probes that read a little wrong: too few to compare; check them in melting ice every year"
    else:
        yield (
            "probes of one kind exchanged between loops: they read alike; warm one after the other in the "
            "hand every year"
        )


def _sumps(settings: Settings) -> Iterator[str]:
    for name, sump in settings.sumps.items():
        if sump.float_kind == "closes-on-rise":
            yield f"sump {name}, rising water: a cut float wire reads dry; lift the float every month"
        if sump.high_float_pin is None:
            yield (
                f"sump {name}, a float that hangs dry: a dry season looks the same until the tubes are full; "
                "lift it by hand every month"
            )
        if sump.feedback_pin is None:
            yield (
                f"sump {name}, a pump that runs without a command or runs dry: no contactor signal, no "
                "current measured; listen at the sump every month"
            )
        yield (
            f"sump {name}, a pump that grows slow: it must first have emptied the pit often enough to "
            "compare; watch it empty the pit after rain every season"
        )
        yield (
            f"sump {name}, a check valve that leaks a little: the water must lift the float to be seen; "
            "watch it after a run every season"
        )


def _house(settings: Settings) -> Iterator[str]:
    yield "fire away from the probes, and smoke: no detector; this is no fire alarm"
    if settings.probe_names("outdoor") and settings.probe_names("bench"):
        yield "doors and vents by day and in mild nights, heater and shade: no signal; look at them every day"
    else:
        yield "doors, vents, heater and shade: no signal; look at them every day"
    if settings.board.supply_pin is None:
        yield "the motors' supply: no relay on it; look at the breakers every week"
    if not settings.board.board_voltage:
        yield "supply voltage and heat of the computer's box: not measured; open and look every month"
    else:
        yield "heat of the computer's box: not measured; open and look every month"
    if settings.signal is not None:
        yield (
            "the signal itself, its supply and who hears it: nothing answers; stop the service every month "
            "and see that it calls"
        )
    elif settings.mqtt is None:
        yield "a controller without power: nothing is sent anywhere, so nobody is called; look every day"
    else:
        yield "a controller without power: it cannot call; let a phone call when `online` falls silent"
