"""Settings that are good one by one but not together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.settings.orders import ORDERS
from controller.settings.problems import dotted
from controller.settings.schema.quantities import plain_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from controller.settings.draft import Draft
    from controller.settings.orders import Order
    from controller.settings.schema.section import Section

# Firmware and kernel use these lines themselves while the board starts: a motor there could run with nobody
# in charge, and a float contact would work against a line that is driven
# (Raspberry Pi documentation, "GPIO and the 40-pin header" and "HAT design guide").
BOOT_PINS = {
    0: "is driven by the firmware at start to identify add-on boards",
    1: "is driven by the firmware at start to identify add-on boards",
    14: "carries the serial console, which goes high while the board starts",
    15: "carries the serial console while the board starts",
}
# Default line of the w1-gpio overlay (Linux kernel, raspberrypi overlays README).
ONE_WIRE_PIN = 4

PIN_KEYS = frozenset(
    {
        "fan_pin",
        "float_pin",
        "pump_pin",
        "feedback_pin",
        "high_float_pin",
        "pin",
        "today_pin",
        "supply_pin",
        "clear_pin",
    }
)
LOOP_PLACES = ("soil", "root-zone", "outlet")
TICKS_PER_LEASE = 2
SAMPLES_PER_HOLD = 2
# Rest over longest run: a float that reads wet must keep the pump on for most of the time.
MOST_REST_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Something wrong between settings.

    Attributes:
        paths: the keys involved; the first that stands in the file is the place to look at.
        message: what is wrong and what was expected.
    """

    paths: tuple[tuple[str, ...], ...]
    message: str


def contradictions(draft: Draft) -> Iterator[Contradiction]:
    """Everything that is wrong between the tables of a draft that are good by themselves."""
    for order in ORDERS:
        yield from _out_of_order(draft, order)
    yield from _timing(draft)
    yield from _pump(draft)
    yield from _pins(draft)
    yield from _sumps(draft)
    yield from _probe_roles(draft)
    yield from _probe_identities(draft)
    yield from _probes_needed(draft)
    yield from _link(draft)
    yield from _tube_bed(draft)
    yield from _openings(draft)


def _out_of_order(draft: Draft, order: Order) -> Iterator[Contradiction]:
    """One rule of ``ORDERS``, where both its tables are good."""
    (lower_table, lower), (upper_table, upper) = order.lower, order.upper
    lower_section, upper_section = draft.table(lower_table), draft.table(upper_table)
    if lower_section is None or upper_section is None:
        return
    low, high = getattr(lower_section, lower), getattr(upper_section, upper)
    if low < high or (order.equal and low == high):
        return
    wanted = "at most" if order.equal else "below"
    lower_path, upper_path = (lower_table, plain_key(lower)), (upper_table, plain_key(upper))
    low_text = draft.as_written(lower_section, lower_table, lower)
    high_text = draft.as_written(upper_section, upper_table, upper)
    yield Contradiction(
        (lower_path, upper_path),
        f"{dotted(lower_path)} is {low_text} and {dotted(upper_path)} is {high_text}; "
        f"expected the first to be {wanted} the second, {order.why}",
    )


def _timing(draft: Draft) -> Iterator[Contradiction]:
    """Times that belong to different parts of the program and must outlast each other."""
    service, judging, board = draft.service, draft.judging, draft.board
    if service and service.lease_s <= TICKS_PER_LEASE * service.tick_s:
        lease = draft.as_written(service, "service", "lease_s")
        tick = draft.as_written(service, "service", "tick_s")
        yield Contradiction(
            (("service", "lease"), ("service", "tick")),
            f"the lease is {lease} and the tick is {tick}; expected a lease of more than "
            "two ticks, or one late tick would switch every output off",
        )
    if judging and board and judging.air_hold_s < SAMPLES_PER_HOLD * board.sample_every_s:
        hold = draft.as_written(judging, "judging", "air_hold_s")
        every = draft.as_written(board, "board", "sample_every_s")
        yield Contradiction(
            (("judging", "air_hold"), ("board", "sample_every")),
            f"an air reading holds for {hold} and a new one comes every {every}; expected it to hold for "
            "at least two samples, or one lost sample would stop the fans",
        )


