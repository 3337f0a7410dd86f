"""Settings that are allowed but worth a second look."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.physics import fan_curve, moist_air, tube
from controller.settings.schema.quantities import HOUR_S

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.settings.schema import Settings

# At reset the lines 0 to 8 are pulled up and the others down
# (Broadcom, "BCM2835 ARM Peripherals", 2012, table 6-31).
FIRST_PIN_PULLED_DOWN = 9
FRICTION_AIR_C = 15.0
MOTOR_ON = "that switches the motor on"
SIGNALS_WELL = "that signals that all is well while nobody is in charge"
LOCAL_HOSTS = ("localhost", "127.0.0.1", "::1", "[::1]")


def notes(settings: Settings) -> tuple[str, ...]:
    """Observations on good settings, each ``key: sentence``."""
    return (
        *_setpoints(settings),
        *_starts(settings),
        *_pit(settings),
        *_vents(settings),
        *_fans(settings),
        *_boot_levels(settings),
        *_sumps(settings),
        *_unwatched(settings),
        *_link(settings),
    )


def _setpoints(settings: Settings) -> Iterator[str]:
    """Setpoints whose order takes the sense out of one of them."""
    points = settings.setpoints
    if points.heat_below_c > points.comfort_floor_c:
        yield "setpoints.heat_below: it is above comfort_floor, so heat may be banked while it is needed"
    if points.cooling and points.too_hot_c < points.cool_above_c:
        yield "setpoints.too_hot: it is below cool_above, so the alarm comes before the fans begin to cool"
    if points.night_purge and not points.cooling:
        yield "setpoints.night_purge: it has no effect while cooling is off"


def _starts(settings: Settings) -> Iterator[str]:
    """Start limits that the shortest run and rest leave no room for."""
    for table, shortest_cycle_s, starts in (
        ("fans", settings.fans.minimum_run_s + settings.fans.minimum_rest_s, settings.fans.starts_per_hour),
        ("pump", settings.pump.run_on_s + settings.pump.minimum_rest_s, settings.pump.starts_per_hour),
    ):
        if starts * shortest_cycle_s > HOUR_S:
            possible = int(HOUR_S // shortest_cycle_s)
            yield (
                f"{table}.starts_per_hour: {starts} starts are allowed, but the shortest run and rest "
                f"leave room for {possible} only"
            )


def _pit(settings: Settings) -> Iterator[str]:
    """A pit so small that its pump would have to start more often than it may.

    From one start to the next pass at least 4 V/D, at an inflow of half the pump's flow D
    (MIL-HDBK-1005/9A, section 2.5.3.6). Volume and flow are judged only where somebody has written them down.
    """
    house, starts = settings.house, settings.pump.starts_per_hour
    if not {"sump_volume_m3", "pump_flow_m3_s"} <= house.model_fields_set:
        return
    needed_m3 = HOUR_S / starts * house.pump_flow_m3_s / 4.0
    if house.sump_volume_m3 < needed_m3:
        asked = HOUR_S * house.pump_flow_m3_s / (4.0 * house.sump_volume_m3)
        yield (
            f"house.sump_volume: {1000 * house.sump_volume_m3:g} L at {1000 * house.pump_flow_m3_s:g} L/s "
            f"can need {asked:.0f} starts an hour, and pump.starts_per_hour allows {starts}, so in long rain "
            f"water rises above the float; {1000 * needed_m3:.0f} L are enough"
        )


def _vents(settings: Settings) -> Iterator[str]:
    """A temperature for vents that the openings of the file stand in for."""
    if settings.openings and "vents_open_above_c" in settings.house.model_fields_set:
        yield "house.vents_open_above: it has no effect, because [openings] says what can be opened"


def _fans(settings: Settings) -> Iterator[str]:
    """Fans that would have to be better than any there is to send their air through their tubes."""
    pressure_pa = moist_air.standard_pressure_pa(settings.site.altitude_m)
    for name, loop in settings.loops.items():
        drop_pa = tube.loop_pressure_drop_pa(
            loop.flow_m3_s,
            loop.tubes,
            loop.tube_length_m,
            loop.tube_diameter_m,
            loop.tube_wall == "corrugated",
            FRICTION_AIR_C,
            pressure_pa,
        )
        into_air_w = drop_pa * loop.flow_m3_s
        if into_air_w > fan_curve.MOST_EFFICIENCY * loop.power_w:
            yield (
                f"loops.{name}.power: {drop_pa:.0f} Pa of friction in the tubes alone take "
                f"{into_air_w:.0f} W at this flow, and no fan does that with {loop.power_w:.0f} W; "
                f"measure flow and power again"
            )


def _boot_levels(settings: Settings) -> Iterator[str]:
    """Outputs that the board itself switches on between power-up and the start of the controller."""
    outputs = [
        (f"loops.{name}.fan_pin", loop.fan_pin, loop.active_high, MOTOR_ON)
        for name, loop in settings.loops.items()
    ]
    outputs += [
        (f"sumps.{name}.pump_pin", sump.pump_pin, sump.active_high, MOTOR_ON)
        for name, sump in settings.sumps.items()
    ]
    if (signal := settings.signal) is not None:
        outputs.append(("signal.pin", signal.pin, signal.active_high, SIGNALS_WELL))
    for key, pin, active_high, what in outputs:
        pulled_up = pin < FIRST_PIN_PULLED_DOWN
        if pulled_up == active_high:
            level = "high" if pulled_up else "low"
            against = "pull-down" if pulled_up else "pull-up"
            yield (
                f"{key}: the board holds pin {pin} {level} until the controller starts, and {what}; "
                f"fit a {against} resistor or choose another pin"
            )


def _sumps(settings: Settings) -> Iterator[str]:
    """Floats that cannot do what a float is for."""
    for name, sump in settings.sumps.items():
        if sump.float_kind == "closes-on-rise":
            yield f"sumps.{name}.float_kind: a cut wire reads dry unnoticed; a float that opens is safer"
        if not settings.loops_of(name):
            yield f"sumps.{name}: no loop drains to it, so its float stops no fan"


def _unwatched(settings: Settings) -> Iterator[str]:
    """What nobody measures; never taken for fine."""
    if not settings.probe_names("bench"):
        yield 'probes: no probe has place = "bench", so the air among the plants is not monitored'
    for loop in settings.loops:
        if not settings.probe_names("root-zone", loop):
            yield (
                f"loops.{loop}: no root-zone probe, so the soil at the tubes stands in and the roots are "
                "not monitored"
            )
        if not settings.probe_names("outlet", loop):
            yield f"loops.{loop}: no outlet probe, so the heat its fan moves is not monitored"


def _link(settings: Settings) -> Iterator[str]:
    """Nobody who is called, secrets in the clear, and settings without effect."""
    link = settings.mqtt
    if link is None:
        if settings.signal is None:
            yield "signal: neither this nor [mqtt] is set, so an alarm reaches only who looks at the status"
        return
    if link.user and not link.tls and link.host not in LOCAL_HOSTS:
        yield "mqtt.tls: it is off and the broker is elsewhere, so the password can be read on the way"
    if link.ca_file and not link.tls:
        yield "mqtt.ca_file: it has no effect while tls is off"
