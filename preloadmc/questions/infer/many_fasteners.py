"""Many fasteners at once: what their findings say of the lot, own numbers summed over points.

Given the lot, the findings of a fastener are as likely as their mean over its own numbers. Where a
fastener has one reading, that mean is a sum over points that lie evenly along the direction in
which its quantity grows: the same points for all fasteners whose quantity is the same, since their
laws are. A run draws points of its own, so that what they miss is in the scatter between runs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr

from preloadmc.chance.dependence import partly_shared
from preloadmc.estimates.posterior import CommonLikelihood
from preloadmc.estimates.sobol_points import sobol_sequence
from preloadmc.evidence import Evidence, Finding, Observation, Reading
from preloadmc.questions.infer.likelihood import (
    REACH,
    Inspection,
    SuspectModel,
    as_block,
    log_largest,
    quantity,
    turned,
)
from preloadmc.questions.infer.true_values import TrueValues, mean_likelihoods
from preloadmc.units import Array, FloatLike

# Up to so many fasteners each is followed by itself, which takes no longer.
FEW = 16
# Points of a sum, a power of two: at least so many, and half as many as fasteners, or what the sum
# misses adds up over them; and enough along the direction for each measuring error. A reading so
# much finer than its scatter that more would be needed is followed by itself.
_FEWEST_POINTS, _MOST_POINTS = 256, 512
_POINTS_AN_ERROR = 4.0
# The farther out along the direction, the wider apart the points: chosen on repeated runs for the
# least scatter between them.
_BENT = 3.0
# Draws behind a direction.
_DIRECTION_DRAWS = 2048
# Cells of the grid of true values for each measuring error, and how far it reaches beyond what was
# read: there the density of a normal error is 1e-196, and any farther value counts as that.
CELLS, _BEYOND = 4.0, 30.0
_MOST_CELLS = 8192
LEAST = 1e-300
# Samples followed through the joint at once: what they need stays in the processor's cache.
_BLOCK = 8192

Key = tuple[str, str, str, float | None]
Seen = tuple[Observation, ...]


class ManyFasteners:
    """The fasteners of an investigation that need not be followed one by one, under one suspect.

    Parameters
    ----------
    model : SuspectModel
        The suspect, and all evidence.
    rng : Generator
        Draws the points.
    """

    def __init__(self, model: SuspectModel, rng: Generator) -> None:
        self.model = model
        self._groups: list[_Group] = []
        if len(model.evidence.fasteners) > FEW:
            for key, findings in _by_quantity(model.evidence).items():
                group = _Group.of(model, key, findings, rng)
                if group is not None:
                    self._groups.append(group)

    @property
    def names(self) -> frozenset[str]:
        """Return which fasteners they are."""
        return frozenset(name for group in self._groups for name in group.names)

    @property
    def others(self) -> Evidence:
        """Return the evidence without theirs."""
        evidence = self.model.evidence
        names = self.names
        return replace(
            evidence, findings=tuple(f for f in evidence.findings if f.fastener not in names)
        )

    def beside(self, lot: CommonLikelihood) -> CommonLikelihood:
        """Return the likelihood of the common numbers with that of these fasteners beside it."""

        def prepare(u: Array) -> Array:
            return np.column_stack([self.log_likelihood(u), lot.prepare(u)])

        def at(kept: Array, heat: float) -> Array:
            total: Array = heat * kept[:, 0] + lot.at(kept[:, 1:], heat)
            return total

        return CommonLikelihood(prepare, at, is_dear=True)

    def log_likelihood(self, u: Array) -> Array:
        """Return the log likelihood (n,) of all their findings for lots with numbers u (n, d)."""
        total = np.zeros(len(u))
        for group in self._groups:
            total += group.log_likelihood(self.model, u)
        return total

    def draw(self, names: Iterable[str], u: Array, rng: Generator) -> dict[str, Drawn]:
        """Draw fasteners of lots with numbers u (n, d) by what was found on each of them."""
        wanted = set(names)
        drawn: dict[str, Drawn] = {}
        for group in self._groups:
            of_group = [name for name in group.names if name in wanted]
            if of_group:
                drawn.update(group.draw(self.model, of_group, u, rng))
        return drawn


@dataclass(frozen=True, slots=True)
class Drawn:
    """A fastener drawn in each of n lots: its numbers z (n, d), and whether it was missed."""

    z: Array
    is_missed: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Points:
    """Points v (points, d) over own numbers with weights, of fasteners tightened or missed."""

    v: Array
    weights: Array
    missed: bool

    def inspected(self, model: SuspectModel, u: Array) -> tuple[Inspection, Array]:
        """Return what is found at every point of every lot, and the weights (lots, points)."""
        z = partly_shared(u[:, None, :], self.v, model.fractions)
        inspection = model.inspect(z.reshape(-1, z.shape[2]))
        weights = np.broadcast_to(self.weights, z.shape[:2])
        if inspection.missed_share is not None:
            share = inspection.missed_share.reshape(z.shape[:2])
            weights = weights * (share if self.missed else 1.0 - share)
        return inspection, weights


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Fasteners of which the same was seen: the density of each reading (cells, fasteners)."""

    seen: Seen
    names: tuple[str, ...]
    density: Array


