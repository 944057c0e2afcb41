"""Sums over the rows of a register: expected misses, how they spread, and who makes them."""

from __future__ import annotations

import math
from array import array
from collections import Counter
from sys import intern

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from preloadmc.engine import OUTCOMES, OUTSIDE
from preloadmc.estimates.row_sampling import QUANTILE
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.rows_together import ANY_LIMIT
from preloadmc.judgement.verdicts import MISSES
from preloadmc.questions.survey.judged import SHARED_BY
from preloadmc.questions.survey.records import Document, Expected, Part, Spread
from preloadmc.units import Array

_OF_JOINT = {
    "under_preload": "any_under",
    "over_preload": "any_over",
    "outside_window": "any_outside",
}
EVENTS = (*OUTCOMES, ANY_LIMIT)
# Joints are few where they are no more than so large a share of all.
FEW = 0.1
_NORMAL_95 = 1.96
# Draws of what lots and tools share: a quantile of 5 % is then known to half a percent of rank.
_DRAWS = 2000
# Rows so unlikely to miss that what they share moves nothing.
_NEGLIGIBLE = 1e-9
# Lots, tools and templates that a table shows.
_MOST_PARTS = 10


class Totals:
    """Collects rows one by one, some numbers of each: of many rows little is held in memory."""

    def __init__(self) -> None:
        self.keys: list[str] = []
        self.statuses: Counter[str] = Counter()
        self.verdicts: Counter[str] = Counter()
        self.alone = 0
        self.names: list[tuple[str, str, str, str]] = []
        self.best: list[Document | None] = []
        self._events = array("d")
        self._misses = array("b")
        # Of each row by side, by what is shared, and input.
        self._cosines: dict[tuple[str, str, str], array[float]] = {}

    def add(self, row: Document) -> None:
        """Take a row in."""
        self.statuses[row["status"]] += 1
        if row["status"] != "judged":
            return
        self.verdicts[row["verdict"]] += 1
        self.alone += not row["together"]
        rows = len(self.keys)
        self.keys.append(row["key"])
        lot, tool, case = (intern(row[name]) for name in ("lot", "tool", "case"))
        self.names.append((lot, tool, case, row["joint"]))
        for name in OUTCOMES:
            self._events.extend(miss_numbers(row, name))
        self._events.extend(row["any_limit"][key] for key in ("probability", "low", "high"))
        self._misses.append(row["verdict"] == MISSES)
        self.best.append(row.get("best_setting"))
        for side, levels in row.get("shared", {}).items():
            for by, inputs in levels.items():
                for name, cosine in inputs.items():
                    column = self._cosines.setdefault((side, by, name), array("d"))
                    column.extend([0.0] * (rows - len(column)))
                    column.append(cosine)

    @property
    def events(self) -> Array:
        """Return value, low and high of each of `EVENTS` of each row (r, 4, 3)."""
        return np.array(self._events).reshape(len(self.keys), len(EVENTS), 3)

    @property
    def outside(self) -> Array:
        """Return the probability of a miss of each row (r,)."""
        outside: Array = self.events[:, EVENTS.index(OUTSIDE), 0]
        return outside

    @property
    def misses(self) -> Array:
        """Return 1 for each row that misses what is allowed, else 0 (r,)."""
        return np.array(self._misses, dtype=float)

    @property
    def risk(self) -> Array:
        """Return what rows are ranked by (r,): the probability that any limit is missed."""
        risk: Array = self.events[:, EVENTS.index(ANY_LIMIT), 0]
        return risk

    def order(self) -> NDArray[np.intp]:
        """Return places of rows (r,), those at highest risk first; alike ones by name."""
        joints = np.array([name[3] for name in self.names])
        highs = self.events[:, EVENTS.index(ANY_LIMIT), 2]
        order: NDArray[np.intp] = np.lexsort((joints, -highs, -self.risk))
        return order

    def expected(self) -> dict[str, Expected]:
        """Return how many joints are expected to miss, by `EVENTS`."""
        events = self.events
        return {name: expected_of(events[:, n]) for n, name in enumerate(EVENTS)}

    def independent(self) -> Spread:
        """Return how many joints will miss where each is tightened for itself."""
        p = self.outside
        return _spread(np.array([p.sum()]), np.array([np.sum(p * (1.0 - p))]))

    def sharing(self) -> dict[str, int]:
        """Return how many joints share something by lot, and by tool."""
        return {by: int(self._shares(by).sum()) for by in SHARED_BY}

    def _shares(self, by: str) -> NDArray[np.bool_]:
        """Return which rows share something by lot or by tool (r,)."""
        named = np.array([bool(name[SHARED_BY.index(by)]) for name in self.names], dtype=bool)
        shares = np.zeros(len(self.keys), dtype=bool)
        for (_, level, _), column in self._cosines.items():
            if level == by:
                shares[: len(column)] |= np.array(column) != 0.0
        return named & shares

    def shared(self, rng: Generator) -> Spread | None:
        """Return how many joints will miss with what lots and tools share; None where nothing is.

        Given what is shared, a side of the window is missed as by a plane at its reliability index:
        exact for margins that run straight in the normal numbers, and such that the mean over lots
        is that of the row.
        """
        moves = self._shares("lot") | self._shares("tool")
        if not moves.any():
            return None
        p = self.events[:, : len(RANKED_SIDES), 0]
        moves &= p.max(axis=1) > _NEGLIGIBLE
        outside = self.outside
        fixed = outside[~moves]
        mean = np.full(_DRAWS, float(fixed.sum()))
        variance = np.full(_DRAWS, float(np.sum(fixed * (1.0 - np.minimum(fixed, 1.0)))))
        numbers: dict[tuple[str, str, str], Array] = {}
        for row in np.flatnonzero(moves):
            given = np.zeros(_DRAWS)
            for side, value in zip(RANKED_SIDES, p[row].tolist(), strict=True):
                along, part = np.zeros(_DRAWS), 0.0
                for (of_side, by, name), column in self._cosines.items():
                    level = self.names[row][SHARED_BY.index(by)]
                    if of_side != side or not level or row >= len(column):
                        continue
                    drawn = (by, level, name)
                    if drawn not in numbers:
                        numbers[drawn] = rng.standard_normal(_DRAWS)
                    along += column[row] * numbers[drawn]
                    part += column[row] ** 2
                given += _given(value, along, part)
            # A fastener that breaks in tightening is on both sides.
            given = np.minimum(given * (outside[row] / p[row].sum()), 1.0)
            mean += given
            variance += given * (1.0 - given)
        return _spread(mean, variance, rng)

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


def few_at_highest_risk(risk: Array) -> NDArray[np.intp]:
    """Return the places of the joints that carry half of the whole risk; none where they are many.

    Few are a tenth of all, or one of several.
    """
    order = np.argsort(-risk, kind="stable")
    few = int(np.sum(np.cumsum(risk[order]) < 0.5 * risk.sum())) + 1
    is_few = len(risk) > 1 and few <= max(1.0, FEW * len(risk)) and risk.sum() > 0.0
    found: NDArray[np.intp] = order[: few if is_few else 0]
    return found


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


def _given(p: float, along: Array, part: float) -> Array:
    """Return the probability of a miss given what is shared, for each draw of that.

    ``along`` is how far what is shared carries a joint on its way to a miss, ``part`` its share of
    the variance along that way.
    """
    if part == 0.0 or not 0.0 < p < 1.0:
        return np.full(len(along), p)
    given: Array = ndtr((float(ndtri(p)) + along) / math.sqrt(max(1.0 - part, 1e-12)))
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
