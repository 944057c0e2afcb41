"""Where preload goes between assembly and the residual preload: the mean lost to each cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.joint import ALL_TIGHTENED
from preloadmc.joint.quantities import total_compliance
from preloadmc.mechanics.losses import embedding_force
from preloadmc.samples import Samples
from preloadmc.units import Array

SETTLED, RESIDUAL = "settled", "residual"
# A loss below this share of the assembled preload is that of rounding.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Loss:
    """Preload lost to one cause over the kept samples [N]; ``state`` is "" where none is meant."""

    cause: str
    state: str
    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class LossBudget:
    """Means over the kept samples [N]: the losses add up from assembled to residual preload.

    ``losses`` stand in the order of life. That of a service state is what it takes from the settled
    joint where it is the state that leaves a fastener least, so that no fastener loses twice.
    """

    assembled: float
    losses: tuple[Loss, ...]
    residual: float


def loss_budget(case: Case, drawn: Samples) -> LossBudget:
    """Return where preload goes, from the first samples of a run.

    Embedding takes its force, or all that is there where that is less; relaxation its share of what
    embedding has left (`mechanics.losses.preload_after_settling`). What the settled preload lacks
    beside these was lost as the fastener yielded in a state of service.

    Parameters
    ----------
    case : Case
        What was run.
    drawn : Samples
        Its samples; the kept ones are read.
    """
    kept = drawn.kept
    path = kept.path
    assembled, settled, residual = (path[name] for name in ("assembled", SETTLED, RESIDUAL))
    x = case.inputs(kept.z, drawn.columns, exact=False)
    force = embedding_force(x["settling.embedding"], total_compliance(x))
    held = path.get(ALL_TIGHTENED, assembled)
    embedded = np.minimum(force, held)
    relaxed = (held - embedded) * x["settling.relaxation"]
    yielded = held - embedded - relaxed - settled
    losses = [_loss("embedding", "", embedded), _loss("relaxation", "", relaxed)]
    if ALL_TIGHTENED in path:
        losses.insert(0, _loss("elastic interaction", "", assembled - held))
    mean = float(assembled.mean())
    if abs(float(yielded.mean())) > _ROUNDING * mean:
        losses.append(_loss("yield in service", "", yielded))
    taken = settled - residual
    left = np.ones(len(taken), dtype=bool)
    for state in case.joint.judged_states[1:]:
        least = left & (path[state] <= residual)
        left &= ~least
        lost = np.where(least, taken, 0.0)
        if case.joint.state_of(state) == state:
            losses.append(_loss("temperature", state, lost))
        elif lost.any():
            losses.append(_loss("in service", state, lost))
    return LossBudget(mean, tuple(losses), float(residual.mean()))


def _loss(cause: str, state: str, lost: Array) -> Loss:
    return Loss(cause, state, float(lost.mean()), float(lost.std()))
