"""What the controller remembers from tick to tick. Immutable; every time is monotonic."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.reasons import Reason
    from controller.equipment import OutputId


class Demand(Enum):
    """What a loop is asked to do for the house; the order is the order of urgency."""

    FROST = "frost"
    HEAT = "heat"
    COOL = "cool"
    BANK = "bank"
    NIGHT_PURGE = "night-purge"
    PLAIN = "plain"
    TRIAL = "trial"


class Lockout(Enum):
    """Why a fan or pump may not run, whatever the demand, in the words a person reads."""

    FIRE = "fire signature, until a person clears it"
    FIRE_ONE_PROBE = "one air probe alone shows a fire, until the others have disagreed for an hour"
    FLOOD = "water in the sump"
    FLOAT_UNREADABLE = "float cannot be read"
    DRAIN_DOWN = "tubes still draining"
    JUST_STARTED = "just started, the tubes may be wet"
    FLOAT_BACK = "float could not be read until lately, the tubes may be wet"
    CEILING_UNKNOWN = "ceiling temperature unknown"
    SOIL_UNKNOWN = "soil temperature unknown"
    ROOT_ZONE_WARM = "ground too warm to bank heat"
    ROOT_ZONE_HOT = "ground too warm even to cool the house"
    ROOT_ZONE_COLD = "ground too cold to give heat back"
    BACK_OFF = "last run moved too little heat"
    RESTING = "motor resting"
    STARTS_SPENT = "starts of this hour used up"
    STARTS_SPACED = "starts are spaced over the hour"


class OutputState(NamedTuple):
    """One output's history as far as its limits need it.

    Attributes:
        on: as commanded in the last tick.
        since_mono_s: when it last changed, or when unknown history began.
        starts_mono_s: starts within the last hour, oldest first.
    """

    on: bool
    since_mono_s: float
    starts_mono_s: tuple[float, ...] = ()


class Proof(Enum):
    """How far a running loop has shown at its outlet that heat really moves."""

    IDLE = "idle"
    PURGING = "purging"
    PROVEN = "proven"
    WEAK = "weak"
    NOT_TESTABLE = "not testable"


class FanState(NamedTuple):
    """What one loop remembers.

    Attributes:
        demand: what the fan is running for, None while it is off.
        reason: why the fan is on or off.
        proof: confirmation of the present run.
        weak_since_s: since when the outlet shows too little heat.
        failed_runs: runs in a row that moved no heat.
        back_off_until_s: no start before this.
        lockouts: what forbids a run or a start now.
    """

    demand: Demand | None
    reason: Reason
    proof: Proof = Proof.IDLE
    weak_since_s: float | None = None
    failed_runs: int = 0
    back_off_until_s: float | None = None
    lockouts: tuple[Lockout, ...] = ()


class PumpPhase(Enum):
    """What the pump is doing."""

    IDLE = "idle"
    EMPTYING = "emptying"
    RUN_ON = "run-on"
    RESTING = "resting"
    DUTY = "fault duty"
    EXERCISE = "exercise"


class Emptied(NamedTuple):
    """One emptying, from the rise of the float on.

    Attributes:
        on_s: how long the pump ran until the float fell.
        wet_s: how long the float was wet; longer than ``on_s`` if the pump had to wait for its start.
        run_on_s: how long the pump ran on after that.
        refill_s: how long before the rise the pump had stopped, None if it did not stop after an emptying.
    """

    on_s: float
    wet_s: float
    run_on_s: float = 0.0
    refill_s: float | None = None


class EmptyingTrend(NamedTuple):
    """What emptying the pit usually takes, to warn before the pump fails.

    Attributes:
        usual_s: slow mean of the time the pump alone takes for the pit, inflow left out; None until known.
        last_s: the time it took in the last cycle.
        cycles: cycles it was learned from.
        steady: those of them in which the pit filled slowly.
        slow_runs: cycles in a row in which it was much longer than usual.
        emptied: the last emptying, until the pit has filled again.
        refill_s: how long the water now in the pit took to come, None if unknown.
        inflow: how fast it came, as a share of what the pump usually moves.
        brisk: refills in a row that came within hours.
        return_s: time from a stop to the next water that the last ones have in common, None if it was long.
        returns: how many times in a row it has come again after just that time.
        leaks: emptyings in a row that were too short for water to have come in while the pump ran.
    """

    usual_s: float | None = None
    last_s: float | None = None
    cycles: int = 0
    slow_runs: int = 0
    steady: int = 0
    emptied: Emptied | None = None
    refill_s: float | None = None
    inflow: float | None = None
    return_s: float | None = None
    returns: int = 0
    leaks: int = 0
    brisk: int = 0


class Doubt(Enum):
    """Why tubes count as wet although no water was seen."""

    STARTED = "start"
    BLIND = "blind"


class DryBefore(NamedTuple):
    """What was known when a float that read dry was lost, its pump at rest.

    Attributes:
        at_s: when it was lost: the first tick without a reading, or the last memory before a stop.
        last_water_s: the sump's ``last_water_s`` at that moment.
        doubt: the sump's ``doubt`` at that moment.
    """

    at_s: float
    last_water_s: float
    doubt: Doubt | None


class SumpState(NamedTuple):
    """What one sump remembers.

    Attributes:
        phase: what the pump is doing.
        reason: why.
        last_water_s: when water was last seen or could not be ruled out; drain-down counts from here.
        wet_since_s: since when the float reads wet, None while it does not.
        unreadable_since_s: since when the float cannot be read, None while it can.
        fell_dry_s: when the float fell during the present run.
        crowded: starts in a row that water had to wait for.
        trend: what emptying usually takes.
        lockouts: what forbids a start now.
        doubt: why drain-down counts although no water was seen, None if it was.
        dry_before: while the float cannot be read: what was known before, None if it was not dry then.
    """

    phase: PumpPhase
    reason: Reason
    last_water_s: float
    wet_since_s: float | None = None
    unreadable_since_s: float | None = None
    fell_dry_s: float | None = None
    crowded: int = 0
    trend: EmptyingTrend = EmptyingTrend()
    lockouts: tuple[Lockout, ...] = ()
    doubt: Doubt | None = None
    dry_before: DryBefore | None = None


Trace = tuple[tuple[float, float], ...]  # recent (time, temperature) pairs, oldest first
NO_TRACES: Final[Mapping[str, Trace]] = {}


class FireState(NamedTuple):
    """The fire watch.

    Attributes:
        latched_detail: what tripped it, None while it is clear; stays until a person clears it.
        latched_since_s: when it tripped.
        traces: per air probe, recent (time, temperature) pairs for the rate of rise.
        suspect: the one probe that shows a fire while the others do not, None without one.
        suspect_detail: what it showed.
        suspect_since_s: when it began.
        disagree_since_s: since when every other probe is far from that.
        dismissed: probes that the others have contradicted for an hour, until they read low again.
    """

    latched_detail: str | None = None
    latched_since_s: float = 0.0
    traces: Mapping[str, Trace] = NO_TRACES
    suspect: str | None = None
    suspect_detail: str = ""
    suspect_since_s: float = 0.0
    disagree_since_s: float = 0.0
    dismissed: frozenset[str] = frozenset()


class Need(NamedTuple):
    """The house's need for stored heat, as its own air has shown it.

    Attributes:
        coldest_c: lowest air temperature, slowly forgotten; None until known.
        at_s: when it was last updated.
        passed_k: how far ``coldest_c`` lies above the lowest of the season, which is forgotten more slowly.
    """

    coldest_c: float | None = None
    at_s: float = 0.0
    passed_k: float = 0.0


class ControllerState(NamedTuple):
    """Everything ``decide`` remembers.

    Attributes:
        outputs: by output.
        fans: by loop name.
        sumps: by sump name.
        fire: the fire watch.
        need: the house's need for stored heat.
        last_start_s: when any motor last started (or when unknown history began).
    """

    outputs: Mapping[OutputId, OutputState]
    fans: Mapping[str, FanState]
    sumps: Mapping[str, SumpState]
    fire: FireState
    need: Need
    last_start_s: float


def state_of_unknown_history(
    reason: Reason, fans: Mapping[str, OutputId], pumps: Mapping[str, OutputId], now_mono_s: float
) -> ControllerState:
    """The state to begin with when nothing is known: motors rest first, tubes may be wet, floats unread."""
    outputs = {o: OutputState(on=False, since_mono_s=now_mono_s) for o in (*fans.values(), *pumps.values())}
    return ControllerState(
        outputs=outputs,
        fans={name: FanState(demand=None, reason=reason) for name in fans},
        sumps={
            name: SumpState(
                PumpPhase.IDLE, reason, now_mono_s, unreadable_since_s=now_mono_s, doubt=Doubt.STARTED
            )
            for name in pumps
        },
        fire=FireState(),
        need=Need(),
        last_start_s=now_mono_s,
    )
