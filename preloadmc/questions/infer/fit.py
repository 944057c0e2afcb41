"""Predicted against found, finding by finding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import bdtr, ndtr

from preloadmc.chance.dependence import partly_shared
from preloadmc.evidence import BELOW, MEASURED, Count, Finding, Reading
from preloadmc.questions.infer.likelihood import Inspection, SuspectModel
from preloadmc.questions.infer.particles import Pool
from preloadmc.units import Array

# New fasteners behind a prediction: its 5 and 95 % are known to about 1 % of the draws.
DRAWS = 4096


@dataclass(frozen=True, slots=True)
class FindingFit:
    """One finding beside what a suspect predicts of another fastener of the same lot.

    ``p05``, ``p50`` and ``p95`` are the 5, 50 and 95 % of a predicted reading or count in the
    finding's own unit; for a finding of yes or no, and for a censored one, they are the predicted
    chance of what was found, all three alike. ``position`` is how rare a finding as far out is by
    the posterior (two-sided), ``prior_position`` by the suspect's own laws alone.
    """

    finding: Finding | Count
    p05: float
    p50: float
    p95: float
    position: float
    prior_position: float

    @property
    def is_chance(self) -> bool:
        """Return whether a chance was predicted, not a value."""
        finding = self.finding
        if isinstance(finding, Count):
            return False
        return not isinstance(finding, Reading) or finding.sense != MEASURED


def fit_of(pool: Pool, rng: Generator) -> tuple[FindingFit, ...]:
    """Return the fit of every finding and count to one suspect."""
    model = pool.model
    evidence = model.evidence
    draws = [_NewFasteners.of(model, pool.common, rng), _NewFasteners.of(model, None, rng)]
    selected = [each.because_loose() for each in draws] if evidence.selected else draws
    fits: list[FindingFit] = []
    for finding in evidence.findings:
        pair = selected if finding.fastener in evidence.selected else draws
        fits.append(_fit(finding, pair[0], pair[1], rng))
    fits.extend(_count_fit(count, draws[0], draws[1], rng) for count in evidence.counts)
    return tuple(fits)


@dataclass(frozen=True, slots=True)
class _NewFasteners:
    """New fasteners: what would be found, with weights that add to one."""

    model: SuspectModel
    common: Array
    inspection: Inspection
    is_missed: NDArray[np.bool_]
    weights: Array

    @classmethod
    def of(cls, model: SuspectModel, common: Array | None, rng: Generator) -> _NewFasteners:
        """Draw new fasteners of the lots with numbers ``common``; of any lot without."""
        d = len(model.columns)
        if common is None:
            u = rng.standard_normal((DRAWS, d))
        else:
            u = common[rng.integers(len(common), size=DRAWS)]
        if model.evidence.selected:
            v, weights = model.wide_own(rng, DRAWS)
        else:
            v, weights = rng.standard_normal((DRAWS, d)), np.full(DRAWS, 1.0 / DRAWS)
        return cls._inspected(model, u, v, weights, rng)

    @classmethod
    def _inspected(
        cls, model: SuspectModel, u: Array, v: Array, weights: Array, rng: Generator
    ) -> _NewFasteners:
        inspection = model.inspect(partly_shared(u, v, model.fractions))
        return cls(model, u, inspection, inspection.draw_missed(len(u), rng), weights)

    def because_loose(self) -> _NewFasteners:
        """Return the same fasteners weighted by the chance that they are found loose."""
        loose = self.model.chance_below(self.inspection, self.model.loose_below, len(self.weights))
        weights = self.weights * np.maximum(loose, 1e-300)
        return _NewFasteners(
            self.model, self.common, self.inspection, self.is_missed, weights / weights.sum()
        )

    def truth(self, finding: Finding) -> Array:
        """Return the quantity behind a finding (n,)."""
        return self.inspection.truth(finding, self.is_missed)


def _fit(
    finding: Finding, draws: _NewFasteners, prior: _NewFasteners, rng: Generator
) -> FindingFit:
    truth = draws.truth(finding)
    if not isinstance(finding, Reading) or finding.sense != MEASURED:
        chance = float(draws.weights @ _chance(finding, truth))
        before = float(prior.weights @ _chance(finding, prior.truth(finding)))
        return FindingFit(finding, chance, chance, chance, chance, before)
    read = truth + finding.error * rng.standard_normal(len(truth))
    low, median, high = _quantiles(read, draws.weights)
    return FindingFit(
        finding,
        low,
        median,
        high,
        _two_sided(float(draws.weights @ _below(finding, truth))),
        _two_sided(float(prior.weights @ _below(finding, prior.truth(finding)))),
    )


def _below(finding: Reading, truth: Array) -> Array:
    below: Array = ndtr((finding.value - truth) / finding.error)
    return below


def _chance(finding: Finding, truth: Array) -> Array:
    """Return the chance (n,) of what was found."""
    if isinstance(finding, Reading):
        below = _below(finding, truth)
        return below if finding.sense == BELOW else 1.0 - below
    return truth if finding.seen else 1.0 - truth


def _count_fit(
    count: Count, draws: _NewFasteners, prior: _NewFasteners, rng: Generator
) -> FindingFit:
    positions = []
    drawn = np.zeros(1)
    for part in (draws, prior):
        few = part.common[:: max(1, len(part.common) // 512)]
        (share,) = part.model.loose_shares(few, [count.limit])
        k, n = float(count.loose), count.inspected
        at_most = float(bdtr(k, n, share).mean())
        at_least = 1.0 - float(bdtr(k - 1.0, n, share).mean()) if count.loose else 1.0
        positions.append(min(1.0, 2.0 * min(at_most, at_least)))
        if part is draws:
            drawn = rng.binomial(n, share).astype(float)
    low, median, high = np.quantile(drawn, [0.05, 0.5, 0.95])
    return FindingFit(count, float(low), float(median), float(high), positions[0], positions[1])


def _two_sided(below: float) -> float:
    return min(1.0, 2.0 * min(below, 1.0 - below))


def _quantiles(values: Array, weights: Array) -> tuple[float, float, float]:
    """Return the 5, 50 and 95 % of weighted values."""
    order = np.argsort(values)
    shares = np.cumsum(weights[order])
    places = np.searchsorted(shares, (0.05, 0.5, 0.95))
    low, median, high = values[order][np.minimum(places, len(values) - 1)]
    return float(low), float(median), float(high)
