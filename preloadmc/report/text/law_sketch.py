"""Laws drawn small: what an input's scatter looks like, in the space of a table's cell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from html import escape

import numpy as np

from preloadmc.chance.laws import Constant, Law, Tabulated
from preloadmc.report.text.laws import value_words

# What is drawn lies between these shares.
_ENDS = (0.001, 0.999)
_POINTS = 61
# Sizes in pixels: the drawing, its base line, the line of text under it.
_WIDTH, _HEIGHT, _TOP, _BASE, _TEXT = 180, 56, 3, 38, 52


@dataclass(frozen=True, slots=True)
class Sketch:
    """The law of the input ``name``, to be drawn in the units of ``system``."""

    name: str
    law: Law
    system: str

    @property
    def is_flat(self) -> bool:
        """Return whether there is nothing to draw: a constant."""
        return isinstance(self.law, Constant)

    @property
    def ends(self) -> tuple[float, float]:
        """Return the values between which the law is drawn."""
        if isinstance(self.law, Tabulated):
            return self.law.support
        low, high = (self.law.quantile(p) for p in _ENDS)
        return low, high

    @property
    def alt(self) -> str:
        """Return a sentence that says what is drawn."""
        low, high = (value_words(self.name, value, self.system) for value in self.ends)
        mean = value_words(self.name, self.law.mean, self.system)
        if isinstance(self.law, Tabulated):
            return f"{self.law.count} values from {low} to {high}, mean {mean}."
        return f"Density of a {self.law.kind} law from {low} to {high}, mean {mean}."

    def svg_element(self) -> str:
        """Return an ``<svg>`` element: density or sticks, a line at the mean, both ends."""
        low, high = self.ends
        width = high - low

        def place(value: float) -> str:
            return f"{2 + (_WIDTH - 4) * (value - low) / width:.1f}"

        if isinstance(self.law, Tabulated):
            shape = _sticks(self.law, place)
        else:
            x = np.linspace(low, high, _POINTS)
            density = np.asarray(self.law.density(x))
            heights = _BASE - (_BASE - _TOP) * density / density.max()
            points = " ".join(f"{place(a)},{b:.1f}" for a, b in zip(x, heights, strict=True))
            shape = (
                f'<polygon class="law-area" points="{place(low)},{_BASE} {points} '
                f'{place(high)},{_BASE}"/><polyline class="law-line" points="{points}"/>'
            )
        ends = (
            f'<text x="1" y="{_TEXT}">{self._end(low)}</text>'
            f'<text x="{_WIDTH - 1}" y="{_TEXT}" text-anchor="end">{self._end(high)}</text>'
        )
        mean = place(self.law.mean)
        return (
            f'<svg class="law" viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" '
            f'height="{_HEIGHT}" role="img" aria-label="{escape(self.alt)}">'
            f"<title>{escape(self.alt)}</title>{shape}"
            f'<line class="law-mean" x1="{mean}" x2="{mean}" y1="{_TOP}" y2="{_BASE}"/>'
            f'<line class="law-base" x1="0" x2="{_WIDTH}" y1="{_BASE}" y2="{_BASE}"/>{ends}</svg>'
        )

    def _end(self, value: float) -> str:
        return escape(value_words(self.name, value, self.system).replace("deg", "°"))


def _sticks(law: Tabulated, place: Callable[[float], str]) -> str:
    counts = Counter(law.values)
    most = max(counts.values())
    return "".join(
        f'<line class="law-stick" x1="{place(value)}" x2="{place(value)}" y1="{_BASE}" '
        f'y2="{_BASE - (_BASE - _TOP) * count / most:.1f}"/>'
        for value, count in counts.items()
    )
