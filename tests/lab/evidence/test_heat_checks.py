"""The errors that are drawn for the heat accounts must reach them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from controller.evidence.accounting import account
from tests.evidence.made import HOUSE, STEPS_A_DAY, moving_air, series, utc
from tests.lab.evidence.heat import _offset, _with_flow


def test_a_wrong_flow_changes_the_heat_by_its_share():
    """What follows from the settings is worked out anew with the wrong flow."""
    log = series(moving_air(25.0, 14.0, 17.0), {"north": [1.0] * STEPS_A_DAY}, STEPS_A_DAY)
    right, wrong = (account(log, house, utc).whole for house in (HOUSE, _with_flow(HOUSE, 1.2)))
    fan_j = right.banked_fan_j
    assert wrong.banked_j - fan_j == pytest.approx(1.2 * (right.banked_j - fan_j), rel=0.02)


def test_offsets_are_drawn_for_each_probe():
    """Each probe is off by its own draw, the same all through, and gaps stay gaps."""
    log = series(moving_air(25.0, 14.0, 17.0), {}, 4)
    log = replace(log, temps={**log.temps, "bench": [1.0, None, 2.0, 3.0]})
    other = _offset(log, np.random.default_rng(1))
    off_k = other.temps["bench"][0] - 1.0
    assert other.temps["bench"] == [1.0 + off_k, None, 2.0 + off_k, 3.0 + off_k]
    assert 0.0 < abs(off_k) <= 0.5
    assert len({values[2] for name, values in other.temps.items() if "soil" in name}) == 3
