"""Lots drawn from a suspect's own laws: how likely they make findings, and what they would show.

A mean over the same drawn lots and fasteners for any findings: rough where the findings say much
more than the laws, but quick, and equally rough for what was found and for what is simulated.
"""

from __future__ import annotations

import numpy as np
from numpy.random import Generator
from scipy.special import log_ndtr

from preloadmc.chance.dependence import partly_shared
from preloadmc.evidence import Count, Finding, Reading
from preloadmc.questions.infer.likelihood import (
    LEAST_SHARE,
    SuspectModel,
    as_block,
    count_log_likelihood,
    looseness,
    quantity,
    unitless_log_likelihood,
)
from preloadmc.questions.infer.many_fasteners import CELLS, FEW, LEAST, Key, Seen, key_of, seen_of
from preloadmc.questions.infer.true_values import TrueValues, mean_likelihoods
from preloadmc.units import Array

# Cells of a grid of true values at most: finer ones tell nothing of lots drawn roughly.
_MOST_CELLS = 2048

Findings = tuple[Finding, ...]


class DrawnLots:
    """Lots drawn from a suspect's laws, each with the same fasteners' own numbers.

    Parameters
    ----------
    model : SuspectModel
        Suspect and evidence.
    rng : Generator
        Draws lots and fasteners.
    lots, own : int
        How many lots, and fasteners of each.
    """

    def __init__(self, model: SuspectModel, rng: Generator, lots: int, own: int) -> None:
        self.model = model
        u = rng.standard_normal((lots, len(model.columns)))
        v = rng.standard_normal((own, len(model.columns)))
        self._plain = _Fasteners(model, u, v, np.full(own, 1.0 / own))
        # Among fasteners drawn plainly, rare looseness would have none.
        self._wide = (
            _Fasteners(model, u, *model.wide_own(rng, own)) if model.needs_lot else self._plain
        )

    def log_evidence(self) -> tuple[float, float]:
        """Return the log of the mean likelihood of the evidence over lots, and its standard error.

        Of a measured value the likelihood is that over its largest, so that it has no unit.
        """
        evidence = self.model.evidence
        of_lots = self.log_of_counts(evidence.counts)
        for own in self.log_of_fasteners(evidence.findings):
            of_lots = of_lots + own
        n = len(of_lots)
        mean = float(log_sum(of_lots) - np.log(n))
        if not np.isfinite(mean):
            return mean, 0.0
        return mean, float(np.exp(of_lots - mean).std(ddof=1) / np.sqrt(n))

    def log_of_counts(self, counts: tuple[Count, ...]) -> Array:
        """Return the log likelihood (lots,) of counts."""
        total = np.zeros(self._plain.shape[0])
        for count in counts:
            total += count_log_likelihood(count, self._wide.share_below(count.limit))
        return total

    def log_of_fasteners(self, findings: Findings) -> list[Array]:
        """Return the log likelihood (lots,) of all findings of each fastener together."""
        own = by_fastener(findings)
        alike: dict[tuple[Key, Seen], dict[str, Reading]] = {}
        found: dict[str, Array] = {}
        for name, each in own.items():
            read = [one for one in each if isinstance(one, Reading)]
            if len(own) <= FEW or len(read) != 1 or name in self.model.evidence.selected:
                found[name] = self._log_of_fastener(each)
            else:
                alike.setdefault((key_of(read[0]), seen_of(each)), {})[name] = read[0]
        for (_, seen), readings in alike.items():
            logs = self._plain.log_of_readings(tuple(readings.values()), seen)
            found.update(zip(readings, logs, strict=True))
        return [found[name] for name in own]

    def _log_of_fastener(self, findings: Findings) -> Array:
        if findings[0].fastener not in self.model.evidence.selected:
            return self._plain.log_of(findings, None)
        limit = self.model.loose_below
        return self._wide.log_of(findings, limit) - np.log(self._wide.share_below(limit))


