"""What a finished decision teaches: shares of heat, outlets, probes, and the alarms that follow."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.hints import TESTABLE_DIFFERENCE_K
from controller.decision.state import Proof
from controller.diagnosis.alarms import Alarm, AlarmEvent, update_alarms
from controller.diagnosis.comparisons import compared
from controller.diagnosis.evidence import Evidence
from controller.diagnosis.findings import findings_of, fire_findings
from controller.diagnosis.heat_share import learned, paused
from controller.diagnosis.outlets import watched_outlets
from controller.diagnosis.starts import forgiven, watched_starts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.decision.command import Confirmation, Decision
    from controller.decision.hints import LoopHint
    from controller.decision.state import ControllerState
    from controller.diagnosis.heat_share import HeatShare
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import Derived, DerivedLoop


class Diagnosis(NamedTuple):
    """What the diagnosis says after a tick.

    Attributes:
        evidence: for the next tick.
        alarms: active alarms, most urgent first.
        events: alarms raised or cleared in this tick.
    """

    evidence: Evidence
    alarms: tuple[Alarm, ...]
    events: tuple[AlarmEvent, ...]


class Taken(NamedTuple):
    """A decision that was taken, with the states before and after it."""

    before: ControllerState
    decision: Decision
    after: ControllerState


def learn(
    evidence: Evidence,
    hints: Mapping[str, LoopHint],
    snapshot: Snapshot,
    taken: Taken,
    settings: Settings,
    now_mono_s: float,
) -> Diagnosis:
    """Learn from one tick. Nothing here switches anything.

    Args:
        evidence: what the ticks before have left.
        hints: what the decision received for each loop.
        snapshot: judged readings of this tick.
        taken: the decision of this tick.
        settings: the settings in force.
        now_mono_s: monotonic time of this tick in s.
    """
    derived, after = settings.derived, taken.after
    heat_shares = _heat_shares(evidence.heat_shares, hints, taken, derived, now_mono_s)
    outlets = watched_outlets(evidence.outlets, derived, snapshot, taken.before.outputs, now_mono_s)
    comparisons = compared(evidence.comparisons, derived, snapshot, after.outputs, now_mono_s)
    starts = forgiven(evidence.starts, taken.before.fans, after.fans)
    starts = watched_starts(starts, derived, snapshot, taken.before.outputs, after.outputs, now_mono_s)
    shown = Evidence(heat_shares, outlets, comparisons, starts, evidence.alarms)
    findings = findings_of(snapshot, after, shown, settings, now_mono_s)
    alarms = update_alarms(evidence.alarms, findings, now_mono_s)
    return Diagnosis(shown._replace(alarms=alarms.states), alarms.active, alarms.events)


def _heat_shares(
    before: Mapping[str, HeatShare],
    hints: Mapping[str, LoopHint],
    taken: Taken,
    derived: Derived,
    now_s: float,
) -> Mapping[str, HeatShare]:
    """The shares of all loops; the same mapping while no fan has run."""
    shown, outputs = taken.decision.confirmations, taken.after.outputs
    if not shown and not any(share.at_mono_s is not None for share in before.values()):
        return before
    return {
        loop.name: taught(
            before[loop.name], loop, hints[loop.name], shown.get(loop.name), outputs[loop.fan].on, now_s
        )
        for loop in derived.loops
    }


def nothing_learned(
    evidence: Evidence, snapshot: Snapshot, after: ControllerState, now_mono_s: float
) -> Diagnosis:
    """What is left where learning fails: the alarms of what others have found, and of fire.

    Args:
        evidence: stays as it is, but for the alarms.
        snapshot: judged readings of this tick, with what others have found.
        after: the state that the decision of this tick has left.
        now_mono_s: monotonic time of this tick in s.
    """
    alarms = update_alarms(evidence.alarms, (*snapshot.findings, *fire_findings(after.fire)), now_mono_s)
    return Diagnosis(evidence._replace(alarms=alarms.states), alarms.active, alarms.events)


def taught(
    before: HeatShare,
    loop: DerivedLoop,
    hint: LoopHint,
    shown: Confirmation | None,
    runs_on: bool,
    now_s: float,
) -> HeatShare:
    """The loop's share of heat after one tick; nothing is learned where still air could look the same.

    Args:
        before: what was known.
        loop: what follows from its settings.
        hint: what the decision received for it.
        shown: what its outlet showed, None if its fan was off or locked out.
        runs_on: whether its fan runs after this tick.
        now_s: now.
    """
    if shown is None or shown.proof is Proof.PURGING or shown.moved_w is None:
        return paused(before)
    if shown.difference_k < TESTABLE_DIFFERENCE_K:
        return paused(before)
    if shown.proof is Proof.WEAK and hint.looks_still:
        return paused(before)  # a fan that stands teaches nothing about its tubes
    after = learned(before, shown.moved_w, loop.expected_w_per_k * shown.difference_k, now_s)
    return after if runs_on else paused(after)
