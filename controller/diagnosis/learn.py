"""What a finished decision teaches: shares of heat, outlets, probes, and the alarms that follow."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from controller.decision.hints import TESTABLE_DIFFERENCE_K
from controller.decision.state import Proof
from controller.diagnosis.advice import Advice, advice, watched_air
from controller.diagnosis.alarms import Alarm, AlarmEvent, update_alarms
from controller.diagnosis.attendance import Now, attended
from controller.diagnosis.comparisons import compared
from controller.diagnosis.evening import looked_ahead, warning
from controller.diagnosis.evidence import Evidence
from controller.diagnosis.findings import findings_of, fire_findings
from controller.diagnosis.heat_share import learned, paused
from controller.diagnosis.house_shut import watched_house
from controller.diagnosis.outlets import watched_outlets
from controller.diagnosis.starts import forgiven, watched_starts
from controller.diagnosis.tonight import watched_night

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from controller.decision.command import Confirmation, Decision
    from controller.decision.hints import LoopHint
    from controller.decision.state import ControllerState
    from controller.diagnosis.attendance import Note
    from controller.diagnosis.heat_share import HeatShare
    from controller.faults import Finding
    from controller.readings.snapshot import Snapshot
    from controller.settings.schema import Settings
    from controller.settings.schema.derived import Derived, DerivedLoop


class Diagnosis(NamedTuple):
    """What the diagnosis says after a tick.

    Attributes:
        evidence: for the next tick.
        alarms: active alarms, most urgent first.
        events: alarms raised or cleared in this tick.
        advice: what a person could do for the house now, None for nothing.
        notes: what came of what people at the machine have said.
        whole: whether everything was looked at, so that a fault without an alarm is no fault.
    """

    evidence: Evidence
    alarms: tuple[Alarm, ...]
    events: tuple[AlarmEvent, ...]
    advice: Advice | None = None
    notes: tuple[Note, ...] = ()
    whole: bool = True


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
    hour = evidence.tonight.hour if snapshot.hour is None else snapshot.hour
    evening = looked_ahead(evidence.evening, snapshot, after, heat_shares, hour, settings, now_mono_s)
    warned = warning(evening, now_mono_s)
    tonight = watched_night(evidence.tonight, snapshot, settings.setpoints, now_mono_s, warned)
    air = watched_air(evidence.air, snapshot, settings, now_mono_s)
    house = watched_house(evidence.house, snapshot, after, settings.setpoints, tonight.hour, now_mono_s)
    known = Evidence(
        heat_shares,
        outlets,
        comparisons,
        starts,
        evidence.alarms,
        tonight,
        evening,
        air,
        evidence.attendance,
        house,
    )
    findings = findings_of(snapshot, after, known, settings, now_mono_s)
    told = _with_alarms(known, findings, snapshot, now_mono_s)
    return told._replace(advice=advice(air, snapshot, after, settings, now_mono_s))


def _with_alarms(
    evidence: Evidence, findings: Sequence[Finding], snapshot: Snapshot, now_s: float
) -> Diagnosis:
    """The diagnosis with the alarms that follow, marked with what people have said of them."""
    alarms = update_alarms(evidence.alarms, findings, now_s)
    heard = attended(evidence.attendance, snapshot.said, alarms, Now.of(now_s, snapshot.wall_utc))
    return Diagnosis(
        evidence._replace(alarms=heard.alarms.states, attendance=heard.attendance),
        heard.alarms.active,
        heard.alarms.events,
        notes=heard.notes,
    )


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
    known = (*snapshot.findings, *fire_findings(after.fire))
    return _with_alarms(evidence, known, snapshot, now_mono_s)._replace(whole=False)


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
