"""Would a suspect make findings as odd as these? Asked of inspections simulated under it.

Lots are drawn from the suspect's own laws, before anything is known, so that a true suspect fails
as often as the level says and no oftener: findings are not used twice. What was found and what is
simulated is summed up by the same figures; each is held against its spread, the one farthest out
counts, and the share of simulated inspections with any figure as far out is the chance (the maximum
over several statistics, calibrated by simulation: A. C. Davison, D. V. Hinkley, *Bootstrap Methods
and their Application*, Cambridge 1997, section 4.4).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from preloadmc.evidence import MEASURED, Finding, Reading
from preloadmc.questions.infer.drawn_lots import DrawnLots, log_sum
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.simulated import Inspected, simulated
from preloadmc.units import Array

# Inspections simulated: a chance of 3 % is then known to about 1 %.
SIMULATED = 199
# A suspect with a smaller chance does not explain the findings: so often a true one is refused.
RARE = 0.03
# Lots and fasteners behind the likelihood of an inspection: the same for all, so that its errors
# cost power, not the level.
_LOTS, _OWN = 96, 64
# How far out a figure lies is told in distances from the median to this quantile on either side.
_OUTER = 0.05
# Readings from which on their spread says something.
_FEWEST_FOR_SPREAD = 3


@dataclass(frozen=True, slots=True)
class Oddity:
    """The figure of the findings that lies farthest out under a suspect.

    ``kind`` is that of the findings, empty where it is about all together; ``figure`` what was
    taken of them; ``p05`` and ``p95`` are the 5 and 95 % of what the suspect makes of it, in the
    kind's internal unit.
    """

    kind: str
    figure: str
    value: float
    p05: float
    p95: float


@dataclass(frozen=True, slots=True)
class FitCheck:
    """How often a suspect makes findings as odd as those found.

    ``chance_of_such_findings`` is the share of inspections simulated under it that are at least as
    odd, those found among them; ``oddest`` what lies farthest out.
    """

    chance_of_such_findings: float
    oddest: Oddity

    @property
    def explains(self) -> bool:
        """Return whether the suspect makes such findings often enough."""
        return self.chance_of_such_findings >= RARE


TOGETHER, ONE_FASTENER = "likelihood of all findings", "likelihood of the oddest fastener"
MEAN, SPREAD, OFF_SCALE, SEEN, LOOSE = "mean", "spread", "not readable", "seen", "loose"


def check_fit(model: SuspectModel, rng: Generator) -> FitCheck:
    """Hold what was found against inspections simulated under a suspect."""
    lots = DrawnLots(model, rng, _LOTS, _OWN)
    evidence = model.evidence
    found: Inspected = evidence.findings, evidence.counts
    inspected = [found, *simulated(model, SIMULATED, rng)]
    figures = [_figures(each, lots) for each in inspected]
    names = tuple(figures[0])
    values = np.array([[each[name] for name in names] for each in figures])
    far = np.column_stack(
        [_far_out(column, figure) for column, (_, figure) in zip(values.T, names, strict=True)]
    )
    farthest = far.max(axis=1)
    chance = float(np.mean(farthest >= farthest[0]))
    place = int(np.argmax(far[0]))
    kind, figure = names[place]
    low, high = np.quantile(values[1:, place], [0.05, 0.95])
    return FitCheck(chance, Oddity(kind, figure, float(values[0, place]), float(low), float(high)))


def _figures(inspected: Inspected, lots: DrawnLots) -> dict[tuple[str, str], float]:
    """Return what an inspection is summed up by, by kind of finding and figure."""
    findings, counts = inspected
    found: dict[tuple[str, str], float] = {}
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.kind, finding.input), []).append(finding)
    for (kind, _), group in groups.items():
        # One kind may have several inputs, such as temperatures of states: the last tells apart.
        found.update({(kind, figure): value for figure, value in _of_kind(group).items()})
    for place, count in enumerate(counts):
        found["loose count", f"{LOOSE} {place + 1}"] = float(count.loose)
    of_lots = lots.log_of_counts(counts)
    own = lots.log_of_fasteners(findings)
    for each in own:
        of_lots = of_lots + each
    found["", TOGETHER] = _log_mean(of_lots)
    if len(own) > 1:
        found["", ONE_FASTENER] = float(np.min(log_sum(np.array(own)))) - math.log(len(of_lots))
    return found


def _of_kind(group: list[Finding]) -> dict[str, float]:
    readings = [each for each in group if isinstance(each, Reading)]
    if not readings:
        return {SEEN: float(sum(not isinstance(each, Reading) and each.seen for each in group))}
    values = [each.value for each in readings]
    figures = {
        MEAN: float(np.mean(values)),
        OFF_SCALE: float(sum(each.sense != MEASURED for each in readings)),
    }
    if len(values) >= _FEWEST_FOR_SPREAD:
        figures[SPREAD] = float(np.std(values))
    return figures


def _far_out(values: Array, figure: str) -> Array:
    """Return how far each value lies from the median, in distances to the outer quantile there.

    A likelihood is odd where it is low alone.
    """
    low, middle, high = np.quantile(values, [_OUTER, 0.5, 1.0 - _OUTER])
    least = 1e-9 * (1.0 + abs(middle))
    below: Array = (middle - values) / max(middle - low, least)
    if figure in (TOGETHER, ONE_FASTENER):
        return below
    above: Array = (values - middle) / max(high - middle, least)
    return np.maximum(below, above)


def _log_mean(logs: Array) -> float:
    return float(log_sum(logs) - np.log(len(logs)))
