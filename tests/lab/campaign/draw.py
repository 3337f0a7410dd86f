"""Draws an episode from its seed: a house, its weather, how long, and what goes wrong when."""

from __future__ import annotations

import math
import random
import tomllib
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.faults import DAY_S, HOUR_S, MINUTE_S
from controller.settings.load import parse
from controller.simulator.plant.fault_kinds import SPECS, FaultKind
from controller.simulator.plant.faults import ScriptedFault
from tests.lab.campaign.damage import damaged
from tests.lab.campaign.houses import BAD, contradictory, drawn_house, varied
from tests.lab.campaign.troubles import ENDINGS, SAME_BOOT, Moment, Trouble, TroubleKind

if TYPE_CHECKING:
    from controller.settings.schema import Settings

PLACES = ("carolina", "carolina", "carolina-8K", "alaska-coast", "miami")
INVENTED = 10  # invented years of each place
HEALTHY_SHARE = 0.15
YEAR_SHARE = 0.01
RAIN_SHARE = 0.2  # of the other episodes get a cloudburst that has nothing to do with what goes wrong
KINDS: tuple[FaultKind | TroubleKind, ...] = (*FaultKind, *TroubleKind)
# How many things go wrong in an episode in which anything does, and how often it is that many.
HOW_MANY = {1: 0.3, 2: 0.42, 3: 0.12, 4: 0.08, 6: 0.05, 9: 0.03}
BEGINS_AFTER_S = DAY_S
# Watching costs time for each message and row; a window this long shows whether it stays bounded.
LONGEST_S = {TroubleKind.BROKER_DOWN: 4 * HOUR_S, TroubleKind.FIRE: HOUR_S}
LONGEST_CHATTER_S = DAY_S  # a bouncing float makes a hundred ticks of one
# From how small to how large: shares, K (a day), m³.
SIZES = {
    FaultKind.PROBE_NOISY: (0.03, 0.95),
    FaultKind.PROBE_DRIFT: (0.05, 50.0),
    FaultKind.PROBE_OFFSET: (0.5, 25.0),
    FaultKind.PROBE_IN_SUN: (2.0, 40.0),
    FaultKind.CHECK_VALVE_LEAKS: (0.004, 0.09),
    FaultKind.PUMP_CLOGGED: (0.2, 1.0),
    FaultKind.FAN_BLOCKED: (0.2, 1.0),
    FaultKind.TUBES_SILTED: (0.2, 1.0),
    FaultKind.DOOR_LEFT_OPEN: (0.5, 4.0),
}
NEEDS_WATER = frozenset(
    {
        FaultKind.FLOAT_STUCK_DRY, FaultKind.PUMP_DEAD, FaultKind.PUMP_CLOGGED, FaultKind.CHECK_VALVE_LEAKS,
        FaultKind.DISCHARGE_FROZEN, TroubleKind.POWER_CUT, TroubleKind.CRASH_LOOP,
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Episode:
    """One stretch of a house's life.

    Attributes:
        seed: all of it follows from this.
        house: a name for the settings.
        text: the settings file.
        weather: name of the weather.
        weather_seed: for invented years and made-up rain.
        first_day: local date.
        days: how long.
        faults: what breaks in the house.
        troubles: what goes wrong around it.
        clears_after_s: how long a person takes to clear a fire signature.
    """

    seed: int
    house: str
    text: str
    weather: str
    weather_seed: int
    first_day: datetime
    days: float
    faults: tuple[ScriptedFault, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    clears_after_s: float = DAY_S

    @property
    def healthy(self) -> bool:
        """Whether nothing goes wrong."""
        return not self.faults and not self.troubles


def drawn_episode(seed: int, days: float | None = None) -> Episode:
    """The episode of a seed; ``days`` shortens or lengthens it and with it when things go wrong."""
    random_ = random.Random(seed)  # noqa: S311 - a campaign has to be repeatable
    house, text = drawn_house(random_)
    drawn_days = 365.0 if random_.random() < YEAR_SHARE else float(random_.randint(14, 60))
    length_s = (drawn_days if days is None else days) * DAY_S
    place = random_.choice(PLACES)
    invented = random_.random() < 0.4
    weather_seed = random_.randrange(INVENTED) if invented else 0
    first_day = datetime(2026, 1, 1) + timedelta(days=random_.randrange(365))  # noqa: DTZ001 - local to the weather
    faults: list[ScriptedFault] = []
    troubles: list[Trouble] = []
    if random_.random() >= HEALTHY_SHARE:
        many = random_.choices(tuple(HOW_MANY), tuple(HOW_MANY.values()))[0]
        Drawing(random_, parse(text), text, length_s, faults, troubles).draw(many)
    return Episode(
        seed,
        house,
        text,
        f"invented-{place}" if invented else place,
        weather_seed,
        first_day,
        length_s / DAY_S,
        tuple(sorted(faults, key=lambda fault: fault.at_s)),
        in_turn(troubles),
        random_.choice((HOUR_S, 6 * HOUR_S, 3 * DAY_S)),
    )


def in_turn(troubles: list[Trouble]) -> tuple[Trouble, ...]:
    """One ending after the other: while a machine has no power it cannot lose it."""
    kept: list[Trouble] = []
    free_s = 0.0
    for trouble in sorted(troubles, key=lambda each: each.at_s):
        if trouble.kind in ENDINGS:
            if trouble.at_s < free_s:
                continue
            free_s = trouble.until_s
        kept.append(trouble)
    return tuple(kept)


@dataclass(slots=True)
class Drawing:
    """Draws what goes wrong in one episode."""

    random: random.Random
    settings: Settings
    text: str
    length_s: float
    faults: list[ScriptedFault]
    troubles: list[Trouble]

    def draw(self, many: int) -> None:
        """Let this many things go wrong, half of the time so that they meet."""
        first_s = min(BEGINS_AFTER_S, 0.1 * self.length_s)
        meets_s = self.random.uniform(first_s, 0.8 * self.length_s)
        drawn: set[FaultKind | TroubleKind] = set()
        while len(drawn) < many:
            kind = self.random.choice(KINDS)
            if kind in drawn or not self.possible(kind):
                continue
            drawn.add(kind)
            at_s = self.random.uniform(first_s, 0.8 * self.length_s)
            if self.random.random() < 0.5:
                at_s = min(meets_s + self.random.uniform(0.0, 3 * HOUR_S), 0.9 * self.length_s)
            self.add(kind, at_s)
            if kind in NEEDS_WATER and FaultKind.CLOUDBURST not in drawn and self.random.random() < 0.6:
                wet_s = at_s + self.random.uniform(-2 * HOUR_S, 6 * HOUR_S)
                self.faults.append(self._fault(FaultKind.CLOUDBURST, max(wet_s, first_s)))
        if self.random.random() < RAIN_SHARE and not any(
            fault.kind is FaultKind.CLOUDBURST for fault in self.faults
        ):
            self.faults.append(
                self._fault(FaultKind.CLOUDBURST, self.random.uniform(first_s, 0.8 * self.length_s))
            )

    def add(self, kind: FaultKind | TroubleKind, at_s: float) -> None:
        """Let this go wrong from then on."""
        if isinstance(kind, FaultKind):
            self.faults.append(self._fault(kind, at_s))
        else:
            self._trouble(kind, at_s)

    def possible(self, kind: FaultKind | TroubleKind) -> bool:
        """Whether this can happen to this house."""
        if kind is FaultKind.FAN_SWAPPED:
            return len(self.settings.loops) > 1
        if kind is FaultKind.VOLTAGE_LOW:  # nothing but the kernel shows it
            return bool(self.settings.board.board_voltage)
        return kind is not TroubleKind.BROKER_DOWN or self.settings.mqtt is not None

    def _lasts_s(self) -> float:
        """From hours to the rest of the episode."""
        short = self.random.random()
        if short < 0.3:
            return self._between(10 * MINUTE_S, 12 * HOUR_S)
        return self._between(12 * HOUR_S, 10 * DAY_S) if short < 0.6 else math.inf

    def _between(self, low: float, high: float) -> float:
        """Small sizes as often as large ones."""
        return math.exp(self.random.uniform(math.log(low), math.log(high)))

    def _fault(self, kind: FaultKind, at_s: float) -> ScriptedFault:
        spec = SPECS[kind]
        names = [name for table in spec.subjects for name in getattr(self.settings, table)]
        subject = self.random.choice(names) if names else ""
        other = self.random.choice([name for name in names if name != subject]) if spec.partner else ""
        lasts_s = self._between(HOUR_S, 12 * HOUR_S) if kind is FaultKind.CLOUDBURST else self._lasts_s()
        if kind is FaultKind.FLOAT_CHATTER:
            lasts_s = min(lasts_s, LONGEST_CHATTER_S)
        return ScriptedFault(kind, subject, at_s, at_s + lasts_s, self._size(kind), other)

    def _size(self, kind: FaultKind) -> float:
        """How large, 0 where the kind has no size."""
        if kind not in SIZES:
            return 0.0
        either_way = kind in (FaultKind.PROBE_DRIFT, FaultKind.PROBE_OFFSET)
        sign = self.random.choice((-1.0, 1.0)) if either_way else 1.0
        return sign * self._between(*SIZES[kind])

    def _trouble(self, kind: TroubleKind, at_s: float) -> None:
        if kind in ENDINGS:
            self.troubles.append(self._ending(kind, at_s))
            return
        if kind is TroubleKind.STALL:
            self.troubles.append(self._stall(at_s))
            return
        until_s = min(at_s + min(self._lasts_s(), LONGEST_S.get(kind, 4 * DAY_S)), 0.95 * self.length_s)
        by_s = self.random.choice((-1.0, 1.0)) * self._between(MINUTE_S, 4000 * DAY_S)
        self.troubles.append(Trouble(kind, at_s, until_s, by_s=by_s, text=self._new_text(kind)))
        disk = (TroubleKind.CARD_UNWRITABLE, TroubleKind.RUNTIME_UNWRITABLE)
        settings = kind.value.startswith("settings")
        if kind in disk or (
            settings and self.random.random() < 0.3
        ):  # what it does shows only after a restart
            end = TroubleKind.CRASH if kind is TroubleKind.RUNTIME_UNWRITABLE else TroubleKind.POWER_CUT
            self.troubles.append(self._ending(end, self.random.uniform(at_s, until_s)))

    def _ending(self, kind: TroubleKind, at_s: float) -> Trouble:
        same_boot = kind in SAME_BOOT
        off_s = self.random.uniform(6.0, 12.0) if same_boot else self._between(20.0, 2 * DAY_S)
        if not same_boot and self.random.random() < 0.6:
            off_s = self.random.uniform(20.0, 90.0)  # a flicker of the mains
        times = self.random.randint(4, 40) if kind is TroubleKind.CRASH_LOOP else 1
        return Trouble(
            kind,
            at_s,
            at_s + off_s,
            self.random.choice(tuple(Moment)),
            hunts=self.random.random() < 0.6,
            times=times,
            text=damaged(self.random) if kind is TroubleKind.MEMORY_DAMAGED else "",
        )

    def _stall(self, at_s: float) -> Trouble:
        """Ticks that do not come, shorter and longer than a lease, once or many times in a row."""
        until_s = at_s + self._between(MINUTE_S, 2 * HOUR_S)
        times = self.random.choice((1, 1, 2, 13))
        moment = self.random.choice(tuple(Moment))
        return Trouble(
            TroubleKind.STALL, at_s, until_s, moment, hunts=self.random.random() < 0.7, times=times
        )

    def _new_text(self, kind: TroubleKind) -> str:
        match kind:
            case TroubleKind.SETTINGS_CHANGED:
                return varied(tomllib.loads(self.text), self.random)
            case TroubleKind.SETTINGS_BAD:
                return self.random.choice(BAD)
            case TroubleKind.SETTINGS_CONTRADICTORY:
                return contradictory(self.text, self.random)
            case _:
                return ""
