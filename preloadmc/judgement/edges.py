"""Where the limits lie in terms of preload: edges of the window, and of what stands beside it.

A tensioner is held to limits on its pump force: that force is found with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.joint import evaluate
from preloadmc.limits import ABOVE, BREAKING, OVER, UNDER, Limit, margins, preload_reached
from preloadmc.units import FORCE, Array, format_quantity

# An edge that differs from joint to joint is described by its median and its middle 98 %.
BAND = (0.01, 0.99)
# Quantiles of so many joints are drawn to the width of a line.
MOST_JOINTS = 2**16


@dataclass(frozen=True, slots=True)
class Edge:
    """One limit in one state, at the preload [N] of that state that reaches it.

    ``side`` is "under" where the preload must stay above the edge, "over" where below.
    ``median``, ``low`` and ``high``, the 1 % and 99 % quantiles, are over the joints.
    """

    limit: Limit
    median: float
    low: float
    high: float

    @property
    def name(self) -> str:
        """Return the name of the limit."""
        return self.limit.name

    @property
    def state(self) -> str:
        """Return the state in which the limit is judged."""
        return self.limit.state

    @property
    def side(self) -> str:
        """Return the side of the preload that the limit bounds."""
        return UNDER if self.limit.kind.sense == ABOVE else OVER

    @property
    def varies(self) -> bool:
        """Return whether the edge differs from joint to joint."""
        return self.high - self.low > 1e-6 * abs(self.median)

    @property
    def stage(self) -> str:
        """Return the stage as the path of the preload names it."""
        return "assembled" if self.state == "assembly" else self.state

    @property
    def short_name(self) -> str:
        """Return the name without what every limit is about, such as "minimum"."""
        return self.limit.kind.edge or self.name

    def value_words(self, system: str) -> str:
        """Return the preload in words, such as "28 kN", or "median 28 kN" where it varies."""
        value = format_quantity(self.median, FORCE, system, 3)
        return f"median {value}" if self.varies else value


@dataclass(frozen=True, slots=True)
class Pulled:
    """What a tensioner pulls with before it lets go: the pump force [N], (n,), and its edges.

    Each edge is a limit of too much preload at assembly, at the pump force that reaches it.
    """

    force: Array
    edges: tuple[Edge, ...]


def edges(case: Case, z: Array, columns: Sequence[str], *, others: bool) -> tuple[Edge, ...]:
    """Return every limit that a preload reaches, in each state, over the joints of a block.

    Parameters
    ----------
    case : Case
        The case.
    z : ndarray (n, d)
        Standard normal numbers; the first `MOST_JOINTS` are used.
    columns : sequence of str, length d
        The input of each column.
    others : bool
        Whether to find the limits beside the preload window as well.
    """
    x = case.inputs(z[:MOST_JOINTS], columns)
    state = evaluate(case.joint, x)
    found = []
    for margin in margins(case.joint, case.requirement, x, state, others=others):
        reached = preload_reached(case.joint, x, state, margin)
        if reached is not None:
            ends = np.quantile(reached, (BAND[0], 0.5, BAND[1]))
            low, median, high = (float(end) for end in ends)
            found.append(Edge(margin.limit, median, low, high))
    return tuple(found)


def pulled(case: Case, z: Array, columns: Sequence[str]) -> Pulled | None:
    """Return the pump force of every joint of a block with its limits; None for other methods.

    Parameters
    ----------
    case : Case
        The case.
    z : ndarray (n, d)
        Standard normal numbers; the first `MOST_JOINTS` are used for the edges.
    columns : sequence of str, length d
        The input of each column.
    """
    if not evaluate(case.joint, case.means).assembly.pulls_harder:
        return None
    x = case.inputs(z, columns)
    state = evaluate(case.joint, x)
    found = []
    for margin in margins(case.joint, case.requirement, x, state, others=False):
        limit = margin.limit
        at_force = limit.kind.in_preload and limit.kind is not BREAKING
        if limit.state == "assembly" and OVER in limit.sides and at_force:
            held = np.broadcast_to(margin.reference, len(z))[:MOST_JOINTS]
            low, median, high = (float(end) for end in np.quantile(held, (BAND[0], 0.5, BAND[1])))
            found.append(Edge(limit, median, low, high))
    force = np.broadcast_to(np.asarray(state.assembly.peak, dtype=float), len(z))
    return Pulled(force, window_edges(found))


def window_edges(found: Iterable[Edge]) -> tuple[Edge, ...]:
    """Return the strictest minimum and the strictest maximum at each stage that has one.

    Of the limits of the preload window; breaking lies beyond yield and is left out.
    """
    strictest: dict[tuple[str, str], Edge] = {}
    for edge in found:
        if not edge.limit.sides or edge.limit.kind is BREAKING:
            continue
        place = edge.stage, edge.side
        other = strictest.get(place)
        sign = 1.0 if edge.side == UNDER else -1.0
        if other is None or sign * edge.median > sign * other.median:
            strictest[place] = edge
    return tuple(strictest.values())
