"""The best setting of many rows at once: settings in steps, each judged as a row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preloadmc.case import Case
from preloadmc.errors import PreloadError
from preloadmc.judgement.rows import can_be_together, judge_cases
from preloadmc.judgement.rows_together import JudgedRow
from preloadmc.judgement.verdicts import MEETS, Judgement
from preloadmc.questions.aim import Setting, case_at, find_setting
from preloadmc.row_margins import together
from preloadmc.units import Array, to_unit

# Settings tried: from so much of the present one to so much, then about the best so far, twice.
_LOW, _HIGH, _COARSE, _FINE = 0.4, 2.5, 25, 5
_ROUNDS = 2
# Figures of a setting on a work sheet.
_FIGURES = 3


def best_settings(
    cases: Sequence[Case], keys: Sequence[str], seed: int
) -> list[dict[str, Any] | None]:
    """Return the best setting of each case, judged anew there by other random numbers.

    The best is where the limit that comes nearest to what is allowed of it keeps farthest from
    that; where nothing is allowed, where fewest end outside the window. A case that is not judged
    among others is searched as `aim` does.

    Parameters
    ----------
    cases, keys : sequences of Case and str
        The cases and what names the stream of each.
    seed : int
        Of all streams.

    Returns
    -------
    list of dict or None
        Setting, what is to be set (None where no setting meets every limit), the verdict there and
        the probability of missing any limit; None where no setting can be judged.
    """
    best = np.full(len(cases), np.nan)
    for places in together(cases).values():
        own = [cases[place] for place in places]
        if can_be_together(own[0]):
            best[places] = _searched(own, [keys[place] for place in places], seed)
    for place, case in enumerate(cases):
        if math.isnan(best[place]):
            try:
                best[place] = find_setting(case, seed=seed)
            except (PreloadError, ArithmeticError):
                continue  # told as none
    there = [place for place in range(len(cases)) if math.isfinite(best[place])]
    judged = judge_cases(
        [case_at(cases[place], float(best[place])) for place in there],
        [keys[place] for place in there],
        seed=seed + 1,
    )
    found: list[dict[str, Any] | None] = [None] * len(cases)
    for place, (each, _) in zip(there, judged, strict=True):
        if not isinstance(each, str):
            found[place] = _document(float(best[place]), each)
    return found


def _searched(cases: Sequence[Case], keys: Sequence[str], seed: int) -> Array:
    """Return the best setting of each case (r,); not a number where none can be judged."""
    present = np.array([Setting.of(case).present for case in cases])
    factors = np.tile(np.geomspace(_LOW, _HIGH, _COARSE), (len(cases), 1))
    rows = np.arange(len(cases))
    for _ in range(_ROUNDS + 1):
        scores = _scores(cases, keys, present[:, None] * factors, seed)
        best = factors[rows, _middle_of_least(scores)]
        step = np.log(factors[:, 1] / factors[:, 0])
        around = np.linspace(-1.0, 1.0, 2 * _FINE + 1) * step[:, None]
        factors = best[:, None] * np.exp(around)
    settings = _rounded(cases, present * best)
    settings[~np.isfinite(scores).any(axis=1)] = np.nan
    return settings


def _scores(cases: Sequence[Case], keys: Sequence[str], settings: Array, seed: int) -> Array:
    """Return how near the worst limit is to what is allowed of it (r, s); small is good."""
    rows, each = settings.shape
    tried = [
        case_at(case, float(at)) for case, row in zip(cases, settings, strict=True) for at in row
    ]
    # The same stream at all settings of a row: they differ by the setting, not by chance.
    streams = [key for key in keys for _ in range(each)]
    judged = judge_cases(tried, streams, seed=seed, purpose="settings of row", alone=False)
    scores = [
        math.inf if isinstance(found, str) else _score(found.judgement) for found, _ in judged
    ]
    return np.array(scores).reshape(rows, each)


def _middle_of_least(scores: Array) -> NDArray[np.intp]:
    """Return the middle of the settings with the least score of each row (r,).

    Where no miss is found at several of them, the one farthest from both ends is best.
    """
    least = scores <= scores.min(axis=1, keepdims=True)
    number = np.cumsum(least, axis=1)
    middle: NDArray[np.intp] = (number > number[:, -1:] // 2).argmax(axis=1)
    return middle


def _score(judged: Judgement) -> float:
    """Return how near the worst limit is to what is allowed of it; one never missed is far."""
    shares = [
        each.known.value / each.allowed
        for each in judged
        if each.allowed is not None and each.allowed > 0.0
    ]
    return max(shares) if shares else judged.outside.known.value


def _rounded(cases: Sequence[Case], settings: Array) -> Array:
    """Return settings with as many figures as a work sheet has, in the units of each case."""
    found = []
    for case, at in zip(cases, settings, strict=True):
        dimension = Setting.of(case).dimension
        size = to_unit(1.0, dimension.unit(case.unit_system), dimension)
        shown = float(at) * size
        digits = _FIGURES - 1 - math.floor(math.log10(abs(shown))) if shown else 0
        found.append(round(shown, digits) / size)
    return np.array(found)


def _document(at: float, judged: JudgedRow) -> dict[str, Any]:
    value, low, high = judged.any_limit
    verdict = judged.judgement.verdict
    return {
        "value": at,
        "to_set": at if verdict == MEETS else None,
        "verdict": verdict,
        "probability": value,
        "low": low,
        "high": high,
    }
