"""The setting of a tightening method: what it is, how it moves, what each joint makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.laws import Law
from preloadmc.errors import EstimateError
from preloadmc.estimates.crossing import Rows, rising_crossing
from preloadmc.inputs import input_kind, input_label
from preloadmc.joint import evaluate
from preloadmc.limits import OVER, UNDER, Margin, as_columns, margins
from preloadmc.units import Array, Dimension, FloatLike

# Settings are searched between these multiples of the present one.
REACH = 1024.0
_NUDGES = np.geomspace(0.5, 2.0, 9)
_CHECKED = 256


@dataclass(frozen=True, slots=True)
class Setting:
    """What is set: the input's name, its present value, and whether its own scatter goes along."""

    name: str
    present: float
    in_proportion: bool

    @classmethod
    def of(cls, case: Case) -> Setting:
        """Return what the method of the case sets."""
        method = case.joint.method
        name = method.setting_input
        return cls(name, case.laws[name].mean, method.in_proportion)

    @property
    def label(self) -> str:
        """Return the words a reader knows it by."""
        return input_label(self.name)

    @property
    def dimension(self) -> Dimension:
        """Return what it measures."""
        return input_kind(self.name).dimension

    def moved(self, values: FloatLike, to: FloatLike) -> FloatLike:
        """Return the input's values with the setting moved from the present one."""
        return values * (to / self.present) if self.in_proportion else values + (to - self.present)

    def law_at(self, law: Law, to: float) -> Law:
        """Return the input's law with the setting moved."""
        if self.in_proportion:
            return law.scaled(to / self.present)
        return law.shifted(to - self.present)


def case_at(case: Case, to: float) -> Case:
    """Return the case with its setting moved, all else unchanged."""
    setting = Setting.of(case)
    law = setting.law_at(case.laws[setting.name], to)
    return replace(case, laws={**case.laws, setting.name: law})


@dataclass(frozen=True, slots=True, eq=False)
class Suited:
    """The settings that suit each joint of a block, shape (n,).

    Below ``needed`` it has too little preload, above ``borne`` too much, above ``broken`` it
    breaks in tightening. Zero or infinity where a side is never or always missed.
    """

    needed: Array
    borne: Array
    broken: Array


@dataclass(slots=True)
class Calls:
    """How many joints were followed through life: one model call each."""

    count: int = 0


class Joints:
    """A block of joints, each tightened at a setting of its own.

    ``z`` (n, d) are standard normal numbers of the inputs named ``columns``. Preload rises with
    every setting, so that margins against too little rise and those against too much fall.
    """

    def __init__(self, case: Case, columns: tuple[str, ...], z: Array, calls: Calls) -> None:
        self.case = case
        self.calls = calls
        self.setting = Setting.of(case)
        self.n = len(z)
        self.x = case.inputs(z, columns)

    def margins(self, settings: Array, rows: Rows) -> tuple[Margin, ...]:
        """Return all margins of the window for the named joints at a setting each."""
        self.calls.count += len(rows)
        x: Mapping[str, FloatLike] = self.x
        if len(rows) != self.n:
            x = {
                name: value[rows] if isinstance(value, np.ndarray) else value
                for name, value in self.x.items()
            }
        moved = {**x, self.setting.name: self.setting.moved(x[self.setting.name], settings)}
        joint = self.case.joint
        return margins(joint, self.case.requirement, moved, evaluate(joint, moved))

    def needed(self) -> Array:
        """Return the least setting that leaves each joint enough preload, zero to infinity."""
        return np.maximum(self._crossing((UNDER,), 1.0), 0.0)

    def borne(self) -> Array:
        """Return the largest setting that gives no joint too much preload, zero to infinity."""
        return np.maximum(self._crossing((OVER,), -1.0), 0.0)

    def broken(self) -> Array:
        """Return the largest setting that breaks no joint in tightening, zero to infinity."""
        return np.maximum(self._crossing((UNDER, OVER), -1.0), 0.0)

    def suited(self) -> Suited:
        """Return all three."""
        broken = self.broken()
        return Suited(self.needed(), np.minimum(self.borne(), broken), broken)

    def _crossing(self, sides: tuple[str, ...], sign: float) -> Array:
        def worst(settings: Array, rows: Rows) -> Array:
            found = [m for m in self.margins(settings, rows) if m.limit.sides == sides]
            if not found:
                return np.full(len(rows), -1.0)
            smallest: Array = as_columns(tuple(found), len(rows)).min(axis=1)
            return sign * smallest

        present = self.setting.present
        return rising_crossing(worst, np.full(self.n, present), present / REACH, present * REACH)


def check_one_way(
    case: Case, columns: tuple[str, ...], *, rng: np.random.Generator, calls: Calls
) -> None:
    """Raise EstimateError unless the margins run one way with the setting.

    Looked at on a few hundred joints around the present setting.
    """
    joints = Joints(case, columns, rng.standard_normal((_CHECKED, len(columns))), calls)
    rows = np.arange(_CHECKED)
    seen = [joints.margins(np.full(_CHECKED, f * joints.setting.present), rows) for f in _NUDGES]
    for place, margin in enumerate(seen[0]):
        block = as_columns(tuple(found[place] for found in seen), _CHECKED)
        sign = 1.0 if margin.limit.sides == (UNDER,) else -1.0
        steps = sign * np.diff(block, axis=1)
        if (steps < -1e-9 * np.abs(block).max()).any():
            raise EstimateError(
                f"the margin of '{margin.limit.name}' ({margin.limit.state}) does not run one way "
                f"with the {joints.setting.label}: no best setting can be told by this program"
            )
