"""Plays an episode: the real controller, life after life, in a house and a machine where things go wrong."""

from __future__ import annotations

import math
import random
import tempfile
import traceback
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.clock import SystemClock
from controller.faults import DAY_S, HOUR_S
from controller.rehearsal.run import Rehearsal, _no_collecting, _settled_plant
from controller.service.logs import silenced
from controller.settings.load import parse
from controller.settings.problems import SettingsError
from controller.simulator.weather.load import load_weather
from tests.lab.campaign.around import NEARLY_S, Surroundings
from tests.lab.campaign.book import AlarmBook
from tests.lab.campaign.bursts import Bursts
from tests.lab.campaign.checks import Checks
from tests.lab.campaign.keeping import Keeping
from tests.lab.campaign.life import Life, ProcessEnded
from tests.lab.campaign.place import SETTINGS, Machine
from tests.lab.campaign.troubles import ENDINGS, Moment, Trouble, TroubleKind

if TYPE_CHECKING:
    from controller.record.tick import TickRecord
    from controller.simulator.weather.year import Weather
    from tests.lab.campaign.draw import Episode

HUNTS_FOR_S = 12 * HOUR_S
UPTIME_AT_START_S = 25.0  # monotonic time when the service starts after a boot


@lru_cache(maxsize=64)
def _weather(name: str, seed: int) -> Weather:
    return load_weather(name, seed=seed)


def play(episode: Episode) -> dict[str, Any]:
    """Play it; never raises. The result is plain data for one line of JSON."""
    clock = SystemClock()
    began_s = clock.monotonic_s()
    stage: _Stage | None = None
    error = ""
    with tempfile.TemporaryDirectory(prefix="campaign-") as directory, silenced(), _no_collecting():
        try:
            stage = _Stage(episode, Path(directory))
            stage.play()
        except Exception:  # noqa: BLE001 - whatever the controller lets through is a result
            error = traceback.format_exc()
        finally:
            if stage is not None and stage.life is not None:
                stage.life.close()
    return _result(episode, stage, error, clock.monotonic_s() - began_s)


def _result(episode: Episode, stage: _Stage | None, error: str, wall_s: float) -> dict[str, Any]:
    about = {
        "seed": episode.seed,
        "house": episode.house,
        "weather": episode.weather,
        "days": episode.days,
        "healthy": episode.healthy,
        "wall_s": round(wall_s, 2),
        "error": error,
    }
    if stage is None:
        return about | {
            "ticks": 0,
            "lives": 0,
            "broken": [],
            "faults": [],
            "bursts": [],
            "raised": {},
            "unfounded": {},
        }
    return about | {
        "ticks": stage.checks.ticks,
        "lives": stage.lives,
        "broken": stage.checks.broken,
        "faults": stage.book.found(stage.now_s),
        "bursts": stage.bursts.found(),
        "raised": dict(stage.book.raised),
        "unfounded": dict(stage.book.unfounded),
    }


