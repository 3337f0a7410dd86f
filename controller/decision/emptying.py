"""What the emptyings of a pit show of its pump and its check valve, whatever flows in meanwhile.

The pit holds V between the fall of its float and the rise, the pump moves D, and Q flows in. From the rise
on the float is wet for ``wet_s``; for ``on_s`` of it the pump runs. Then it runs on for R, and after its stop
the pit fills again in F:

    D on_s - Q wet_s = V        the water that stood, and all that came, is gone when the float falls
    Q F = V + (D - Q) R         what the run-on took from below the float comes again first

so that, with nothing but times in it,

    V / D = (on_s (F + R) - R wet_s) / (F + R + wet_s)

or, where the pump starts with the rise (wet_s = on_s = T), D / V = (1 / T) (1 + (T + R) / F). It assumes that
Q is the same in T, R and F; that the pump draws from below the float in R (in a pit that is empty by then
D / V comes out too large, by R / (F + T) of it: a sixth with T = F = 60 s and R = 20 s); and that nothing
runs back. Since rain changes, the faster one of the refills before and after an emptying counts: a shower
then makes a pump look too good, never slow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.decision.state import Emptied
from controller.faults import HOUR_S

if TYPE_CHECKING:
    from controller.decision.state import EmptyingTrend, OutputState

USUAL_WEIGHT = 0.1
CYCLES_TO_KNOW = 5
# A pit that has always filled slowly is emptied in the same time to within the float's delays: two such
# cycles show as much as five that a shower has spoiled. [practice]
STEADY_TO_KNOW = 2
# A pump that takes this many times as long as usual for the same water has lost a third of its flow; less can
# be the float's delays and the run-on (see above). [practice]
SLOW_TIMES = 1.5
SLOW_BY_AT_LEAST_S = 10.0
# Rain comes and goes; a check valve lets the same water back in the same, short time. In rehearsed years no
# sump filled in less than 14 min. [practice]
RETURN_WITHIN_S = 420.0
REGULAR_SHARE = 0.1
# From this share of the pump's flow on an inflow makes emptying clearly longer. [practice]
TELLING_INFLOW = 1.0 / 6.0
MOST_INFLOW = 0.9
# Water that comes as often as this drains from the ground, which dries little by little.
BRISK_S = 2.0 * HOUR_S


def fallen(trend: EmptyingTrend, output: OutputState, wet_since_s: float, now_s: float) -> EmptyingTrend:
    """The float has fallen: note the emptying, if a single run did it from the rise on."""
    since_s = output.since_mono_s
    earlier = [at_s for at_s in output.starts_mono_s if wet_since_s <= at_s < since_s]
    # Starts are kept for an hour, so after a longer wait this run may not have been the only one.
    if not output.on or not 0.0 <= since_s - wet_since_s < HOUR_S or earlier:
        return trend._replace(emptied=None)
    emptied = Emptied(now_s - since_s, now_s - wet_since_s, refill_s=trend.refill_s)
    return trend._replace(emptied=emptied)


def stopped(trend: EmptyingTrend, run_on_s: float) -> EmptyingTrend:
    """The pump has stopped after its run-on."""
    if trend.emptied is None:
        return trend
    return trend._replace(emptied=trend.emptied._replace(run_on_s=run_on_s))


def undone(trend: EmptyingTrend) -> EmptyingTrend:
    """How full the pit was when the pump stopped is no longer known."""
    return trend if trend.emptied is None else trend._replace(emptied=None)


def risen(trend: EmptyingTrend, refill_s: float) -> EmptyingTrend:
    """Water has come again ``refill_s`` after the pump stopped: the cycle is whole and can be judged."""
    done = trend.emptied
    if done is None:
        return trend._replace(refill_s=None, inflow=None, brisk=0)
    trend = trend._replace(brisk=trend.brisk + 1 if refill_s <= BRISK_S else 0)
    trend = _returned(trend, refill_s)._replace(emptied=None, refill_s=refill_s)
    trend = _judged(_leaking(trend, done, refill_s), done, refill_s)
    if trend.usual_s is None:
        return trend
    return trend._replace(inflow=(trend.usual_s + done.run_on_s) / (refill_s + done.run_on_s))


def _returned(trend: EmptyingTrend, refill_s: float) -> EmptyingTrend:
    return_s, returns = trend.return_s, trend.returns + 1
    if return_s is None or abs(refill_s - return_s) > REGULAR_SHARE * return_s:
        return_s, returns = (refill_s if refill_s <= RETURN_WITHIN_S else None), 0
    return trend._replace(return_s=return_s, returns=returns)


def _leaking(trend: EmptyingTrend, done: Emptied, refill_s: float) -> EmptyingTrend:
    """Whether the water that came before and after an emptying came during it, too.

    Inflow does; what runs back through the check valve comes only while the pump stands. A slow inflow makes
    too small a difference to judge by.
    """
    usual_s = trend.usual_s
    if usual_s is None or trend.cycles < CYCLES_TO_KNOW or done.refill_s is None:
        return trend
    slower_s = max(refill_s, done.refill_s)
    if slower_s > RETURN_WITHIN_S:
        return trend._replace(leaks=0)
    inflow = min(usual_s / slower_s, MOST_INFLOW)
    if inflow < TELLING_INFLOW:
        return trend
    without_s = usual_s + inflow * (done.wet_s - done.on_s)
    longer_s = without_s / (1.0 - inflow) - without_s
    if done.on_s <= without_s + 0.25 * longer_s:
        return trend._replace(leaks=trend.leaks + 1)
    if done.on_s >= without_s + 0.5 * longer_s:
        return trend._replace(leaks=0, returns=0)
    return trend


def _judged(trend: EmptyingTrend, done: Emptied, refill_s: float) -> EmptyingTrend:
    """The trend after one more cycle; what is usual is learned from pits that filled slowly."""
    faster_s = refill_s if done.refill_s is None else min(refill_s, done.refill_s)
    pit_s = _pit_s(done, faster_s)
    if pit_s <= 0.0:
        return trend
    quick = faster_s <= RETURN_WITHIN_S
    cycles, steady, usual_s = trend.cycles + 1, trend.steady + (not quick), trend.usual_s
    trend = trend._replace(cycles=cycles, steady=steady, last_s=pit_s)
    if usual_s is None:
        return trend._replace(usual_s=pit_s)
    known = cycles > CYCLES_TO_KNOW or (steady == cycles > STEADY_TO_KNOW)
    if known and pit_s > max(SLOW_TIMES * usual_s, usual_s + SLOW_BY_AT_LEAST_S):
        return trend._replace(slow_runs=trend.slow_runs + 1)
    if known and quick:
        return trend._replace(slow_runs=0)
    weight = max(USUAL_WEIGHT, 1.0 / cycles)
    return trend._replace(usual_s=usual_s + weight * (pit_s - usual_s), slow_runs=0)


def _pit_s(done: Emptied, refill_s: float) -> float:
    """V / D of the module's text; not above 0 where the times fit no steady inflow."""
    below_s = refill_s + done.run_on_s
    return (done.on_s * below_s - done.run_on_s * done.wet_s) / (below_s + done.wet_s)
