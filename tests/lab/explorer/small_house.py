"""A house whose timers are a few ticks long, and everything it may see in a tick."""

from __future__ import annotations

from contextlib import contextmanager
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from controller.decision import lockouts
from controller.faults import HOUR_S, FaultCode
from controller.readings.reading import Good, Level, Missing, Why
from controller.readings.snapshot import LoopReadings, Snapshot
from controller.record import water_watch
from controller.settings.load import parse

if TYPE_CHECKING:
    from collections.abc import Iterator

    from controller.readings.reading import LevelReading, Reading
    from controller.settings.schema import Settings

# One unit of time. The hour in which starts are counted is fixed in the rules, so the unit is a good part of
# it and every other timer is set to a few units.
TICK_S = 600.0
HOUR_TICKS = round(HOUR_S / TICK_S)
BELIEVED_TICKS = 12 * HOUR_TICKS  # so long a float that reads wet is believed


class Timers(NamedTuple):
    """The timers of a small house in ticks, and two counts."""

    fan_run: int = 2
    fan_rest: int = 2
    fan_starts: int = 2
    stagger: int = 2
    drain_down: int = 2
    run_on: int = 2
    longest_run: int = 4
    rest: int = 4
    pump_rest: int = 2
    pump_starts: int = 2
    exercise_every: int = 7
    purge: int = 1
    blind: int = 1


@contextmanager
def short_silences(timers: Timers) -> Iterator[None]:
    """Count as short, as long as this lasts, a silence of a float that is short beside these timers.

    It is the one timer that no settings file holds.
    """
    usual_s = lockouts.SHORT_BLIND_S
    lockouts.SHORT_BLIND_S = water_watch.EXCUSED_SILENCE_S = timers.blind * TICK_S
    try:
        yield
    finally:
        lockouts.SHORT_BLIND_S = water_watch.EXCUSED_SILENCE_S = usual_s


def small_house(loops: dict[str, str], timers: Timers) -> Settings:
    """Settings of a house with these loops (name to sump).

    The file is read as any other; then the timers are laid over it. Some lie outside the limits of a settings
    file, which keep people from hurting motors; the rules know no such limits and only compare times. The
    duty rest is an hour, so that its first day is like all others.
    """
    sumps = sorted(set(loops.values()))
    text = '[site]\nname = "small"\n[probes.roof]\nid = "28-01a4c07d1001"\nplace = "ceiling"\n'
    for number, (name, sump) in enumerate(loops.items()):
        text += (
            f'[loops.{name}]\nfan_pin = {16 + number}\nsump = "{sump}"\nflow = "0.3 m3/s"\npower = "120 W"\n'
            'tubes = 24\ntube_length = "9 m"\ntube_diameter = "80 mm"\ndepth = "0.8 m"\n'
            f'[probes.soil-{name}]\nid = "28-01a4c07d200{number}"\nplace = "soil"\nloop = "{name}"\n'
        )
    for number, name in enumerate(sumps):
        text += f"[sumps.{name}]\nfloat_pin = {20 + number}\npump_pin = {24 + number}\n"
    settings = parse(text)
    fans = settings.fans.model_copy(
        update={
            "minimum_run_s": timers.fan_run * TICK_S,
            "minimum_rest_s": timers.fan_rest * TICK_S,
            "starts_per_hour": timers.fan_starts,
            "stagger_s": timers.stagger * TICK_S,
            "purge_s": timers.purge * TICK_S,
        }
    )
    pump = settings.pump.model_copy(
        update={
            "run_on_s": timers.run_on * TICK_S,
            "longest_run_s": timers.longest_run * TICK_S,
            "rest_s": timers.rest * TICK_S,
            "minimum_rest_s": timers.pump_rest * TICK_S,
            "starts_per_hour": timers.pump_starts,
            "duty_run_s": TICK_S,
            "duty_rest_s": HOUR_S,
            "exercise_every_s": timers.exercise_every * TICK_S,
            "exercise_run_s": TICK_S,
            "drain_down_s": timers.drain_down * TICK_S,
        }
    )
    return settings.model_copy(update={"fans": fans, "pump": pump})


class Air(Enum):
    """The weather in five words: what the ceiling and the soil read, in °C (None: the probe is silent)."""

    COLD = (1.0, 15.0)
    HOT = (30.0, 12.0)
    NEUTRAL = (12.0, 12.0)
    SILENT = (None, 12.0)
    FIRE = (70.0, 12.0)


class Water(Enum):
    """What a float says."""

    DRY = Level.DRY
    WET = Level.WET
    UNREADABLE = Why.UNREADABLE
    NOT_YET = Why.NEVER_READ


class Seen(NamedTuple):
    """Everything seen in one tick: the air, each sump's float, and whether a person cleared the fire."""

    air: Air
    water: tuple[Water, ...]
    cleared: bool = False

    def __str__(self) -> str:
        words = [f"air {self.air.name.lower()}", *(f"float {w.name.lower()}" for w in self.water)]
        return ", ".join(words + (["a person clears the fire"] if self.cleared else []))


def snapshot_of(seen: Seen, settings: Settings, now_s: float) -> Snapshot:
    """The snapshot of what is seen; there is no bench and no outlet probe."""
    ceiling_c, soil_c = seen.air.value
    ceiling: Reading = Missing(Why.SILENT, now_s) if ceiling_c is None else Good(ceiling_c, now_s)
    nothing = Missing(Why.NOT_FITTED, now_s)
    loop = LoopReadings(Good(soil_c, now_s), nothing, nothing)
    sumps: dict[str, LevelReading] = {
        name: Good(water.value, now_s) if isinstance(water.value, Level) else Missing(water.value, now_s)
        for name, water in zip(settings.sumps, seen.water, strict=True)
    }
    return Snapshot(
        ceiling,
        nothing,
        nothing,
        dict.fromkeys(settings.loops, loop),
        sumps,
        {"roof": ceiling},
        (),
        frozenset({FaultCode.FIRE}) if seen.cleared else frozenset(),
    )
