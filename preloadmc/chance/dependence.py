"""Dependence between quantities: a Gaussian copula on named columns of standard normal numbers.

A correlation is that of the standard normals (R. B. Nelsen, *An Introduction to Copulas*, 2nd ed.,
Springer 2006, section 2.3). What it makes of the quantities themselves depends on their laws.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import scipy
from numpy.polynomial.hermite_e import hermegauss

from preloadmc.chance.law import Law, require
from preloadmc.chance.tabulated_law import Tabulated
from preloadmc.units import Array

_TERMS = 128


@dataclass(frozen=True, slots=True, eq=False)
class Dependence:
    """Correlated columns, by index, and the Cholesky factor that makes them so."""

    names: tuple[str, ...]
    columns: tuple[int, ...]
    matrix: Array

    def __post_init__(self) -> None:
        try:
            np.linalg.cholesky(self.matrix)
        except np.linalg.LinAlgError:
            given = ", ".join(self.names[column] for column in self.columns)
            raise ValueError(
                f"the correlations of {given} contradict each other: together they must form a "
                "positive definite matrix"
            ) from None

    @classmethod
    def from_pairs(cls, names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> Dependence:
        """Dependence of the named columns from the correlation of each correlated pair.

        Pairs that are not given, and pairs with correlation zero, are independent.
        """
        index = {name: column for column, name in enumerate(names)}
        full = np.eye(len(names))
        for (a, b), rho in pairs.items():
            for name in (a, b):
                if name not in index:
                    raise ValueError(f"{name} is correlated but is not an uncertain quantity")
            if a == b:
                raise ValueError(f"{a} is correlated with itself")
            require(-1.0 < rho < 1.0, f"correlation of {a} and {b}", rho, "between -1 and 1")
            i, j = index[a], index[b]
            if full[i, j] not in (0.0, rho):
                raise ValueError(f"correlation of {a} and {b} is given twice and differs")
            full[i, j] = full[j, i] = rho
        columns = np.flatnonzero(np.count_nonzero(full, axis=1) > 1)
        matrix = full[np.ix_(columns, columns)]
        return cls(tuple(names), tuple(int(column) for column in columns), matrix)

    @property
    def groups(self) -> tuple[tuple[str, ...], ...]:
        """Names that hang together through correlations, each group in column order."""
        reached = self.matrix != 0.0
        for _ in self.columns:
            reached = reached @ reached
        members = {tuple(np.flatnonzero(row)): None for row in reached}
        return tuple(tuple(self.names[self.columns[i]] for i in group) for group in members)

    def mixed(self, z: Array) -> dict[str, Array]:
        """Return the correlated columns of the block (n, d), (n,) by name, mixed by the factor.

        The first of a group is the column itself. Independent columns are not among them.
        """
        factor = np.linalg.cholesky(self.matrix)
        mixed = {}
        for i, column in enumerate(self.columns):
            values = z[:, column]
            earlier = np.flatnonzero(factor[i, :i])
            if earlier.size:
                values = factor[i, i] * values
                for j in earlier:
                    values += factor[i, j] * z[:, self.columns[j]]
            mixed[self.names[column]] = values
        return mixed

    def unmixed(self, u: Array) -> Array:
        """Return the block z (n, d) whose mixed columns, and independent ones, are u (n, d)."""
        z = u.copy()
        columns = list(self.columns)
        if columns:
            factor = np.linalg.cholesky(self.matrix)
            z[:, columns] = np.linalg.solve(factor, u[:, columns].T).T
        return z


def partly_shared(shared: Array, own: Array, fractions: Array) -> Array:
    """Return standard normal numbers of which a part is shared: ``sqrt(f) u + sqrt(1 - f) v``.

    Two fasteners with the same shared numbers and own ones apart are correlated by ``f`` in each
    column.

    Parameters
    ----------
    shared, own : ndarray (..., d)
        Independent standard normal numbers u and v; their other axes broadcast, so that many
        fasteners may stand against one set of shared numbers.
    fractions : ndarray (d,)
        Share f of the variance that is shared, from 0 to 1, of each column.

    Returns
    -------
    ndarray (..., d)

    Examples
    --------
    >>> partly_shared(np.array([[1.0, 1.0]]), np.array([[2.0, 2.0]]), np.array([1.0, 0.0]))
    array([[1., 2.]])
    """
    mixed: Array = shared * np.sqrt(fractions) + own * np.sqrt(1.0 - fractions)
    return mixed


def induced_correlations(law_a: Law, law_b: Law, rho: float) -> tuple[float, float]:
    """Return the linear and the rank correlation of two quantities from that of their normals.

    The rank correlation of smooth laws is (6/π) asin(ρ/2) (K. Pearson, *On Further Methods of
    Determining Correlation*, 1907). All else is Mehler's series Σ ρ^k a_k b_k over the
    coefficients of each quantity, as a function of its normal number, in Hermite polynomials (W. F.
    Kibble, Proc. Camb. Phil. Soc. 41 (1945) 12-15), cut after 128 terms. A tabulated law takes
    part with its steps, and tied values share their mean rank. The cut matters only where two
    tabulated laws are correlated by more than about 0.9.

    Parameters
    ----------
    law_a, law_b : Law
        Laws of the two quantities; no constants.
    rho : float
        Correlation of their standard normals, between -1 and 1.

    Returns
    -------
    linear : float
        Pearson's correlation of the quantities.
    rank : float
        Spearman's correlation of the quantities.
    """
    require(-1.0 < rho < 1.0, "correlation", rho, "between -1 and 1")
    powers = rho ** np.arange(1, _TERMS)
    linear = float(np.sum(powers * _of_value(law_a) * _of_value(law_b)))
    if law_a.is_smooth and law_b.is_smooth:
        return linear, 6.0 / math.pi * math.asin(0.5 * rho)
    return linear, float(np.sum(powers * _of_rank(law_a) * _of_rank(law_b)))


def _of_value(law: Law) -> Array:
    """Coefficients of order 1 up of a value in normalised Hermite polynomials, over its s.d."""
    if isinstance(law, Tabulated):
        return _of_steps(law, np.asarray(law.values)) / law.sd
    if not law.is_smooth:
        raise ValueError(f"a {law.kind} is correlated with nothing")
    nodes, per_node = _per_node()
    of_value: Array = per_node @ law.from_normal(nodes) / law.sd
    return of_value


def _of_rank(law: Law) -> Array:
    """Coefficients of order 1 up of a value's rank, over its standard deviation."""
    if isinstance(law, Tabulated):
        values = np.asarray(law.values)
        lower, upper = (np.searchsorted(values, values, side=side) for side in ("left", "right"))
        ranks = 0.5 * (lower + upper) / law.count
        return _of_steps(law, ranks) / float(np.std(ranks))
    nodes, per_node = _per_node()
    of_rank: Array = per_node @ scipy.special.ndtr(nodes) * math.sqrt(12.0)
    return of_rank


