"""Lots drawn from a suspect's own laws: how likely they make findings, and what they would show.

A mean over the same drawn lots and fasteners for any findings: rough where the findings say much
more than the laws, but quick, and equally rough for what was found and for what is simulated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from scipy.special import log_ndtr

from preloadmc.chance.dependence import partly_shared
from preloadmc.evidence import MEASURED, Count, Finding, Reading
from preloadmc.questions.infer.likelihood import (
    Inspection,
    SuspectModel,
    count_log_likelihood,
    finding_log_likelihood,
    looseness,
    quantity,
)
from preloadmc.units import Array

_LEAST_SHARE = 1e-16

Findings = tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Fasteners:
    """What would be found on the same own numbers in every lot: samples (lots · own,).

    ``log_weights`` (own,) are those of the own numbers, their exponentials adding to one.
    """

    inspection: Inspection
    log_weights: Array


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
        self.shape = lots, own
        self.u = rng.standard_normal((lots, len(model.columns)))
        plain = rng.standard_normal((own, len(model.columns))), np.full(own, 1.0 / own)
        self._plain = self._fasteners(*plain)
        self._wide = self._fasteners(*model.wide_own(rng, own)) if model.needs_lot else None
        self._truths: dict[tuple[bool | str | float, ...], Array] = {}

    def _fasteners(self, v: Array, weights: Array) -> _Fasteners:
        z = partly_shared(self.u[:, None, :], v, self.model.fractions)
        lots, own = self.shape
        inspection = self.model.inspect(z.reshape(lots * own, len(self.model.columns)))
        with np.errstate(divide="ignore"):
            return _Fasteners(inspection, np.log(weights))

    def log_evidence(self) -> tuple[float, float]:
        """Return the log of the mean likelihood of the evidence over lots, and its standard error.

        Of a measured value the likelihood is that over its largest, so that it has no unit.
        """
        evidence = self.model.evidence
        of_lots = self.log_of_counts(evidence.counts)
        for own in by_fastener(evidence.findings).values():
            of_lots = of_lots + self.log_of_fastener(own)
        n = len(of_lots)
        mean = float(log_sum(of_lots) - np.log(n))
        if not np.isfinite(mean):
            return mean, 0.0
        return mean, float(np.exp(of_lots - mean).std(ddof=1) / np.sqrt(n))

    def log_of_counts(self, counts: tuple[Count, ...]) -> Array:
        """Return the log likelihood (lots,) of counts."""
        total = np.zeros(self.shape[0])
        for count in counts:
            total += count_log_likelihood(count, np.exp(self._log_share(count.limit)))
        return total

    def log_of_fastener(self, findings: Findings) -> Array:
        """Return the log likelihood (lots,) of all findings of one fastener together."""
        selected = findings[0].fastener in self.model.evidence.selected
        fasteners = self._wide if selected and self._wide is not None else self._plain
        tightened = self._of_history(findings, selected=selected, missed=False)
        both = tightened
        share = fasteners.inspection.missed_share
        if share is not None:
            missed = self._of_history(findings, selected=selected, missed=True)
            with np.errstate(divide="ignore"):
                chance = share.reshape(self.shape)
                both = np.logaddexp(np.log1p(-chance) + tightened, np.log(chance) + missed)
        total = log_sum(both + fasteners.log_weights)
        if selected:
            total = total - self._log_share(self.model.loose_below)
        return total

    def _of_history(self, findings: Findings, *, selected: bool, missed: bool) -> Array:
        total = np.zeros(self.shape)
        for finding in findings:
            total += unitless(finding, self._truth(finding, selected=selected, missed=missed))
        if selected:
            preload = self._preload(selected=True, missed=missed)
            total += log_ndtr(looseness(preload, self.model.loose_below))
        return total

    def _truth(self, finding: Finding, *, selected: bool, missed: bool) -> Array:
        """Return the quantity behind a finding (lots, own), kept for the next of its kind."""
        # What a reading is of does not depend on its error; what is seen does.
        of: tuple[str | float, ...]
        if isinstance(finding, Reading):
            of = (finding.input, finding.instrument)
        else:
            of = (finding.error, finding.grade)
        key = (selected, missed, finding.kind, *of)
        if key not in self._truths:
            fasteners = self._wide if selected and self._wide is not None else self._plain
            inspection = fasteners.inspection
            found = inspection.missed if missed else inspection.tightened
            assert found is not None, "asked for where some are missed"
            values = quantity(finding, inspection.values, found)
            self._truths[key] = self._block(values)
        return self._truths[key]

    def _preload(self, *, selected: bool, missed: bool) -> Array:
        fasteners = self._wide if selected and self._wide is not None else self._plain
        inspection = fasteners.inspection
        found = inspection.missed if missed else inspection.tightened
        assert found is not None, "asked for where some are missed"
        return self._block(found.preload)

    def _block(self, values: object) -> Array:
        lots, own = self.shape
        return np.broadcast_to(np.asarray(values, dtype=float), (lots * own,)).reshape(lots, own)

    def _log_share(self, limit: float) -> Array:
        """Return the log share (lots,) of fasteners that are found below a preload [N]."""
        fasteners = self._wide or self._plain
        n = self.shape[0] * self.shape[1]
        chance = self.model.chance_below(fasteners.inspection, limit, n).reshape(self.shape)
        share: Array = chance @ np.exp(fasteners.log_weights)
        return np.log(np.clip(share, _LEAST_SHARE, 1.0 - _LEAST_SHARE))


def log_sum(logs: Array) -> Array:
    """Return the log of the sum of exponentials along the last axis, minus infinity for none.

    Without the checks of `scipy.special.logsumexp`, which cost more than the sum.
    """
    top = np.maximum(logs.max(axis=-1, keepdims=True), -1e300)
    with np.errstate(divide="ignore"):
        total: Array = np.log(np.exp(logs - top).sum(axis=-1)) + top[..., 0]
    return total


def unitless(finding: Finding, truth: Array) -> Array:
    """Return the log likelihood of a finding; of a measured value, over its largest."""
    if isinstance(finding, Reading) and finding.sense == MEASURED:
        off = (finding.value - truth) / finding.error
        return np.asarray(-0.5 * off * off)
    return finding_log_likelihood(finding, truth)


def log_largest(findings: Findings) -> float:
    """Return what `unitless` leaves out of the log likelihood of findings: that at their largest.

    A likelihood with units is that without, times this.
    """
    return -sum(
        math.log(finding.error * math.sqrt(2.0 * math.pi))
        for finding in findings
        if isinstance(finding, Reading) and finding.sense == MEASURED
    )


def by_fastener(findings: Findings) -> dict[str, Findings]:
    """Return the findings of each fastener."""
    found: dict[str, list[Finding]] = {}
    for finding in findings:
        found.setdefault(finding.fastener, []).append(finding)
    return {fastener: tuple(own) for fastener, own in found.items()}
