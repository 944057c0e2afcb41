"""Quantiles of the beta law at standard normal numbers, from a fine table.

The inverse of the incomplete beta function takes a microsecond a value, and scipy's gives NaN for
some shapes (1.03 and 0.25 in scipy 1.17). The logit of the quantile, as a function of the
normal number, is nearly a parabola: a cubic through a few thousand exact values and slopes is
good to one part in 10^8 in both tails, and far better unless both shapes are small, in a tenth of
the time.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import scipy

from preloadmc.units import Array

_REACH = 12.5
_INTERVALS = 2048
_STEP = 2.0 * _REACH / _INTERVALS


def beta_logit(z: Array, alpha: float, beta: float) -> Array:
    """Return ln(t/(1 - t)) of the beta quantile t at each standard normal number.

    Beyond ±12.5 it goes on in a straight line.
    """
    logit, slope, second, third = _cubics(alpha, beta)
    within = np.clip(z, -_REACH, _REACH)
    place = (within + _REACH) / _STEP
    i = np.minimum(place.astype(np.int64), _INTERVALS - 1)
    s = place - i
    y: Array = logit[i] + s * (slope[i] + s * (second[i] + s * third[i]))
    beyond = z - within
    if beyond.any():
        ends = slope[np.where(z < 0.0, 0, -1)] / _STEP
        y += np.where(beyond == 0.0, 0.0, ends * beyond)
    return y


@lru_cache(maxsize=64)
def _cubics(alpha: float, beta: float) -> tuple[Array, Array, Array, Array]:
    """Coefficients of the cubic in each interval, in the share of the interval passed."""
    z = np.linspace(-_REACH, _REACH, _INTERVALS + 1)
    half = _INTERVALS // 2
    lower = _logits_below_median(z[: half + 1], alpha, beta)
    upper = -_logits_below_median(z[: half + 1], beta, alpha)[::-1]
    y = np.concatenate([lower, upper[1:]])
    # dy/dz = φ(z) B(α, β)/(t^α (1 - t)^β)
    log_slope = (
        scipy.special.betaln(alpha, beta)
        - alpha * scipy.special.log_expit(y)
        - beta * scipy.special.log_expit(-y)
        - 0.5 * z * z
    )
    slope = np.exp(log_slope) * (_STEP / math.sqrt(2.0 * math.pi))
    rise, start, end = np.diff(y), slope[:-1], slope[1:]
    return y[:-1], start, 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise


def _logits_below_median(z: Array, alpha: float, beta: float) -> Array:
    """Logits of the quantiles at normal numbers up to zero.

    The logarithm of the share below is concave in the logit, so Newton's steps come from below
    without fail once there; halving the interval leads there where the share underflows.
    """
    target = scipy.special.log_ndtr(z)
    log_beta = scipy.special.betaln(alpha, beta)
    # Next to the end t^α/(α B(α, β)) is all there is of the share.
    log_scale = math.log(alpha) + log_beta
    y = np.clip((target + log_scale) / alpha, *_BRACKET)
    below, above = np.full_like(z, _BRACKET[0]), np.full_like(z, _BRACKET[1])
    for _ in range(100):  # about ten for common shapes, forty for the largest
        log_share = np.where(y < -40.0, alpha * y - log_scale, _log_share(y, alpha, beta))
        above = np.where(log_share > target, y, above)
        below = np.where(log_share > target, below, y)
        with np.errstate(all="ignore"):
            log_density = (
                alpha * scipy.special.log_expit(y) + beta * scipy.special.log_expit(-y) - log_beta
            )
            guess = y - (log_share - target) / np.exp(log_density - log_share)
        inside = (below <= guess) & (guess <= above)
        step = np.where(inside, guess, 0.5 * (below + above)) - y
        y = y + step
        if np.all(np.abs(step) <= 1e-13 * (1.0 + np.abs(y))):
            break
    return y


def _log_share(logit: Array, alpha: float, beta: float) -> Array:
    """Logarithm of the share of a beta law below a logit, minus infinity where it underflows."""
    share = np.empty_like(logit)
    low = logit < 0.0
    share[low] = scipy.special.betainc(alpha, beta, scipy.special.expit(logit[low]))
    share[~low] = scipy.special.betaincc(beta, alpha, scipy.special.expit(-logit[~low]))
    with np.errstate(divide="ignore"):
        logarithm: Array = np.log(share)
    return logarithm


_BRACKET = (-2500.0, 100.0)
"""Logits between which every quantile from the table's lower end to the median lies."""
