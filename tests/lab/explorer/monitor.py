"""Judges commands by the promises P1, P3, P4, P5, P11 and P16, from what is seen and commanded alone.

It counts in whole ticks, shares no code with the decision nor with the promise watch of the running program,
and its memory is a handful of small numbers, so that it can be part of an explored state. After a restart
that has lost its memory it begins anew: every motor has just stopped, every tube is just wet, and a fire is
forgotten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from tests.lab.explorer.small_house import BELIEVED_TICKS, HOUR_TICKS, Air, Seen, Timers, Water

if TYPE_CHECKING:
    from collections.abc import Sequence

DOUBTED_REST = 3  # longest runs
HOUR_MASK = (1 << HOUR_TICKS) - 1  # one bit for each tick of the last hour in which a motor started
DUTY_RUN = EXERCISE_RUN = 1
BLIND = (Water.UNREADABLE, Water.NOT_YET)


class Motor(NamedTuple):
    """One motor: whether it runs, since how many ticks it does (or not), its starts in the last hour."""

    on: bool = False
    age: int = 0
    starts: int = 0


class Sump(NamedTuple):
    """One sump: ticks since water could last not be ruled out, and what its pump's run was like.

    Attributes:
        dry_for: ticks since water could last not be ruled out.
        dry_on: ticks the running pump has seen a dry float without a break, 0 if it sees none.
        only_dry: whether this run began on a dry float and has seen nothing else.
        rested: ticks since the last full run ended, None once its rest is served.
        wet: ticks since the float has risen, None while it does not read wet.
        lost: ticks since a dry float was lost, None while it is read, or where water may be missed meanwhile.
        excused: what ``dry_for`` would have been then.
    """

    dry_for: int = 0
    dry_on: int = 0
    only_dry: bool = False
    rested: int | None = None
    wet: int | None = None
    lost: int | None = None
    excused: int = 0


class Judged(NamedTuple):
    """Everything the monitor remembers; fans first, then pumps, in the order of the settings."""

    fans: tuple[Motor, ...]
    pumps: tuple[Motor, ...]
    sumps: tuple[Sump, ...]
    last_start: int = 0
    fire: bool = False


def unknown(fans: int, sumps: int) -> Judged:
    """After a start of unknown history."""
    return Judged((Motor(),) * fans, (Motor(),) * sumps, (Sump(),) * sumps)


class Monitor:
    """The promises of one small house."""

    def __init__(self, timers: Timers, drains_to: Sequence[int]) -> None:
        self.timers = timers
        self.drains_to = drains_to
        self._oldest_fan = max(timers.fan_run, timers.fan_rest)
        self._oldest_pump = max(timers.exercise_every, timers.longest_run, HOUR_TICKS, timers.pump_rest)
        self._spacing = -(-HOUR_TICKS // timers.pump_starts)

    def stopped(self, before: Judged, *, same_boot: bool = True, trip: bool = False) -> Judged:
        """Every output went off, and nobody looked at a float: the program has stopped, or it stood still.

        After a reboot every pump rests first. A program that stood still knows how long the float was wet,
        and its starts are staggered anew.
        """
        t, sumps = self.timers, []
        for sump, pump in zip(before.sumps, before.pumps, strict=True):
            full = pump.on and pump.age >= t.longest_run
            lost, excused = sump.lost, sump.excused
            if lost is None and sump.dry_for:
                lost, excused = 0, sump.dry_for
            if pump.on or not same_boot:
                lost = None
            sumps.append(
                sump._replace(
                    dry_for=0, dry_on=0, only_dry=False, rested=0 if full else sump.rested,
                    wet=sump.wet if trip else None, lost=lost, excused=0 if lost is None else excused,
                )
            )  # fmt: skip
        return before._replace(
            fans=tuple(Motor(False, 0, m.starts) if m.on else m for m in before.fans),
            pumps=tuple(m._replace(on=False, age=0) if m.on or not same_boot else m for m in before.pumps),
            sumps=tuple(sumps),
            last_start=before.last_start if same_boot and not trip else 0,
        )

    def judge(
        self, before: Judged, seen: Seen, fans: Sequence[bool], pumps: Sequence[bool]
    ) -> tuple[Judged, list[str]]:
        """Judge the commands of the next tick; returns what is remembered then, and what is broken."""
        t, broken = self.timers, []
        fire = (before.fire and not seen.cleared) or seen.air is Air.FIRE
        waters = [
            self._water(sump, level, pump.on)
            for sump, level, pump in zip(before.sumps, seen.water, before.pumps, strict=True)
        ]
        last_start = min(before.last_start + 1, t.stagger)
        pumps_after, sumps_after = [], []
        for n, (motor, sump, level, on) in enumerate(
            zip(before.pumps, waters, seen.water, pumps, strict=True)
        ):
            said, motor_after, sump_after = self._pump(motor, sump, level, on)
            broken += [f"{words} (pump {n + 1})" for words in said]
            if not on and last_start >= t.stagger:
                broken += [f"{words} (pump {n + 1})" for words in self._stands(motor, sump)]
            if on and not motor.on:
                broken += self._stagger(last_start, f"pump {n + 1}")
                last_start = 0
            pumps_after.append(motor_after)
            sumps_after.append(sump_after)
        fans_after = []
        for n, (motor, on) in enumerate(zip(before.fans, fans, strict=True)):
            at = self.drains_to[n]
            dry = seen.water[at] is Water.DRY and waters[at].dry_for >= t.drain_down
            may_run = dry and not fire and seen.air is not Air.SILENT
            if on and not dry:
                broken.append(f"P1: fan {n + 1} on, float {seen.water[at].name.lower()}, "
                              f"{waters[at].dry_for} of {t.drain_down} ticks dry")  # fmt: skip
            if on and fire:
                broken.append(f"P5: fan {n + 1} on after a fire signature")
            if on and not motor.on:
                broken += self._stagger(last_start, f"fan {n + 1}")
                last_start = 0
            said, after = self._fan(motor, on, may_run)
            broken += [f"{words} (fan {n + 1})" for words in said]
            fans_after.append(after)
        after_all = Judged(tuple(fans_after), tuple(pumps_after), tuple(sumps_after), last_start, fire)
        return after_all, broken

    def _water(self, sump: Sump, level: Water, pumped: bool) -> Sump:
        t = self.timers
        rested = None if sump.rested is None else sump.rested + 1
        wet = None
        if level is Water.WET:
            wet = 0 if sump.wet is None else min(sump.wet + 1, BELIEVED_TICKS)
        doubted = wet is not None and wet >= BELIEVED_TICKS
        if rested is not None and rested >= (DOUBTED_REST * t.longest_run if doubted else t.rest):
            rested = None
        sump = sump._replace(rested=rested, wet=wet)
        dry_for = min(sump.dry_for + 1, t.drain_down)
        lost, excused = (None, 0) if sump.lost is None else (sump.lost + 1, sump.excused)
        if lost is None and sump.dry_for:  # what it would be if the float were lost in this tick
            lost, excused = 0, dry_for
        if pumped or lost is None or lost > t.blind:
            lost, excused = None, 0
        if level is Water.DRY:
            if sump.lost is not None and lost is not None:
                dry_for = min(excused + lost, t.drain_down)
            return sump._replace(dry_for=dry_for, lost=None, excused=0)
        if level is Water.WET:
            return sump._replace(dry_for=0, lost=None, excused=0)
        return sump._replace(dry_for=0, lost=lost, excused=excused)

    def _stagger(self, last_start: int, who: str) -> list[str]:
        if last_start >= self.timers.stagger:
            return []
        return [f"P11: {who} starts {last_start} of {self.timers.stagger} ticks after another motor"]

    def _limits(self, motor: Motor, age: int, rest: int, most: int) -> list[str]:
        broken = [f"P4: rested {age} of {rest} ticks"] if age < rest else []
        starts = (motor.starts << 1 & HOUR_MASK).bit_count()
        return broken + ([f"P4: {starts + 1} starts in an hour, at most {most}"] if starts >= most else [])

    def _stands(self, motor: Motor, sump: Sump) -> list[str]:
        """A pump that stands on a wet float, no other motor having started within the stagger."""
        t, age = self.timers, motor.age + 1
        if sump.wet is None or sump.wet >= BELIEVED_TICKS:
            return []
        if motor.on:
            return [f"P16: stopped after {age} ticks on a wet float"] if age < t.longest_run else []
        starts = motor.starts << 1
        spaced = starts & ((1 << self._spacing) - 1) or (starts & HOUR_MASK).bit_count() >= t.pump_starts
        if age < max(t.pump_rest, t.rest) or spaced:
            return []
        return [f"P16: stands after {age} ticks, the float wet for {sump.wet}"]

    def _fan(self, motor: Motor, on: bool, may_run: bool) -> tuple[list[str], Motor]:
        t, age = self.timers, min(motor.age + 1, self._oldest_fan)
        broken: list[str] = []
        if on and not motor.on:
            broken = self._limits(motor, age, t.fan_rest, t.fan_starts)
        if motor.on and not on and may_run and age < t.fan_run:
            broken = [f"P4: stopped after {age} of {t.fan_run} ticks without a safety trip"]
        return broken, _turned(motor, on, age)

    def _pump(self, motor: Motor, sump: Sump, level: Water, on: bool) -> tuple[list[str], Motor, Sump]:
        t, age = self.timers, min(motor.age + 1, self._oldest_pump)
        if not on:
            said = self._stop(sump, level, age) if motor.on else []
            return said, _turned(motor, on, age), self._after_run(sump, age if motor.on else 0)
        if not motor.on:
            said = self._limits(motor, age, t.pump_rest, t.pump_starts) + self._start(sump, level, age)
            sump = sump._replace(only_dry=level is Water.DRY, dry_on=int(level is Water.DRY))
            return said, _turned(motor, on, age), sump
        # What the last tick commanded has run since, on what this tick sees.
        dry_on = sump.dry_on + 1 if level is Water.DRY else 0
        only_dry = sump.only_dry and level is Water.DRY
        said = []
        if age >= t.longest_run:
            said.append(f"P3: on after {age} ticks, longest run is {t.longest_run}")
        if dry_on > t.run_on or (only_dry and age >= EXERCISE_RUN):
            said.append(f"P3: on after {age} ticks, the float dry for {dry_on - 1}")
        if level in BLIND and age >= DUTY_RUN:
            said.append(f"P3: on after {age} ticks, the float cannot be read")
        return said, _turned(motor, on, age), sump._replace(dry_on=dry_on, only_dry=only_dry)

    def _start(self, sump: Sump, level: Water, rested: int) -> list[str]:
        t, said = self.timers, []
        if sump.rested is not None:
            said.append(f"P3: starts {sump.rested} ticks after a full run")
        if level is Water.DRY and rested < t.exercise_every:
            said.append(f"P3: starts on a dry float after {rested} ticks")
        if level in BLIND and rested < HOUR_TICKS:
            said.append(f"P3: starts on a float that cannot be read after {rested} ticks")
        return said

    def _stop(self, sump: Sump, level: Water, ran: int) -> list[str]:
        t = self.timers
        by_the_clock = sump.only_dry and level is Water.DRY
        blind = level in BLIND
        if ran >= t.run_on or by_the_clock or blind:
            return []
        return [f"P4: stopped after {ran} of {t.run_on} ticks"]

    def _after_run(self, sump: Sump, ran: int) -> Sump:
        over = sump._replace(dry_on=0, only_dry=False)
        return over if ran < self.timers.longest_run else over._replace(rested=0)


def _turned(motor: Motor, on: bool, age: int) -> Motor:
    starts = motor.starts << 1 & HOUR_MASK
    if on == motor.on:
        return Motor(on, age, starts)
    return Motor(on, 0, starts | on)