class _Stage:
    """One episode under way."""

    def __init__(self, episode: Episode, directory: Path) -> None:
        settings = parse(episode.text)
        weather = _weather(episode.weather, episode.weather_seed)
        self.episode = episode
        self.start = episode.first_day.replace(tzinfo=weather.zone)
        plan = Rehearsal(
            settings, episode.weather, episode.first_day, episode.days, episode.seed, episode.faults
        )
        self.plant = _settled_plant(plan, weather, self.start)
        self._zero_s = self.plant.now_s
        self.machine = Machine(directory, episode.text)
        self.around = Surroundings(episode, self.plant, self.machine, directory)
        self.keeping = Keeping(episode, self._zero_s)
        self.checks = Checks(self.plant, settings, episode.faults)
        self.book = AlarmBook(episode, settings, self.plant)
        self.bursts = Bursts(episode, self.plant)
        self.life: Life | None = None
        self.lives = 0
        self._random = random.Random(episode.seed + 1)  # noqa: S311 - a campaign has to be repeatable
        self._endings = [each for each in episode.troubles if each.kind in ENDINGS]
        self._stalls = [each for each in episode.troubles if each.kind is TroubleKind.STALL]
        self._watches_file = any(each.kind in SETTINGS for each in episode.troubles)
        self._clear_s = math.inf
        self._due_s = -math.inf
        self._length_s = episode.days * DAY_S

    @property
    def now_s(self) -> float:
        """True time since the start."""
        return self.plant.now_s - self._zero_s

    def play(self) -> None:
        """Life after life until the time is up."""
        while self.now_s < self._length_s - NEARLY_S:
            self._begin_life()
            if self.life is None:
                self._stand_still()
                continue
            ending = self._live(self.life)
            self.checks.own_watch(self.life, self.now_s)
            self.life.close()
            if ending is not None:
                self._end_life(self.life, ending)
            self.life = None

    def _begin_life(self) -> None:
        """Start the controller, if its settings let it."""
        self.lives += 1
        self.book.restarted()
        wall = self.around.wall(self.start, self.now_s)
        try:
            self.life = Life(self.plant, self.machine, wall, self._watches_file)
        except SettingsError:
            if not self.machine.settings_bad:
                raise
            return
        self.keeping.started(self.now_s)
        self.checks.started(self.now_s, settings_bad=self.machine.settings_bad)
        self.around.meet(self.life)

    def _stand_still(self) -> None:
        """No controller runs until somebody mends the settings."""
        mended_s = min(self.around.mended_s(self._length_s), self._length_s)
        self._pass(max(mended_s - self.now_s, 1.0))
        self._follow(None)

    def _pass(self, seconds: float) -> None:
        """Time without a controller."""
        self.plant.on_float_turn = None
        self.plant.advance(seconds)

    def _follow(self, life: Life | None) -> None:
        """Let begin and end what is due around the house."""
        now_s = self.now_s
        self.book.begin_due(now_s)
        self.around.follow(life, now_s)
        self._due_s = min(self.around.next_s(), self.book.next_s())

    def _live(self, life: Life) -> Trouble | None:
        """Tick until something ends the process; returns what, None at the end of the episode."""
        self._due_s = -math.inf
        while (now_s := self.now_s) < self._length_s - NEARLY_S:
            if now_s >= self._due_s - NEARLY_S:
                self._follow(life)
            ending_s = self._endings[0].at_s if self._endings else math.inf
            ending = self._endings[0] if ending_s <= now_s + NEARLY_S else None
            if ending is not None and self._ends_now(life, ending):
                return ending
            if self._stalls and self._stalls_now(life, now_s):
                now_s = self.now_s
            remembers = self.keeping.due(now_s, ending_s)
            try:
                tick = life.tick(remembers=remembers, clears_fire=self._clears_fire(now_s))
            except ProcessEnded:
                return ending
            self._check(life, tick, now_s)
            if ending is not None and self._has_ended(life, tick):
                return ending
            if remembers:
                self.keeping.note(life, self.plant.now_s)
            if ending is not None and ending.hunts and tick.decision.changes:
                life.wait(self._random.uniform(0.05, 20.0))
                return ending
            now_s = self.now_s  # later than before if the tick has stalled
            next_s = min(each for each in (self._length_s, self._due_s, ending_s) if each > now_s + NEARLY_S)
            life.wait(min(life.loop.pause_s(tick), next_s - now_s))
        return None

    def _stalls_now(self, life: Life, now_s: float) -> bool:
        """Let a stall that is due come: at once if it comes between two ticks, else from within the next."""
        stall = self._stalls[0]
        runs = any(switch.is_on() for switch in self.plant.switches.values())
        over = now_s > stall.at_s + HUNTS_FOR_S
        if now_s < stall.at_s - NEARLY_S or (stall.hunts and not runs and not over):
            return False
        self._stalls.pop(0)
        lasts_s = min(stall.until_s - stall.at_s, self._length_s - now_s)
        if stall.times > 1:
            soon_s = now_s + lasts_s + self._random.uniform(0.0, 200.0)
            again = replace(stall, at_s=soon_s, until_s=soon_s + lasts_s, times=stall.times - 1)
            self._stalls.insert(0, again)
        if stall.moment is Moment.WAITING:
            self._stall(life, lasts_s)
            return True
        life.drive.stalls = stall.moment, lambda: self._stall(life, lasts_s)
        return False

    def _stall(self, life: Life, lasts_s: float) -> None:
        renewed_s = life.guard._renewed_mono_s

        def looked() -> None:
            self.checks.stalled(self.plant.now_s - renewed_s, life.lease_s, self.now_s)

        life.stall(lasts_s, looked)

    def _ends_now(self, life: Life, ending: Trouble) -> bool:
        """Whether a due ending comes now, between two ticks; else make ready for it within one."""
        over = self.now_s > ending.at_s + HUNTS_FOR_S
        if ending.moment is Moment.WAITING:
            return not ending.hunts or over
        life.drive.ends = ending.moment
        life.drive.on_change = ending.hunts and not over
        return False

    @staticmethod
    def _has_ended(life: Life, tick: TickRecord) -> bool:
        """Whether the process ended with this tick, before the card had its memory."""
        if life.drive.ends is not Moment.BEFORE_CARD:
            return False
        return bool(tick.decision.changes) or not life.drive.on_change

    def _clears_fire(self, now_s: float) -> bool:
        """Whether a person asks now to clear a fire signature."""
        if now_s < self._clear_s:
            return False
        self._clear_s = math.inf
        return True

    def _check(self, life: Life, tick: TickRecord, now_s: float) -> None:
        bad = self.machine.settings_bad
        self.checks.observe(tick, now_s, settings_bad=bad, sinks=life.sinks.values())
        self.book.observe(tick, now_s)
        self.bursts.look(now_s)
        if tick.state.fire.latched_detail is not None and self._clear_s == math.inf:
            self._clear_s = now_s + self.episode.clears_after_s

    def _end_life(self, life: Life, ending: Trouble) -> None:
        """The process is gone; the machine stands still or boots, and the next life may begin."""
        watch = self.checks.watch
        life.outputs_off()
        watch.outputs_went_off(self.plant.now_s, life.parts.settings())
        watch.history_unknown(self.keeping.known_until_s(ending))
        self._endings.pop(0)
        if not ending.same_boot:
            self.machine.boots()
            self.machine.spoil(ending)
            if ending.kind is TroubleKind.MEMORY_LOST:
                watch.forget_fire()
        self._pass(ending.until_s - ending.at_s)
        self._restart_clock(self.plant.now_s if ending.same_boot else UPTIME_AT_START_S)
        if not ending.same_boot:
            self.around.booted(self.now_s)
        if ending.times > 1:
            self._endings.insert(0, self._next_crash(ending))

    def _restart_clock(self, monotonic_s: float) -> None:
        by_s = monotonic_s - self.plant.now_s
        self.plant.restart(monotonic_s)
        self.checks.watch.booted(by_s)
        self.keeping.booted(by_s)
        self._zero_s += by_s

    def _next_crash(self, ending: Trouble) -> Trouble:
        """A crash loop ends the next life soon, too."""
        soon_s = self._random.choice((5.0, 400.0))
        at_s = self.now_s + self._random.uniform(0.0, soon_s)
        moment = self._random.choice(tuple(Moment))
        until_s = at_s + self._random.uniform(6.0, 8.0)
        return Trouble(TroubleKind.CRASH_LOOP, at_s, until_s, moment, times=ending.times - 1)
