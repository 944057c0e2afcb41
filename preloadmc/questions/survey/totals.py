"""Sums over the rows of a register: expected misses, how they spread, and who makes them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from preloadmc.engine import OUTCOMES, OUTSIDE
from preloadmc.estimates.row_sampling import QUANTILE
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.verdicts import MISSES
from preloadmc.questions.survey.judged import SHARED_BY
from preloadmc.questions.survey.records import Document, Expected, Part, Spread
from preloadmc.units import Array

_OF_JOINT = {
    "under_preload": "any_under",
    "over_preload": "any_over",
    "outside_window": "any_outside",
}
_NORMAL_95 = 1.96
# Draws of what lots and tools share: a quantile of 5 % is then known to half a percent of rank.
_DRAWS = 2000
# Rows so unlikely to miss that what they share moves nothing.
_NEGLIGIBLE = 1e-9
# Lots, tools and templates that a table shows.
_MOST_PARTS = 10


class Totals:
    """Collects rows one by one, some numbers of each."""

    def __init__(self) -> None:
        self.keys: list[str] = []
        self.statuses: Counter[str] = Counter()
        self.verdicts: Counter[str] = Counter()
        self.alone = 0
        self.names: list[tuple[str, str, str, str]] = []
        self._events: list[list[tuple[float, float, float]]] = []
        self._beside: list[float] = []
        self.misses: list[bool] = []
        self.best: list[Document | None] = []
        self._shared: list[Mapping[str, Any]] = []

    def add(self, row: Document) -> None:
        """Take a row in."""
        self.statuses[row["status"]] += 1
        if row["status"] != "judged":
            return
        self.verdicts[row["verdict"]] += 1
        self.alone += not row["together"]
        self.keys.append(row["key"])
        self.names.append((row["lot"], row["tool"], row["case"], row["joint"]))
        self._events.append([miss_numbers(row, name) for name in OUTCOMES])
        self._beside.append(row["beside"])
        self.misses.append(row["verdict"] == MISSES)
        self.best.append(row.get("best_setting"))
        self._shared.append(row.get("shared", {}))

    @property
    def events(self) -> Array:
        """Return value, low and high of each outcome of each row (r, 3, 3)."""
        return np.array(self._events, dtype=float).reshape(len(self._events), len(OUTCOMES), 3)

    @property
    def outside(self) -> Array:
        """Return the probability of a miss of each row (r,)."""
        outside: Array = self.events[:, OUTCOMES.index(OUTSIDE), 0]
        return outside

    @property
    def beside(self) -> Array:
        """Return the probability of the worst limit beside the window of each row (r,)."""
        return np.array(self._beside, dtype=float)

    @property
    def risk(self) -> Array:
        """Return what rows are ranked by (r,): a miss of the window or beside it, the likelier."""
        return np.maximum(self.outside, self.beside)

    def order(self) -> NDArray[np.intp]:
        """Return places of rows (r,), those at highest risk first; alike ones by name."""
        joints = np.array([name[3] for name in self.names])
        highs = self.events[:, OUTCOMES.index(OUTSIDE), 2]
        order: NDArray[np.intp] = np.lexsort((joints, -highs, -self.risk))
        return order

    def expected(self) -> dict[str, Expected]:
        """Return how many joints are expected to miss, by outcome."""
        events = self.events
        return {name: expected_of(events[:, n]) for n, name in enumerate(OUTCOMES)}

    def independent(self) -> Spread:
        """Return how many joints will miss where each is tightened for itself."""
        p = self.outside
        return _spread(np.array([p.sum()]), np.array([np.sum(p * (1.0 - p))]))

    def sharing(self) -> dict[str, int]:
        """Return how many joints share something by lot, and by tool."""
        return {
            by: sum(
                bool(name[place]) and any(by in side for side in shared.values())
                for name, shared in zip(self.names, self._shared, strict=True)
            )
            for place, by in enumerate(SHARED_BY)
        }

    def shared(self, rng: Generator) -> Spread | None:
        """Return how many joints will miss with what lots and tools share; None where nothing is.

        Given what is shared, a side of the window is missed as by a plane at its reliability index:
        exact for margins that run straight in the normal numbers, and such that the mean over lots
        is that of the row.
        """
        if not any(self.sharing().values()):
            return None
        index: dict[tuple[str, str, str], int] = {}
        mean, variance = np.zeros(_DRAWS), np.zeros(_DRAWS)
        events = self.events
        fixed = np.zeros(2)
        moved: list[tuple[Array, list[list[tuple[int, float]]]]] = []
        for name, shared, event in zip(self.names, self._shared, events, strict=True):
            levels = dict(zip(SHARED_BY, name[:2], strict=True))
            terms: list[list[tuple[int, float]]] = []
            for side in RANKED_SIDES:
                own = []
                for by, inputs in shared.get(side, {}).items():
                    for of, cosine in inputs.items() if levels[by] else ():
                        place = index.setdefault((by, levels[by], of), len(index))
                        own.append((place, cosine))
                terms.append(own)
            p = event[: len(RANKED_SIDES), 0]
            if any(terms) and p.max() > _NEGLIGIBLE:
                moved.append((p, terms))
            else:
                fixed += (p.sum(), p.sum() * (1.0 - min(p.sum(), 1.0)))
        numbers = rng.standard_normal((len(index), _DRAWS))
        for p, terms in moved:
            outside = np.zeros(_DRAWS)
            for value, own in zip(p, terms, strict=True):
                outside += _given(float(value), own, numbers)
            outside = np.minimum(outside, 1.0)
            mean += outside
            variance += outside * (1.0 - outside)
        return _spread(mean + fixed[0], variance + fixed[1], rng)

    def parts(self) -> tuple[Part, ...]:
        """Return the lots, tools and templates that make most of the expected misses."""
        found = []
        outside = self.outside
        for place, by in enumerate((*SHARED_BY, "case")):
            sums: Counter[str] = Counter()
            joints: Counter[str] = Counter()
            for name, p in zip(self.names, outside, strict=True):
                if name[place]:
                    sums[name[place]] += p
                    joints[name[place]] += 1
            if len(joints) > 1:
                found += [
                    Part(by, name, joints[name], float(total))
                    for name, total in sorted(sums.items(), key=lambda item: (-item[1], item[0]))[
                        :_MOST_PARTS
                    ]
                ]
        return tuple(found)


def miss_numbers(row: Document, name: str) -> tuple[float, float, float]:
    """Return probability, low and high of an outcome of a row; of all its fasteners together."""
    event = row["outcomes"][name]
    if "group" in row:
        event = row["group"]["outcomes"].get(_OF_JOINT[name], event)
    known = event.get("known", event)
    return known["probability"], known["low"], known["high"]


def expected_of(numbers: Array) -> Expected:
    """Return a sum of probabilities with its interval, from value, low and high of each (n, 3).

    Estimates of rows are independent. One of which only an upper limit is known counts as nothing
    below and as its limit above.
    """
    value, low, high = numbers.T
    bounded = value <= 0.0
    total = float(value.sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        half = np.where(bounded | (low <= 0.0), high - value, value * np.log(high / low) / 2.0)
        half = np.where(high >= 1.0, np.maximum(half, value - low), half)
    sd = np.where(bounded, 0.0, half / QUANTILE)
    reach = _NORMAL_95 * math.sqrt(float(np.sum(sd**2)))
    return Expected(total, max(total - reach, 0.0), total + reach + float(high[bounded].sum()))


def _given(p: float, terms: Sequence[tuple[int, float]], numbers: Array) -> Array:
    """Return the probability of a miss given what is shared, for each draw of that."""
    if not terms or p <= 0.0 or p >= 1.0:
        return np.full(numbers.shape[1], p)
    cosines = np.array([cosine for _, cosine in terms])
    along = cosines @ numbers[[place for place, _ in terms]]
    left = max(1.0 - float(np.sum(cosines**2)), 1e-12)
    given: Array = ndtr((float(ndtri(p)) + along) / math.sqrt(left))
    return given


def _spread(mean: Array, variance: Array, rng: Generator | None = None) -> Spread:
    """Return the law of a number of misses whose mean and variance are given in each draw.

    Each is taken as binomial with that mean and variance (W. Ehm, Statist. Probab. Lett. 11 (1991)
    7: close where the probabilities differ).
    """
    rng = np.random.Generator(np.random.SFC64(0)) if rng is None else rng
    mean, variance = np.repeat(mean, _DRAWS // len(mean)), np.repeat(variance, _DRAWS // len(mean))
    share = np.clip(1.0 - variance / np.maximum(mean, 1e-300), 0.0, 1.0)
    trials = np.where(share > 1e-6, np.rint(mean / np.maximum(share, 1e-6)), 0.0)
    numbers = np.where(
        share > 1e-6,
        rng.binomial(trials.astype(np.int64), np.minimum(mean / np.maximum(trials, 1.0), 1.0)),
        rng.poisson(mean),
    )
    low, median, high = np.quantile(numbers, (0.05, 0.5, 0.95), method="inverted_cdf")
    sd = math.sqrt(float(np.mean(variance) + np.var(mean)))
    return Spread(float(np.mean(mean)), sd, int(low), int(median), int(high))
