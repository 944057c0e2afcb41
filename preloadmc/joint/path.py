"""The preload at each stage of a joint's life, by name."""

from __future__ import annotations

import numpy as np

from preloadmc.joint.life import State
from preloadmc.units import FloatLike

ALL_TIGHTENED = "all tightened"


def preload_path(state: State) -> dict[str, FloatLike]:
    """Return the preload held at each stage of life, in order, then the "residual" [N].

    Parameters
    ----------
    state : State
        As `joint.evaluate` returned it, on a block of n samples or at one point.

    Returns
    -------
    dict of str to float or ndarray (n,)
        "assembled", "all tightened" where neighbours take preload, every judged state by name, and
        "residual": the smallest over these states.
    """
    held = {judged.name: state.held(judged) for judged in state.judged}
    residual, *others = held.values()
    for preload in others:
        residual = np.minimum(residual, preload)
    tightened = {"assembled": state.assembled}
    if state.has_neighbours:
        tightened[ALL_TIGHTENED] = state.left_by_neighbours
    return {**tightened, **held, "residual": residual}
