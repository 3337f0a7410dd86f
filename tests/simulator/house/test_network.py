"""The small solver of exchanges."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.simulator.house import network


def test_elimination_agrees_with_the_library() -> None:
    """Five nodes, exchanges both ways and streams one way: the same values as numpy's solver."""
    draw = np.random.default_rng(5)
    net = np.zeros((5, 6))
    for one in range(5):
        network.hold(net, one, 0.1, float(draw.uniform(-10.0, 30.0)))
        for other in range(one):
            network.join(net, one, other, float(draw.uniform(0.0, 50.0)))
    network.carry(net, 0, 3, 20.0)
    network.reach(net, 2, 40.0, -5.0)
    network.gain(net, 4, 300.0)
    expected = np.linalg.solve(net[:, :5], net[:, 5])
    assert network.solve(net) == pytest.approx(expected, rel=1e-10)


def test_two_nodes_keep_what_they_share() -> None:
    """Without outside, exchange only moves: the sum stays, and both end at the mean."""
    values = np.array([10.0, 20.0])
    for _ in range(200):
        net = np.zeros((2, 3))
        network.hold(net, 0, 3.0 / 60.0, values[0])
        network.hold(net, 1, 2.0 / 60.0, values[1])
        network.join(net, 0, 1, 0.1)
        values = network.solve(net)
    assert 3.0 * values[0] + 2.0 * values[1] == pytest.approx(70.0)
    assert values[0] == pytest.approx(values[1], abs=1e-6)


def test_one_node_follows_the_exact_decay() -> None:
    """Small steps run down to what is outside as exp(-t/T) says."""
    value = 20.0
    for _ in range(1000):
        net = np.zeros((1, 2))
        network.hold(net, 0, 1000.0, value)
        network.reach(net, 0, 1.0, 5.0)
        value = float(network.solve(net)[0])
    assert value == pytest.approx(5.0 + 15.0 * math.exp(-1.0), rel=1e-3)
