"""The fasteners of one joint: where they sit, what load each takes, and in which order they go."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from preloadmc.joint.tightened import Inputs
from preloadmc.mechanics import interaction
from preloadmc.mechanics.tightening_order import Pass
from preloadmc.units import Array, FloatLike

# What the joint as a whole carries, as inputs.
AXIAL, TRANSVERSE = "group.axial", "group.transverse"
BENDING, TORSIONAL = "group.bending_moment", "group.torsional_moment"
GROUP_LOADS = (AXIAL, TRANSVERSE, BENDING, TORSIONAL)
TAKEN = "group.taken"
"""Preload [N] that a fastener loses as its neighbours are tightened; no input of its own, since it
follows from coefficients, order, passes and the preloads of all."""
INTERACTION, ALIKE, TYPICAL = "group.interaction", "group.alike", "group.typical"
"""What stands for the neighbours of a single fastener: the share of their preload that it loses,
how far they are like it, and the typical preload per unit of the setting."""


@dataclass(frozen=True, slots=True, eq=False)
class FastenerGroup:
    """The n fasteners of one joint; mm, rad.

    ``positions`` (n, 2) are those of the fasteners about their centroid, None where the case gives
    none; ``layout`` is "circle", "row", "positions" or "". ``axial`` (n,) is the share of an axial
    load that each takes and ``bending`` (n,) [1/mm] its axial load per bending moment;
    ``transverse`` (n, 2) and ``torsional`` (n, 2) [1/mm] are the components across the fastener,
    per load. ``direction`` (2,) is that of the transverse load. ``coefficients`` (n, n) are those
    of elastic interaction, all zero where none is stated, ``interaction_source`` says where they
    are from, and ``order_name`` what the order is called. ``passes`` are made in turn; ``stations``
    are equal fasteners, those with the same loads and the same place in everything.
    """

    fasteners: int
    layout: str
    positions: Array | None
    direction: Array
    axial: Array
    bending: Array
    transverse: Array
    torsional: Array
    coefficients: Array
    interaction_source: str
    passes: tuple[Pass, ...]
    order_name: str
    tools: int

    @property
    def interacts(self) -> bool:
        """Return whether tightening one fastener takes preload from others."""
        return bool(self.coefficients.any())

    @property
    def stations(self) -> tuple[tuple[int, ...], ...]:
        """Return the fasteners that carry equal loads, by their first one.

        Axial loads are equal where their shares are; transverse ones where their sizes are for
        every force and moment.
        """
        sizes = np.column_stack(
            [
                self.axial,
                self.bending,
                np.sum(self.transverse * self.transverse, axis=1),
                np.sum(self.transverse * self.torsional, axis=1),
                np.sum(self.torsional * self.torsional, axis=1),
            ]
        )
        scale = np.maximum(np.abs(sizes).max(axis=0), 1e-300)
        found: dict[tuple[float, ...], list[int]] = {}
        for fastener, row in enumerate(np.round(sizes / scale, 9) + 0.0):
            found.setdefault(tuple(row), []).append(fastener)
        return tuple(tuple(members) for members in found.values())

    def loads(self, x: Inputs, fastener: int | NDArray[np.intp]) -> dict[str, FloatLike]:
        """Return the loads on fasteners by the names of [load], where the joint carries such.

        Parameters
        ----------
        x : mapping of str to float or ndarray (n,)
            Inputs by name: forces [N] and moments [N·mm] on the joint.
        fastener : int or ndarray (n,) of int
            Which fastener, or that of each row.
        """
        found: dict[str, FloatLike] = {}
        if AXIAL in x or BENDING in x:
            found["load.axial"] = (
                x.get(AXIAL, 0.0) * self.axial[fastener]
                + x.get(BENDING, 0.0) * self.bending[fastener]
            )
        if TORSIONAL in x:
            force, moment = x.get(TRANSVERSE, 0.0), x[TORSIONAL]
            across = [
                force * self.transverse[fastener, side] + moment * self.torsional[fastener, side]
                for side in (0, 1)
            ]
            found["load.transverse"] = np.hypot(*across)
        elif TRANSVERSE in x:
            # Without a moment all go one way, so that the sign of the load is kept.
            found["load.transverse"] = x[TRANSVERSE] * (self.transverse[fastener] @ self.direction)
        return found


def taken_by_neighbours(setting: str, x: Inputs, preload: FloatLike) -> FloatLike | None:
    """Return the preload that its neighbours take from a fastener [N]; None where none do.

    Of a single fastener they are told by what is likely of them given its own preload: typical ones
    but for what all fasteners have in common, by linear regression.

    Parameters
    ----------
    setting : str
        Name of the input that is set.
    x : mapping of str to float or ndarray (n,)
        Inputs by name.
    preload : float or ndarray (n,)
        Preload of the fastener right after its own tightening [N].
    """
    if TAKEN in x:
        return x[TAKEN]
    if INTERACTION not in x:
        return None
    typical = x[TYPICAL] * x[setting]
    return x[INTERACTION] * (typical + x[ALIKE] * (preload - typical))


@lru_cache(maxsize=256)
def interaction_loss(group: FastenerGroup) -> Array:
    """Return the share of its preload that each fastener loses (n,), all tightened alike."""
    alike = np.ones((1, group.fasteners))
    lost: Array = 1.0 - after_all_passes(group, alike)[0]
    return lost


def after_all_passes(group: FastenerGroup, tightened: Array) -> Array:
    """Return the preloads (m, n) once the joint is tightened.

    Parameters
    ----------
    group : FastenerGroup
        Coefficients, order and passes.
    tightened : ndarray (m, n)
        Preload that each fastener takes at the full setting [N].
    """
    left: Array = after_each_pass(group, tightened)[-1]
    return left


def after_each_pass(group: FastenerGroup, tightened: Array) -> Array:
    """Return the preloads (passes, m, n) after each pass; `after_all_passes` says the rest."""
    return interaction.after_each_pass(tightened, group.coefficients, group.passes)