def _pump(draft: Draft) -> Iterator[Contradiction]:
    """A pump that rests too long drowns the tubes it is there for."""
    pump = draft.pump
    if pump and pump.rest_s > MOST_REST_SHARE * pump.longest_run_s:
        rest = draft.as_written(pump, "pump", "rest_s")
        longest = draft.as_written(pump, "pump", "longest_run_s")
        yield Contradiction(
            (("pump", "rest"), ("pump", "longest_run")),
            f"pump.rest is {rest} and pump.longest_run is {longest}; expected the first to be at most a "
            "tenth of the second, or water would rise while the pump stands still",
        )


def _pins(draft: Draft) -> Iterator[Contradiction]:
    """No line of the board may serve twice, and some are not free to be used."""
    users: dict[int, list[tuple[str, ...]]] = {}
    for path, section in _wired(draft):
        for key in type(section).model_fields:
            if key in PIN_KEYS and (pin := getattr(section, key)) is not None:
                users.setdefault(pin, []).append((*path, key))
    for pin, paths in users.items():
        for path in paths[1:]:
            yield Contradiction(
                (path,), f"pin {pin} is already used by {dotted(paths[0])}; expected a pin of its own"
            )
        for path in paths:
            if pin == ONE_WIRE_PIN:
                yield Contradiction(
                    (path,),
                    "pin 4 is the line of the 1-wire probes; choose another, best one from 16 to 27",
                )
            if pin in BOOT_PINS:
                yield Contradiction(
                    (path,), f"pin {pin} {BOOT_PINS[pin]}; choose another, best one from 16 to 27"
                )


def _wired(draft: Draft) -> Iterator[tuple[tuple[str, ...], Section]]:
    """Every table that may name a line of the board."""
    for name, loop in draft.loops.items():
        yield ("loops", name), loop
    for name, sump in draft.sumps.items():
        yield ("sumps", name), sump
    if draft.signal is not None:
        yield ("signal",), draft.signal
    if draft.fire is not None:
        yield ("fire",), draft.fire
    if draft.board is not None:
        yield ("board",), draft.board


def _sumps(draft: Draft) -> Iterator[Contradiction]:
    """Every loop drains somewhere."""
    expected = _one_of(draft.sump_names, "a sump of this file")
    for name, loop in draft.loops.items():
        if not _known(loop.sump, draft.sump_names):
            yield Contradiction(
                (("loops", name, "sump"),),
                f"there is no [sumps.{loop.sump}]; expected {expected}",
            )


def _probe_roles(draft: Draft) -> Iterator[Contradiction]:
    """Probes in the ground belong to a loop, probes in the air do not."""
    expected = _one_of(draft.loop_names, "a loop of this file")
    for name, probe in draft.probes.items():
        place, loop = ("probes", name, "place"), ("probes", name, "loop")
        if probe.place in LOOP_PLACES and probe.loop is None:
            yield Contradiction(
                (place,),
                f'a probe at "{probe.place}" must name its loop; expected loop = {expected}',
            )
        elif probe.place in LOOP_PLACES and not _known(probe.loop, draft.loop_names):
            yield Contradiction(
                (loop,),
                f"there is no [loops.{probe.loop}]; expected {expected}",
            )
        elif probe.place not in LOOP_PLACES and probe.loop is not None:
            yield Contradiction(
                (loop,), f'a probe at "{probe.place}" belongs to the whole house; expected no loop here'
            )


def _probe_identities(draft: Draft) -> Iterator[Contradiction]:
    """No probe is listed twice."""
    first: dict[str, str] = {}
    for name, probe in draft.probes.items():
        if probe.id in first:
            yield Contradiction(
                (("probes", name, "id"),),
                f"{probe.id} is already probes.{first[probe.id]}; expected a probe of its own",
            )
        first.setdefault(probe.id, name)