def _of_steps(law: Tabulated, heights: Array) -> Array:
    """Coefficients of what goes in steps, in the law's order.

    A step of height h at normal number c has the coefficients h φ(c) He_(k-1)(c)/sqrt(k!).
    """
    steps = law.step_normals
    at_steps = np.exp(-0.5 * steps * steps) / math.sqrt(2.0 * math.pi)
    per_step = _hermite(steps)[:-1] * at_steps / np.sqrt(np.arange(1, _TERMS))[:, None]
    return per_step @ np.diff(heights)


@cache
def _per_node() -> tuple[Array, Array]:
    """Return nodes (n,) of a quadrature by the normal law, and what each adds (orders, n)."""
    nodes, weights = hermegauss(_TERMS)
    return nodes, _hermite(nodes)[1:] * (weights / math.sqrt(2.0 * math.pi))


def _hermite(z: Array) -> Array:
    """Hermite polynomials He_k(z)/sqrt(k!) of orders 0 to 127, shape (128, n)."""
    polynomials = np.empty((_TERMS, z.size))
    polynomials[0] = 1.0
    polynomials[1] = z
    for k in range(1, _TERMS - 1):
        rising = z * polynomials[k] - math.sqrt(k) * polynomials[k - 1]
        polynomials[k + 1] = rising / math.sqrt(k + 1)
    return polynomials
