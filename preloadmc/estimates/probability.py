"""A probability of a miss as it travels: value, interval, sample size and method.

An estimate never leaves this module as a bare number, and zero misses is an upper bound.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scipy.special import betaincinv, ndtri, stdtrit

from preloadmc.errors import UsageError

METHODS = {
    "plain": "plain sampling",
    "importance": "importance sampling",
    "subset": "subset simulation",
}
"""How a probability is estimated: name and words."""

GROUP_METHODS = METHODS | {"shared": "importance sampling of what fasteners share"}
"""Those of a group of fasteners."""


@dataclass(frozen=True, slots=True)
class Probability:
    """An estimated probability with its interval and how it was obtained.

    `value` in [0, 1]; `low` and `high` enclose it at `confidence` (sampling error only);
    `method` is one of `METHODS`, or of `GROUP_METHODS`; `samples` are those behind `value`;
    `model_calls` counts search and sampling of the main estimator; `misses` is None where
    weights, not counts, make the estimate; `bound` is "upper" where no miss was seen;
    `reliable` is False where a diagnostic failed, and `note` then says which.
    """

    value: float
    low: float
    high: float
    confidence: float
    method: str
    samples: int
    model_calls: int
    misses: int | None = None
    bound: str | None = None
    reliable: bool = True
    note: str = ""

    def __post_init__(self) -> None:
        if not 0.0 <= self.low <= self.value <= self.high <= 1.0:
            raise ValueError(
                f"a probability needs 0 <= low <= value <= high <= 1, "
                f"given {self.low}, {self.value}, {self.high}"
            )

    @property
    def beta(self) -> float:
        """Reliability index, -Phi^-1(value) (EN 1990:2002, C.3); infinite at zero.

        >>> print(f"{Probability(7.235e-5, 7e-5, 8e-5, 0.95, 'plain', 1, 1).beta:.2f}")
        3.80
        """
        return reliability_index(self.value)

    @property
    def per_million(self) -> float:
        """Misses per million fasteners."""
        return 1e6 * self.value

    def noted(self, note: str, *, reliable: bool = True) -> Probability:
        """Return the estimate with a further note; not ``reliable`` where that is a doubt."""
        notes = "; ".join(part for part in (self.note, note) if part)
        return replace(self, note=notes, reliable=self.reliable and reliable)

    @property
    def relative_half_width(self) -> float:
        """Half of the interval's width over the value; infinite at zero."""
        return (self.high - self.low) / (2.0 * self.value) if self.value > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class Difference:
    """Probability of a miss of one alternative minus that of another, on common samples."""

    value: float
    low: float
    high: float
    confidence: float
    samples: int

    @property
    def resolved(self) -> bool:
        """Whether the interval keeps clear of zero: the samples tell the two apart."""
        return self.low > 0.0 or self.high < 0.0


def reliability_index(probability: float) -> float:
    """Return -Phi^-1(probability) (EN 1990:2002, C.3); infinite at zero.

    >>> f"{reliability_index(1.3008e-6):.2f}"
    '4.70'
    """
    return -float(ndtri(probability))


def clopper_pearson(misses: int, n: int, confidence: float) -> tuple[float, float]:
    """Exact two-sided interval of a probability from `misses` in `n` independent samples.

    C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404: beta quantiles at
    (1 -+ confidence)/2. Zero misses give `high` = 1 - ((1-confidence)/2)^(1/n).

    Parameters
    ----------
    misses, n : int
        Misses among n independent samples.
    confidence : float
        Of the two-sided interval, between 0 and 1.

    Returns
    -------
    low, high : float
        Ends of the interval; it covers with at least the stated confidence.

    >>> print("%.6f %.5f" % clopper_pearson(1, 20, 0.95))
    0.001265 0.24873
    """
    if not 0 <= misses <= n or n < 1:
        raise ValueError(f"misses must lie between 0 and n >= 1, given {misses} of {n}")
    _check_confidence(confidence)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if misses == 0 else float(betaincinv(misses, n - misses + 1, tail))
    if misses == 0:
        high = -math.expm1(math.log(tail) / n)
    elif misses == n:
        high = 1.0
    else:
        high = float(betaincinv(misses + 1, n - misses, 1.0 - tail))
    return low, high


