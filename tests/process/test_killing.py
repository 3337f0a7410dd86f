"""Kill -9 at random moments, a few times; many more with ``python -m tests.process.killing``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from controller.settings.load import load
from tests.process.bench import ROOT
from tests.process.journal import Level, broken
from tests.process.killing import Killing

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.process
FEWEST, MOST = 3, 10  # kills; on a busy machine the first few may come before anything is committed


def test_nothing_is_lost_or_left_on_by_kills_at_random_moments(tmp_path: Path) -> None:
    """After each kill outputs are off in time, the history is sound, and no motor limit is broken."""
    killing = Killing(tmp_path, seed=5)
    try:
        while killing.toll.kills < FEWEST or (not killing.toll.rows and killing.toll.kills < MOST):
            killing.once()
    finally:
        toll = killing.finish()
    assert toll.broken == []
    assert toll.rows > 0


@pytest.mark.parametrize(
    ("writes", "promise"),
    [
        ([(0.0, True), (900.0, False), (1000.0, True)], "P4: pin 17 rested 100.0 s"),
        (
            [(at, on) for n in range(3) for at, on in ((n * 1300.0, True), (n * 1300.0 + 600.0, False))],
            "P4: pin",
        ),
    ],
)
def test_a_short_rest_and_one_start_too_many_would_be_seen(
    writes: list[tuple[float, bool]], promise: str
) -> None:
    """The campaign is able to fail: each broken limit in the pins' record is named."""
    settings = load(ROOT / "config" / "one-loop.toml")
    levels = [Level(at_s, 1, settings.loops["bed"].fan_pin, on) for at_s, on in writes]
    found = broken(levels, settings, speed=1.0)
    assert len(found) == 1
    assert found[0].startswith(promise)
    pump = Level(writes[0][0] + 1.0, 1, settings.sumps["pit"].pump_pin, True)
    assert any("P11" in what for what in broken(sorted([*levels, pump]), settings, speed=1.0))
