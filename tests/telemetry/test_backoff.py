"""Pauses between attempts."""

from __future__ import annotations

import random

from controller.telemetry.backoff import Backoff


def dice(seed: int) -> random.Random:
    """Dice that fall the same way each time."""
    return random.Random(seed)  # noqa: S311 - jitter, not a secret


def test_pauses_double_to_less_than_a_minute_with_jitter_of_up_to_half():
    """Each pause lies between half and all of 1, 2, 4 ... 45 s."""
    backoff = Backoff(dice(1))
    for longest_s in (1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 45.0, 45.0, 45.0):
        assert longest_s / 2 <= backoff.pause_s() <= longest_s


def test_two_houses_do_not_return_in_step():
    """Different dice give different pauses; the same dice give the same."""
    here, same, there = (Backoff(dice(seed)).pause_s() for seed in (1, 1, 2))
    assert here == same != there


def test_after_a_good_connection_pauses_begin_short_again():
    """Reset goes back to the first pause."""
    backoff = Backoff(dice(1))
    for _ in range(9):
        backoff.pause_s()
    backoff.reset()
    assert backoff.pause_s() <= 1.0
