"""Margins of many cases at once that differ in numbers only: a row is a case.

Facts of the joint and parameters of laws that are the same in all rows stay as they are; those that
differ become arrays, a value for each sample by the row it belongs to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from preloadmc.case import Case, possible_values
from preloadmc.chance.dependence import Dependence
from preloadmc.chance.laws import Constant, Law
from preloadmc.chance.row_laws import RowLaws, Rows, laws_of_rows
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import input_kind
from preloadmc.joint import evaluate
from preloadmc.limits import Limit, Margin, margins
from preloadmc.units import Array, FloatLike


class RowMargins:
    """All margins of rows that are alike.

    Parameters
    ----------
    cases : sequence of Case
        A row each, all with the same `likeness`.
    """

    def __init__(self, cases: Sequence[Case]) -> None:
        first = cases[0]
        self.cases = tuple(cases)
        self.columns = first.uncertain
        self._place = {name: column for column, name in enumerate(self.columns)}
        self._laws: dict[str, RowLaws] = {
            name: laws_of_rows([case.laws[name] for case in cases]) for name in first.laws
        }
        self._least = {
            name: np.array([_least(name, case.laws[name]) for case in cases])
            for name in self.columns
        }
        self._dependence = Dependence.from_pairs(self.columns, first.correlations)
        self._follows = {
            name: (follows.leader, np.array([case.follows[name].factor for case in cases]))
            for name, follows in first.follows.items()
        }
        self._joint = _of_rows([case.joint for case in cases])
        self._requirement = _of_rows([case.requirement for case in cases])
        typical = np.zeros((len(cases), len(self.columns)))
        self.limits: tuple[Limit, ...] = ()
        with np.errstate(all="ignore"):
            self(typical, np.arange(len(cases)))

    @property
    def d(self) -> int:
        """Return the number of columns of z."""
        return len(self.columns)

    def __call__(self, z: Array, row: Rows) -> Array:
        """Return the margins (n, m) at z (n, d) of the rows (n,), which stand in order."""
        joint, requirement = self._joint(row), self._requirement(row)
        x = self._inputs(z, row)
        found = margins(joint, requirement, x, evaluate(joint, x), others=True)
        self.limits = tuple(margin.limit for margin in found)
        return _columns(found, len(z))

    def own_normals(self, z: Array) -> Array:
        """Return each input's own standard normal (n, d), after mixing, of the columns z (n, d)."""
        mixed = self._dependence.mixed(z)
        if not mixed:
            return z
        own = np.array(z)
        for name, values in mixed.items():
            own[:, self._place[name]] = values
        return own

    def _inputs(self, z: Array, row: Rows) -> dict[str, FloatLike]:
        mixed = self._dependence.mixed(z)
        x: dict[str, FloatLike] = {}
        for name, laws in self._laws.items():
            at = self._place.get(name)
            normal = mixed[name] if name in mixed else z[:, 0 if at is None else at]
            values = laws.from_normal(normal, row)
            if at is not None:
                least = self._least[name][row]
                if np.isfinite(least).any():
                    values = np.maximum(values, least)
                values = (
                    np.clip(values, *possible_values(name)) if self._is_tested(name) else values
                )
            x[name] = values
        for name, (leader, factor) in self._follows.items():
            x[name] = factor[row] * x[leader]
        return x

    def _is_tested(self, name: str) -> bool:
        return isinstance(self.cases[0].laws[name], Tested)


def _columns(found: Sequence[Margin], n: int) -> Array:
    """Return margins as columns (n, m); what is not finite is left to who asks."""
    block = np.empty((len(found), n))
    for row, margin in zip(block, found, strict=True):
        row[:] = margin.values
    return block.T


def _least(name: str, law: Law) -> float:
    """Return the least value that an input may take, as `Case.inputs` holds it."""
    sign = input_kind(name).sign
    if law.support[0] >= 0.0 or sign == "any":
        return -np.inf
    return 0.0 if sign == "not negative" else 1e-6 * law.mean


def likeness(case: Case, joints: dict[int, Any] | None = None) -> Any:
    """Return what rows that can be taken together have in common: all but their numbers.

    ``joints`` keeps what was found of a joint, which rows that differ in laws alone have in common.
    """
    laws = tuple((name, _law_likeness(law)) for name, law in case.laws.items())
    follows = tuple((name, each.leader) for name, each in case.follows.items())
    correlations = tuple(sorted(case.correlations.items()))
    joints = {} if joints is None else joints
    if id(case.joint) not in joints:
        joints[id(case.joint)] = _likeness(case.joint)
    return laws, follows, correlations, joints[id(case.joint)], _window_of(case)


def _window_of(case: Case) -> tuple[str, str]:
    return case.requirement.minimum_from, case.requirement.maximum_from


def _law_likeness(law: Law) -> str:
    return law.kind if isinstance(law, (Constant, Tested)) else "scatters"


def _likeness(value: Any) -> Any:
    """Return a value without its floats, hashable."""
    if isinstance(value, float):
        return float
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value), *(_likeness(getattr(value, each.name)) for each in fields(value)))
    if isinstance(value, tuple):
        return tuple(map(_likeness, value))
    if isinstance(value, Mapping):
        return tuple((key, _likeness(each)) for key, each in value.items())
    return value


def _of_rows(values: Sequence[Any]) -> Callable[[Rows], Any]:
    """Return what gives a value of the rows of samples: arrays in place of floats that differ."""
    first = values[0]
    if all(value == first for value in values[1:]):
        return lambda row: first
    if isinstance(first, float):
        array = np.array(values, dtype=float)
        return lambda row: array[row]
    if isinstance(first, tuple):
        parts = [_of_rows(each) for each in zip(*values, strict=True)]
        return lambda row: tuple(part(row) for part in parts)
    if isinstance(first, Mapping):
        named = {key: _of_rows([value[key] for value in values]) for key in first}
        return lambda row: {key: part(row) for key, part in named.items()}
    assert is_dataclass(first), f"{type(first)} differs between rows that should be alike"
    kind = type(first)
    of_fields = {
        each.name: _of_rows([getattr(value, each.name) for value in values])
        for each in fields(first)
    }

    def made(row: Rows) -> Any:
        # Without its own checks: each row has passed them as a case.
        new = object.__new__(kind)
        for name, part in of_fields.items():
            object.__setattr__(new, name, part(row))
        return new

    return made


def together(cases: Sequence[Case]) -> dict[Any, list[int]]:
    """Return the places of cases by their likeness."""
    found: dict[Any, list[int]] = {}
    joints: dict[int, Any] = {}
    for place, case in enumerate(cases):
        found.setdefault(likeness(case, joints), []).append(place)
    return found
