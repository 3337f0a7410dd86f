"""Accounted against true heat by month, with probes and flows that are wrong as drawn from a seed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from controller.evidence.accounting import FLOW_SHARE, account
from controller.record.tally import JOULES_PER_KWH

if TYPE_CHECKING:
    from controller.evidence.interval import Interval
    from controller.evidence.series import Series
    from controller.settings.schema import Settings
    from tests.lab.evidence.truth import Played

DRAWS = 10
LARGEST_OFFSET_K = 0.5  # of each probe, as likely as any smaller one (DS18B20 data sheet)
LEAST_KWH = 10.0  # months in which less was moved prove nothing


class TrueMonth(NamedTuple):
    """True heat of a month in J."""

    dry_j: float = 0.0
    charged_j: float = 0.0
    discharged_j: float = 0.0


@dataclass(frozen=True)
class Check:
    """One figure of one month, claimed and true, in J."""

    what: str
    month: str
    claimed: Interval
    true_j: float

    @property
    def holds(self) -> bool:
        """Whether the truth lies in the range."""
        return self.claimed.holds(self.true_j)


def true_months(played: Played) -> dict[str, TrueMonth]:
    """The truth by local month."""
    truth = played.winter.truth()
    months: dict[str, TrueMonth] = defaultdict(TrueMonth)
    rows = zip(truth.ended_s, truth.charged_j, truth.discharged_j, truth.latent_j, strict=True)
    for ended_s, charged_j, discharged_j, latent_j in rows:
        middle = datetime.fromtimestamp(ended_s - 1800.0 + truth.utc_offset_s, UTC)
        month = f"{middle:%Y-%m}"
        dry, charged, discharged = months[month]
        months[month] = TrueMonth(dry + charged_j - latent_j, charged + charged_j, discharged + discharged_j)
    return dict(months)


def checks(played: Played, draw: int) -> list[Check]:
    """All months of a winter; from the second draw on probes and flows are wrong.

    The offsets of all probes are drawn on their own. The flow of all loops is wrong by the same share, as
    when one instrument measured them.
    """
    random = np.random.default_rng([played.winter.seed, draw])
    series, settings = played.series, played.settings
    if draw:
        series = _offset(series, random)
        settings = _with_flow(settings, 1.0 + random.normal(0.0, FLOW_SHARE))
    truth, found = true_months(played), []
    for month, heat in account(series, settings, played.offset).by_month().items():
        true = truth.get(month, TrueMonth())
        pairs = (
            ("banked, dry", heat.banked, true.dry_j),
            ("banked, with moisture", heat.banked_with_moisture, true.charged_j),
            ("returned, with drying", heat.returned_with_drying, true.discharged_j),
        )
        for what, claimed, true_j in pairs:
            if true_j >= LEAST_KWH * JOULES_PER_KWH:
                found.append(Check(what, month, claimed, true_j))
    return found


def _offset(series: Series, random: np.random.Generator) -> Series:
    """The log with other probes."""
    temps = {}
    for name, values in series.temps.items():
        by_k = random.uniform(-LARGEST_OFFSET_K, LARGEST_OFFSET_K)
        temps[name] = [None if value is None else value + by_k for value in values]
    return replace(series, temps=temps)


def _with_flow(settings: Settings, share: float) -> Settings:
    """Settings with flows that are wrong by a factor; what follows from them is worked out anew."""
    loops = {
        name: loop.model_copy(update={"flow_m3_s": share * loop.flow_m3_s})
        for name, loop in settings.loops.items()
    }
    changed = settings.model_copy(update={"loops": loops})
    changed.__dict__.pop("derived", None)
    return changed
