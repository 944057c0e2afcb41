"""One input of many rows at once: laws of one family with their parameters by row."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from preloadmc.chance.laws import Constant, Gumbel, Law, LogNormal, Normal
from preloadmc.units import Array, FloatLike

Rows = NDArray[np.intp]


class RowLaws(ABC):
    """The laws of one input, a row each."""

    @abstractmethod
    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        """Return the values (n,) at standard normal numbers z (n,) of the rows (n,), in order."""


def laws_of_rows(laws: Sequence[Law]) -> RowLaws:
    """Return the laws of an input, by the quickest way to draw from them.

    Parameters
    ----------
    laws : sequence of Law
        One for each row.
    """
    first = laws[0]
    if all(law == first for law in laws):
        return _Same(first)
    kinds = {type(law) for law in laws}
    if kinds == {Constant}:
        return _Constants(np.array([law.mean for law in laws]))
    if kinds == {Normal}:
        return _Normals(np.array([law.mean for law in laws]), np.array([law.sd for law in laws]))
    if kinds == {LogNormal}:
        return _LogNormals(laws)
    if kinds == {Gumbel}:
        return _Gumbels(laws)
    return _Each(tuple(laws))


class _Same(RowLaws):
    def __init__(self, law: Law) -> None:
        self.law = law

    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        return self.law.value if isinstance(self.law, Constant) else self.law.from_normal(z)


class _Constants(RowLaws):
    def __init__(self, values: Array) -> None:
        self.values = values

    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        values: Array = self.values[row]
        return values


class _Normals(RowLaws):
    def __init__(self, mean: Array, sd: Array) -> None:
        self.mean, self.sd = mean, sd

    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        values: Array = self.sd[row] * z
        values += self.mean[row]
        return values


class _LogNormals(RowLaws):
    def __init__(self, laws: Sequence[Law]) -> None:
        own = [law for law in laws if isinstance(law, LogNormal)]
        self.location = np.array([law.location for law in own])
        self.log_mean = np.array([law.log_mean for law in own])
        self.log_sd = np.array([law.log_sd for law in own])

    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        values: Array = self.log_sd[row] * z
        values += self.log_mean[row]
        np.exp(values, out=values)
        if self.location.any():
            values += self.location[row]
        return values


class _Gumbels(RowLaws):
    """A law of location and scale: every row's is that of one of them, moved and stretched."""

    def __init__(self, laws: Sequence[Law]) -> None:
        self.standard = Gumbel(0.0, 1.0)
        self.mean = np.array([law.mean for law in laws])
        self.sd = np.array([law.sd for law in laws])

    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        values: Array = self.standard.from_normal(z)
        values *= self.sd[row]
        values += self.mean[row]
        return values


class _Each(RowLaws):
    """Laws of unlike families, or such as have no quick way: a row after the other."""

    def __init__(self, laws: tuple[Law, ...]) -> None:
        self.laws = laws

    def from_normal(self, z: Array, row: Rows) -> FloatLike:
        values = np.empty(len(z))
        starts = np.flatnonzero(np.diff(row, prepend=-1))
        for start, end in zip(starts, [*starts[1:], len(row)], strict=True):
            law = self.laws[row[start]]
            part = z[start:end]
            values[start:end] = law.value if isinstance(law, Constant) else law.from_normal(part)
        return values
