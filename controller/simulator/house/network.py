"""A small network of exchanges, solved at the end of a step (backward Euler): any step is stable.

A network is an array with a row for each node and one column more for the known side. Plain Python; the model
runs the compiled twin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def hold(net: Floats, node: int, store: float, value: float) -> None:
    """What a node holds per unit of value and second of the step, and its value now."""
    net[node, node] += store
    net[node, -1] += store * value


def gain(net: Floats, node: int, flow: float) -> None:
    """A known gain."""
    net[node, -1] += flow


def reach(net: Floats, node: int, conductance: float, value: float) -> None:
    """Exchange with something of a known value."""
    net[node, node] += conductance
    net[node, -1] += conductance * value


def join(net: Floats, one: int, other: int, conductance: float) -> None:
    """Exchange of two nodes, both ways alike."""
    carry(net, one, other, conductance)
    carry(net, other, one, conductance)


def carry(net: Floats, source: int, goal: int, flow: float) -> None:
    """A stream out of one node that displaces what the other holds."""
    net[goal, goal] += flow
    net[goal, source] -= flow


def solve(net: Floats) -> Floats:
    """Values of all nodes, by elimination in place; every node must hold or exchange something.

    Rows are dominated by their diagonal, so no pivot has to be searched.
    """
    nodes = net.shape[0]
    for pivot in range(nodes):
        for row in range(pivot + 1, nodes):
            share = net[row, pivot] / net[pivot, pivot]
            for column in range(pivot, nodes + 1):
                net[row, column] -= share * net[pivot, column]
    for row in range(nodes - 1, -1, -1):
        for column in range(row + 1, nodes):
            net[row, nodes] -= net[row, column] * net[column, nodes]
        net[row, nodes] /= net[row, row]
    return net[:, nodes]
