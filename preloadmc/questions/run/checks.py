"""What a check by torque in service reads, finds and misses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.joint import Action, evaluate
from preloadmc.limits import UNDER, margins
from preloadmc.over_time import service_of
from preloadmc.samples import Samples
from preloadmc.units import Array

# Ends of what good joints read.
AUDIT = (0.05, 0.5, 0.95)
# With fewer loose joints among the samples, nothing is said of those that a check misses.
_FEWEST = 20


@dataclass(frozen=True, slots=True)
class CheckFound:
    """A check by torque, from plain samples: good joints hold enough preload in every state then.

    ``good`` are the readings [N·mm] that 5, 50 and 95 % of good joints stay below; None where too
    few are good. ``turned`` is the share of all joints that turn before the pass limit,
    ``false_alarms`` that of good ones, ``passed`` that of loose ones which do not turn, None where
    too few are loose. ``loose`` is the share of loose ones.
    """

    action: Action
    good: tuple[float, float, float] | None
    loose: Probability
    turned: Probability
    false_alarms: Probability | None
    passed: Probability | None
    passed_at_low: Probability | None


def check_found(case: Case, drawn: Samples) -> Iterator[CheckFound]:
    """Yield what each check by torque in service finds.

    Parameters
    ----------
    case : Case
        With its service.
    drawn : Samples
        Its samples; the kept ones are read.
    """
    service = service_of(case.joint)
    z = drawn.kept.z
    x = case.inputs(z, drawn.columns)
    state = evaluate(case.joint, x)
    if not state.checks:
        return
    found = margins(case.joint, case.requirement, x, state)
    for check in state.checks:
        before = next(
            each for each in service.instants if each.action == check.action and not each.after
        )
        names = {before.named(each) for each in before.states}
        loose = np.zeros(len(z), dtype=bool)
        for margin in found:
            if UNDER in margin.limit.sides and margin.limit.state in names:
                loose |= np.broadcast_to(np.asarray(margin.values) < 0.0, len(z))
        reads = np.broadcast_to(check.reads, len(z))
        fails = np.broadcast_to(check.fails, len(z))
        good = _audit(reads[~loose])
        yield CheckFound(
            check.action,
            good,
            from_counts(int(loose.sum()), len(z)),
            from_counts(int(fails.sum()), len(z)),
            _share(fails, ~loose),
            _share(~fails, loose),
            None if good is None else _share(reads >= good[0], loose),
        )


def _audit(reads: Array) -> tuple[float, float, float] | None:
    if len(reads) < _FEWEST:
        return None
    low, middle, high = (float(each) for each in np.quantile(reads, AUDIT))
    return low, middle, high


def _share(happened: np.ndarray, among: np.ndarray) -> Probability | None:
    """Return how often something happened among some joints; None where these are too few."""
    n = int(among.sum())
    return from_counts(int((happened & among).sum()), n) if n >= _FEWEST else None
