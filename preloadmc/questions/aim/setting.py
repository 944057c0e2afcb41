"""The setting of a tightening method: what it is, how it moves, what each joint makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.laws import Constant, Law
from preloadmc.estimates.crossing import Rows, rising_crossing
from preloadmc.inputs import input_kind, input_label
from preloadmc.joint import evaluate
from preloadmc.limits import Margin, as_columns, margins
from preloadmc.questions.aim.bounds import Bound
from preloadmc.units import Array, Dimension, FloatLike

# Settings are searched between these multiples of the present one.
REACH = 1024.0


@dataclass(frozen=True, slots=True)
class Setting:
    """What is set: the input's name, its present value, and whether its own scatter goes along."""

    input: str
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
        return input_label(self.input)

    @property
    def dimension(self) -> Dimension:
        """Return what it measures."""
        return input_kind(self.input).dimension

    def moved(self, values: FloatLike, to: FloatLike) -> FloatLike:
        """Return the input's values with the setting moved from the present one."""
        return values * (to / self.present) if self.in_proportion else values + (to - self.present)

    def law_at(self, law: Law, to: float) -> Law:
        """Return the input's law with the setting moved."""
        if self.in_proportion:
            # Exact where nothing scatters: the same setting is then the same law.
            return Constant(to) if isinstance(law, Constant) else law.scaled(to / self.present)
        return law.shifted(to - self.present)


def case_at(case: Case, to: float) -> Case:
    """Return the case with its setting moved, all else unchanged."""
    setting = Setting.of(case)
    law = setting.law_at(case.laws[setting.input], to)
    return case.with_laws({setting.input: law})


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

    def margins(self, settings: Array, rows: Rows, *, others: bool = False) -> tuple[Margin, ...]:
        """Return the margins of the named joints at a setting each; with those beside the window.

        Parameters
        ----------
        settings : ndarray (k,)
            The setting of each joint, in its internal unit.
        rows : ndarray (k,)
            Which joints of the block.
        others : bool
            Whether the limits beside the window are among them.
        """
        self.calls.count += len(rows)
        x: Mapping[str, FloatLike] = self.x
        if len(rows) != self.n:
            x = {
                name: value[rows] if isinstance(value, np.ndarray) else value
                for name, value in self.x.items()
            }
        moved = {**x, self.setting.input: self.setting.moved(x[self.setting.input], settings)}
        joint = self.case.joint
        state = evaluate(joint, moved)
        return margins(joint, self.case.requirement, moved, state, others=others)

    def crossing(self, bound: Bound) -> Array:
        """Return the setting at which each joint meets a bound, zero to infinity, shape (n,).

        The least that meets one which holds the setting from below, the largest that meets one
        from above.
        """
        sign = 1.0 if bound.from_below else -1.0

        def worst(settings: Array, rows: Rows) -> Array:
            found = self.margins(settings, rows, others=not bound.sides)
            mine = tuple(margin for margin in found if bound.holds(margin.limit))
            if not mine:
                return np.full(len(rows), -1.0)
            smallest: Array = as_columns(mine, len(rows)).min(axis=1)
            return sign * smallest

        present = self.setting.present
        start = np.full(self.n, present)
        found = rising_crossing(worst, start, present / REACH, present * REACH)
        return np.maximum(found, 0.0)