def from_counts(
    misses: int, n: int, confidence: float = 0.95, model_calls: int | None = None
) -> Probability:
    """Plain estimate from `misses` in `n` independent samples, Clopper-Pearson interval.

    Parameters
    ----------
    misses, n : int
        Misses among n independent samples.
    confidence : float
        Of the two-sided interval, between 0 and 1.
    model_calls : int, optional
        What the samples cost; n unless given.

    Returns
    -------
    Probability
        With ``bound`` "upper" where nothing missed.
    """
    low, high = clopper_pearson(misses, n, confidence)
    return Probability(
        value=misses / n,
        low=low,
        high=high,
        confidence=confidence,
        method="plain",
        samples=n,
        model_calls=n if model_calls is None else model_calls,
        misses=misses,
        bound="upper" if misses == 0 else None,
    )


def multiplied_interval(
    value: float, cov: float, freedom: int, confidence: float
) -> tuple[float, float]:
    """Interval value·exp(-+ t cov), t Student's quantile: estimates scatter skewed.

    Parameters
    ----------
    value : float
        Estimate, at most 1.
    cov : float
        Its coefficient of variation.
    freedom : int
        Degrees of freedom behind that: independent batches or runs less one.
    confidence : float
        Of the two-sided interval.

    Returns
    -------
    low, high : float
        Ends within 0 and 1; both of them where nothing was seen.
    """
    if value == 0.0:
        return 0.0, 1.0
    factor = math.exp(min(float(stdtrit(freedom, 0.5 + confidence / 2.0)) * cov, 700.0))
    return value / factor, min(value * factor, 1.0)


def paired_difference(
    both: int, only_a: int, only_b: int, neither: int, confidence: float = 0.95
) -> Difference:
    """P(a misses) - P(b misses) from the four cells of common samples, score interval.

    T. Tango, Statistics in Medicine 17 (1998) 891: the differences D not rejected by

        |only_a - only_b - n D| / sqrt(n (2 q + D (1 - D))) <= z,

    q the likeliest share of `only_b` given D. It holds D = 0 exactly when McNemar's
    statistic (only_a - only_b)/sqrt(only_a + only_b) is within z, and stays wide enough
    with few or no discordant samples.

    Without discordant samples the ends are -+ z^2/(n + z^2):

    Parameters
    ----------
    both, only_a, only_b, neither : int
        Common samples in which both miss, a alone, b alone, none.
    confidence : float
        Of the two-sided interval.

    Returns
    -------
    Difference
        Probability of a miss of a minus that of b, with its interval.

    >>> d = paired_difference(3, 0, 0, 397)
    >>> print(f"{d.value:.0f} {d.low:.6f} {d.high:.6f} {1.959964**2 / (400 + 1.959964**2):.6f}")
    0 -0.009512 0.009512 0.009512
    """
    if min(both, only_a, only_b, neither) < 0 or both + only_a + only_b + neither < 1:
        raise ValueError("the four cells must be counts, at least one of them positive")
    _check_confidence(confidence)
    n = both + only_a + only_b + neither
    value = (only_a - only_b) / n
    z = float(ndtri(0.5 + confidence / 2.0))
    high = _score_limit(only_a, only_b, n, z)
    low = -_score_limit(only_b, only_a, n, z)
    return Difference(value, low, high, confidence, n)


def _score_limit(only_a: int, only_b: int, n: int, z: float) -> float:
    """Largest difference not rejected: bisection, the statistic falls as D grows."""
    inside, outside = (only_a - only_b) / n, 1.0
    for _ in range(64):  # halves the gap to the last digit
        middle = 0.5 * (inside + outside)
        b = (2 * n - only_a + only_b) * middle - only_a - only_b
        c = -only_b * middle * (1.0 - middle)
        q = (math.sqrt(b * b - 8.0 * n * c) - b) / (4.0 * n)
        spread = math.sqrt(max(n * (2.0 * q + middle * (1.0 - middle)), 0.0))
        if n * middle - (only_a - only_b) <= z * spread:
            inside = middle
        else:
            outside = middle
    return inside


def _check_confidence(confidence: float) -> None:
    if not 0.0 < confidence < 1.0:
        raise UsageError(f"confidence must lie between 0 and 1, given {confidence}")