def _probes_needed(draft: Draft) -> Iterator[Contradiction]:
    """What the controller cannot do without; not judged while some probe is not readable yet."""
    if not draft.probes or not draft.probes_whole:
        return
    if all(probe.place != "ceiling" for probe in draft.probes.values()):
        yield Contradiction(
            (("probes",),), 'no probe hangs under the roof; expected at least one with place = "ceiling"'
        )
    with_soil = {probe.loop for probe in draft.probes.values() if probe.place == "soil"}
    for name in sorted(name for name in draft.loop_names if name.casefold() not in with_soil):
        yield Contradiction(
            (("loops", name),),
            f'no probe measures the soil of this loop; expected at least one with place = "soil" and '
            f'loop = "{name}"',
        )


def _link(draft: Draft) -> Iterator[Contradiction]:
    """What would never reach the broker."""
    if draft.mqtt and draft.mqtt.password_file and not draft.mqtt.user:
        yield Contradiction(
            (("mqtt", "password_file"),), "a password without a user is never sent; expected user as well"
        )


def _tube_bed(draft: Draft) -> Iterator[Contradiction]:
    """A bed of other soil holds the tubes of every loop and stays below the surface."""
    house = draft.house
    if house is None or house.tube_bed == "none" or not draft.loops:
        return
    thickness = ("house", "tube_bed_thickness")
    bed = f"the bed of the tubes is {draft.as_written(house, 'house', 'tube_bed_thickness_m')} thick"
    name, widest = max(draft.loops.items(), key=lambda item: item[1].tube_diameter_m)
    if house.tube_bed_thickness_m <= widest.tube_diameter_m:
        yield Contradiction(
            (thickness, ("loops", name, "tube_diameter")),
            f"{bed} and those of {name} are {1000 * widest.tube_diameter_m:g} mm wide; "
            "expected a bed thicker than the tubes in it",
        )
    name, highest = min(draft.loops.items(), key=lambda item: item[1].depth_m)
    if 0.5 * house.tube_bed_thickness_m >= highest.depth_m:
        yield Contradiction(
            (thickness, ("loops", name, "depth")),
            f"{bed} and those of {name} lie {highest.depth_m:g} m deep; "
            "expected less than twice that depth, because the bed reaches as far up as down",
        )


def _openings(draft: Draft) -> Iterator[Contradiction]:
    """Openings that the building has no room for, or that would be worked against reason."""
    for name, opening in draft.openings.items():
        if opening.worked == "person" and opening.open_from >= opening.open_until:
            yield Contradiction(
                (("openings", name, "open_from"), ("openings", name, "open_until"), ("openings", name)),
                f"opens at {opening.open_from} and shuts at {opening.open_until}; expected the first to come "
                'before the second, within one day from "00:00" to "24:00"',
            )
        house = draft.house
        if house is None:
            continue
        if opening.height_m > house.ridge_m:
            yield Contradiction(
                (("openings", name, "height"),),
                f"the middle of this opening is {opening.height_m:g} m above the floor and the ridge is at "
                f"{house.ridge_m:g} m; expected it to be no higher than the ridge",
            )
        floor_m2 = house.length_m * house.width_m
        if opening.area_m2 > floor_m2:
            yield Contradiction(
                (("openings", name, "area"),),
                f"openings of {opening.area_m2:g} m2 are larger than the floor of {floor_m2:g} m2; "
                "expected the clear area through which air can pass",
            )
        if (
            house.heater_power_w > 0.0
            and opening.worked != "never"
            and opening.open_above_c <= house.heater_below_c
        ):
            yield Contradiction(
                (("openings", name, "open_above"), ("openings", name)),
                f"opens above {opening.open_above_c:g} °C and house.heater_below is "
                f"{house.heater_below_c:g} °C; expected it to open above a higher temperature, or the backup "
                "heater would heat against it",
            )


def _known(name: str | None, names: Iterable[str]) -> bool:
    """Whether a name is there; one with capitals counts, because it has its own problem already."""
    return name in {known.casefold() for known in names}


def _one_of(names: Iterable[str], otherwise: str) -> str:
    """The names to choose from, for a message."""
    return " or ".join(f'"{name}"' for name in sorted(names)) or otherwise
