"""Plain samples of whole joints: counts of misses, and preloads by fastener after each pass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preloadmc.chance.streams import named_rng
from preloadmc.joint import after_each_pass
from preloadmc.units import Array
from preloadmc.whole_joint import WholeJoint

# Fasteners sampled in all: quantiles at 1 and 99 % are then even to the eye, in a second or less.
_FASTENERS = 2**18
_FEWEST_JOINTS = 2**12
_MOST_FASTENERS = 2**19
_NONE = 4.0  # samples times a probability at which none missed tells that it is below: 3.69
_BLOCK = 2**16


@dataclass(frozen=True, slots=True, eq=False)
class JointSamples:
    """Plain samples of m joints of n fasteners.

    ``passes`` (passes, m, n) are the preloads [N] after each pass of tightening, ``residual``
    (m, n) the smallest of each fastener over the judged states. ``by_fastener`` holds the misses of
    each fastener (n,) by event, ``by_joint`` how many joints have k of them or more, (n + 1,) from
    none on; ``of_joint`` the joints that miss what is asked of all fasteners together.
    """

    joints: int
    passes: Array
    residual: Array
    by_fastener: dict[str, NDArray[np.int64]]
    by_joint: dict[str, NDArray[np.int64]]
    of_joint: dict[str, int]

    @property
    def spreads(self) -> Array:
        """Return largest less smallest preload over the mean, (passes, m), after each pass."""
        mean = self.passes.mean(axis=2)
        spread: Array = np.ptp(self.passes, axis=2) / np.maximum(mean, 1e-300)
        return spread


def _wanted(whole: WholeJoint) -> int:
    """Return the joints that tell what is allowed of one where none misses, within bounds."""
    asked = min(whole.group.allowed.values(), default=1.0)
    return min(math.ceil(_NONE / asked), _MOST_FASTENERS // whole.n)


def sample_joints(
    whole: WholeJoint, seed: int, of_fasteners: Sequence[str], of_joint: Sequence[str]
) -> JointSamples:
    """Sample whole joints plainly.

    Parameters
    ----------
    whole : WholeJoint
        The joint.
    seed : int
        Of the samples.
    of_fasteners : sequence of str
        Events of a fastener: `engine.OUTCOMES` and limits by name.
    of_joint : sequence of str
        Events of all fasteners together: "total_clamp", "slip_capacity".
    """
    n = whole.n
    joints = max(_FASTENERS // n, _FEWEST_JOINTS, _wanted(whole))
    rng = named_rng(seed, "whole joints")
    by_fastener = {event: np.zeros(n, dtype=np.int64) for event in of_fasteners}
    counts = {event: np.zeros(n + 1, dtype=np.int64) for event in of_fasteners}
    missed = dict.fromkeys(of_joint, 0)
    passes, residual = [], []
    step = max(_BLOCK // n, 1)
    for first in range(0, joints, step):
        m = min(step, joints - first)
        made = whole.made(*whole.unmixed(rng.standard_normal((m, whole.numbers))))
        for event in of_fasteners:
            misses = whole.worst_of(made, event) < 0.0
            by_fastener[event] += misses.sum(axis=0)
            counts[event] += np.bincount(misses.sum(axis=1), minlength=n + 1)
        for name in of_joint:
            missed[name] += int(np.count_nonzero(whole.together_of(made, name).min(axis=1) < 0.0))
        tightened = whole.by_fastener(made, lambda each: each.state.assembly.preload)
        passes.append(after_each_pass(whole.group.facts, tightened))
        residual.append(whole.by_fastener(made, lambda each: each.state.residual))
    return JointSamples(
        joints,
        np.concatenate(passes, axis=1),
        np.concatenate(residual),
        by_fastener,
        # From exactly so many to at least so many.
        {event: np.cumsum(found[::-1])[::-1] for event, found in counts.items()},
        missed,
    )