@dataclass(frozen=True, slots=True)
class _Group:
    """Fasteners with a reading of the same quantity: a grid of its values, and their points."""

    reading: Reading | None
    grid: TrueValues
    points: tuple[_Points, ...]
    patterns: tuple[_Pattern, ...]
    log_largest: float

    @property
    def names(self) -> tuple[str, ...]:
        """Return which fasteners they are."""
        return tuple(name for pattern in self.patterns for name in pattern.names)

    @classmethod
    def of(
        cls,
        model: SuspectModel,
        key: Key | None,
        findings: dict[str, list[Finding]],
        rng: Generator,
    ) -> _Group | None:
        """Lay out points and grid for the findings by fastener, if the points would be enough."""
        readings = {
            name: next((f for f in own if isinstance(f, Reading)), None)
            for name, own in findings.items()
        }
        first = next(iter(readings.values()))
        grid, error = TrueValues(0.0, 1.0, 2), math.inf
        if first is not None:
            read = [each for each in readings.values() if each is not None]
            error = min(each.error for each in read)
            values = [each.value for each in read]
            reach = _BEYOND * max(each.error for each in read)
            grid = TrueValues.between(min(values) - reach, max(values) + reach, error / CELLS)
            if grid.cells > _MOST_CELLS:
                return None
        points = []
        typical = model.inspect(np.zeros((1, len(model.columns))))
        for missed in (False,) if typical.missed is None else (False, True):
            laid = _laid_out(model, first, error, rng, missed=missed)
            if laid is None:
                return None
            points.append(laid)
        patterns: dict[Seen, list[str]] = {}
        for name, own in findings.items():
            patterns.setdefault(seen_of(own), []).append(name)
        return cls(
            first,
            grid,
            tuple(points),
            tuple(
                _Pattern(
                    seen,
                    tuple(names),
                    grid.likelihoods([each for name in names if (each := readings[name])])
                    if first is not None
                    else np.ones((grid.cells, len(names))),
                )
                for seen, names in patterns.items()
            ),
            math.fsum(log_largest(each) for own in findings.values() for each in own),
        )

    def log_likelihood(self, model: SuspectModel, u: Array) -> Array:
        """Return the log likelihood (n,) of the findings of all for lots with numbers u (n, d)."""
        lots = max(1, _BLOCK // max(len(points.v) for points in self.points))
        parts = [self._of_lots(model, u[i : i + lots]) for i in range(0, len(u), lots)]
        return np.concatenate(parts) if parts else np.zeros(0)

    def _of_lots(self, model: SuspectModel, u: Array) -> Array:
        found = [(points, *points.inspected(model, u)) for points in self.points]
        total = np.full(len(u), self.log_largest)
        for pattern in self.patterns:
            shares = np.zeros((len(u), self.grid.cells))
            for points, inspection, weights in found:
                values = self._values(points, inspection, weights.shape)
                shares += self.grid.shares(
                    values, _weighted(points, inspection, weights, pattern.seen)
                )
            total += np.log(np.maximum(mean_likelihoods(shares, pattern.density), LEAST)).sum(
                axis=1
            )
        return total

    def draw(
        self, model: SuspectModel, names: list[str], u: Array, rng: Generator
    ) -> dict[str, Drawn]:
        """Draw some of the fasteners in lots with numbers u (n, d)."""
        found = [(points, *points.inspected(model, u)) for points in self.points]
        own = np.concatenate([points.v for points in self.points])
        are_missed = np.repeat([p.missed for p in self.points], [len(p.v) for p in self.points])
        drawn: dict[str, Drawn] = {}
        for pattern in self.patterns:
            of_pattern = [name for name in pattern.names if name in names]
            if not of_pattern:
                continue
            weight = np.concatenate([_weighted(*each, pattern.seen) for each in found], axis=1)
            values = [self._values(points, each, w.shape) for points, each, w in found]
            places = np.rint(self.grid.places(np.concatenate(values, axis=1))).astype(np.intp)
            for name in of_pattern:
                density = pattern.density[:, pattern.names.index(name)]
                steps = np.cumsum(weight * density[places], axis=1)
                # Where no point comes near what was read, the last stands in: no such lot is left.
                at = (steps <= rng.random((len(u), 1)) * steps[:, -1:]).sum(axis=1)
                at = np.minimum(at, len(own) - 1)
                drawn[name] = Drawn(partly_shared(u, own[at], model.fractions), are_missed[at])
        return drawn

    def _values(self, points: _Points, inspection: Inspection, shape: tuple[int, ...]) -> Array:
        """Return the true values (lots, points) of what is read, zero without a reading."""
        if self.reading is None:
            return np.zeros(shape)
        return as_block(_shown(self.reading, inspection, missed=points.missed), shape)


def _by_quantity(evidence: Evidence) -> dict[Key | None, dict[str, list[Finding]]]:
    """Return the findings by fastener of all with at most one reading, by what it is of.

    Those that were looked at because loose are left out: what their looseness says of the own
    numbers has a direction of its own.
    """
    findings: dict[str, list[Finding]] = {}
    for finding in evidence.findings:
        findings.setdefault(finding.fastener, []).append(finding)
    groups: dict[Key | None, dict[str, list[Finding]]] = {}
    for name, own in findings.items():
        read = [each for each in own if isinstance(each, Reading)]
        if name in evidence.selected or len(read) > 1:
            continue
        key = key_of(read[0]) if read else None
        groups.setdefault(key, {})[name] = own
    return groups


def key_of(reading: Reading) -> Key:
    """Return what tells the quantity that is read from others."""
    return reading.kind, reading.input, reading.instrument, reading.after


def seen_of(findings: Iterable[Finding]) -> Seen:
    """Return what was seen on a fastener, the same for all of which the same was seen."""
    seen = (replace(f, fastener="", words="") for f in findings if isinstance(f, Observation))
    return tuple(sorted(seen, key=repr))


def _shown(reading: Reading | None, inspection: Inspection, *, missed: bool) -> FloatLike:
    """Return the quantity that is read; without a reading the preload."""
    found = inspection.missed if missed else inspection.tightened
    assert found is not None, "asked for where some are missed"
    return found.preload if reading is None else quantity(reading, inspection.values, found)


def _weighted(points: _Points, inspection: Inspection, weights: Array, seen: Seen) -> Array:
    """Return the weights (lots, points) times the chance of what is seen."""
    found = inspection.missed if points.missed else inspection.tightened
    assert found is not None, "asked for where some are missed"
    for each in seen:
        chance = as_block(quantity(each, inspection.values, found), weights.shape)
        weights = np.multiply(weights, chance if each.seen else 1.0 - chance)
    return weights


def _laid_out(
    model: SuspectModel, reading: Reading | None, error: float, rng: Generator, *, missed: bool
) -> _Points | None:
    """Return points along the direction in which a quantity grows, None where too few would do."""
    d = len(model.columns)
    if d == 0:
        return _Points(np.zeros((1, 0)), np.ones(1), missed)
    u, v = np.split(sobol_sequence(2 * d, rng)(_DIRECTION_DRAWS), 2, axis=1)
    inspection = model.inspect(partly_shared(u, v, model.fractions))
    shown = as_block(_shown(reading, inspection, missed=missed), (_DIRECTION_DRAWS,))
    slope = (v * (model.fractions < 1.0)).T @ (shown - shown.mean()) / _DIRECTION_DRAWS
    scatter = float(np.linalg.norm(slope))
    wanted = _POINTS_AN_ERROR * 2.0 * REACH * scatter / error
    if wanted > _MOST_POINTS:
        return None
    wanted = max(wanted, _FEWEST_POINTS, min(_MOST_POINTS, 0.5 * len(model.evidence.fasteners)))
    count = 2 ** math.ceil(math.log2(wanted))
    direction = slope / scatter if scatter > 0.0 else np.eye(d)[0]
    v = sobol_sequence(d, rng)(count)
    cells = (np.floor(count * ndtr(v[:, 0])) + rng.random()) / count
    bent = _BENT * (2.0 * cells - 1.0)
    along = REACH * np.sinh(bent) / math.sinh(_BENT)
    v = turned(v, direction)
    v += (along - v @ direction)[:, None] * direction
    weights = np.exp(-0.5 * along**2) * np.cosh(bent)
    return _Points(v, weights / weights.sum(), missed)