class _Fasteners:
    """The same fasteners' own numbers v (own, d) in every lot u (lots, d), with their weights."""

    def __init__(self, model: SuspectModel, u: Array, v: Array, weights: Array) -> None:
        self.model = model
        self.shape = len(u), len(v)
        self.weights = weights
        with np.errstate(divide="ignore"):
            self.log_weights = np.log(weights)
        z = partly_shared(u[:, None, :], v, model.fractions)
        self.inspection = model.inspect(z.reshape(len(u) * len(v), u.shape[1]))
        # What is asked again for every inspection of the same kinds.
        self._truths: dict[tuple[bool | str | float, ...], Array] = {}
        self._shares: dict[float, Array] = {}
        self._by_value: dict[tuple[Key, Seen], tuple[TrueValues, Array]] = {}

    def log_of(self, findings: Findings, limit: float | None) -> Array:
        """Return the log likelihood (lots,) of the findings of one fastener.

        With a limit [N], also of being found loose by it.
        """
        both = self._of_history(findings, limit, missed=False)
        share = self.inspection.missed_share
        if share is not None:
            missed = self._of_history(findings, limit, missed=True)
            with np.errstate(divide="ignore"):
                chance = share.reshape(self.shape)
                both = np.logaddexp(np.log1p(-chance) + both, np.log(chance) + missed)
        return log_sum(both + self.log_weights)

    def log_of_readings(self, readings: tuple[Reading, ...], seen: Seen) -> Array:
        """Return the log likelihood (fasteners, lots) of one reading on each of many fasteners.

        The readings are of one quantity, and the same was ``seen`` on all.
        """
        key = key_of(readings[0]), seen
        if key not in self._by_value:
            self._by_value[key] = self._shared_out(readings[0], seen)
        grid, shares = self._by_value[key]
        logs: Array = np.log(
            np.maximum(mean_likelihoods(shares, grid.likelihoods(readings)), LEAST)
        ).T
        return logs

    def _shared_out(self, reading: Reading, seen: Seen) -> tuple[TrueValues, Array]:
        """Return the shares (lots, cells) of fasteners by what is read, and that show the same."""
        histories = (False,) if self.inspection.missed is None else (False, True)
        values = [self._truth(reading, missed=missed) for missed in histories]
        low = min(float(each.min()) for each in values)
        high = max(float(each.max()) for each in values)
        error = min(
            each.error
            for each in self.model.evidence.findings
            if isinstance(each, Reading) and key_of(each) == key_of(reading)
        )
        grid = TrueValues.between(low, high, max(error / CELLS, (high - low) / _MOST_CELLS))
        shares = np.zeros((self.shape[0], grid.cells))
        for missed, value in zip(histories, values, strict=True):
            weights = np.broadcast_to(self.weights, self.shape)
            if self.inspection.missed_share is not None:
                share = self.inspection.missed_share.reshape(self.shape)
                weights = weights * (share if missed else 1.0 - share)
            for each in seen:
                chance = self._truth(each, missed=missed)
                weights = weights * (chance if each.seen else 1.0 - chance)
            shares += grid.shares(value, weights)
        return grid, shares

    def share_below(self, limit: float) -> Array:
        """Return the share (lots,) of fasteners that are found below a preload [N]."""
        if limit not in self._shares:
            lots, own = self.shape
            chance = self.model.chance_below(self.inspection, limit, lots * own)
            share = chance.reshape(self.shape) @ self.weights
            self._shares[limit] = np.clip(share, LEAST_SHARE, 1.0 - LEAST_SHARE)
        return self._shares[limit]

    def _of_history(self, findings: Findings, limit: float | None, *, missed: bool) -> Array:
        total = np.zeros(self.shape)
        for finding in findings:
            total += unitless_log_likelihood(finding, self._truth(finding, missed=missed))
        if limit is not None:
            found = self.inspection.missed if missed else self.inspection.tightened
            assert found is not None, "asked for where some are missed"
            total += log_ndtr(looseness(as_block(found.preload, self.shape), limit))
        return total

    def _truth(self, finding: Finding, *, missed: bool) -> Array:
        """Return the quantity behind a finding (lots, own), kept for the next of its kind."""
        # What a reading is of does not depend on its error; what is seen does.
        of: tuple[str | float | None, ...]
        if isinstance(finding, Reading):
            of = (finding.input, finding.instrument)
        else:
            of = (finding.error, finding.grade)
        key = (missed, finding.kind, finding.after, *of)
        if key not in self._truths:
            found = self.inspection.missed if missed else self.inspection.tightened
            assert found is not None, "asked for where some are missed"
            values = quantity(finding, self.inspection.values, found)
            self._truths[key] = as_block(values, self.shape)
        return self._truths[key]


def log_sum(logs: Array) -> Array:
    """Return the log of the sum of exponentials along the last axis, minus infinity for none.

    Without the checks of `scipy.special.logsumexp`, which cost more than the sum.
    """
    top = np.maximum(logs.max(axis=-1, keepdims=True), -1e300)
    with np.errstate(divide="ignore"):
        total: Array = np.log(np.exp(logs - top).sum(axis=-1)) + top[..., 0]
    return total


def by_fastener(findings: Findings) -> dict[str, Findings]:
    """Return the findings of each fastener."""
    found: dict[str, list[Finding]] = {}
    for finding in findings:
        found.setdefault(finding.fastener, []).append(finding)
    return {fastener: tuple(own) for fastener, own in found.items()}
