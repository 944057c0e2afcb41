"""A bound where no miss is found: a sphere about the origin of z that holds none."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import chdtrc, chdtri

from preloadmc.estimates.extreme_points import extreme_points, start_directions
from preloadmc.estimates.margins import Margins
from preloadmc.units import Array

# Spheres that are searched up to the outermost: a miss may lie within it and none upon it.
_SPHERES = 8
# The outermost is so much larger than what is asked needs, so that the bound is below it.
_LARGER = 1.01


def excluded_sphere(
    margins: Margins, d: int, asked: float, *, rng: np.random.Generator
) -> tuple[float, float] | None:
    """Return the radius of a sphere without misses, and the bound that it puts on their share.

    Misses outside a sphere of radius R are no more than P(|z| > R), the chi-square tail at R² with
    d degrees of freedom (A. Harbitz, Structural Safety 3 (1986) 109). The worst points of eight
    spheres are searched; the bound rests on that search.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m); smooth.
    d : int
        Number of inputs.
    asked : float
        The probability that the bound is to lie below.

    Returns
    -------
    tuple of float, or None
        None where a miss lies within the sphere that ``asked`` needs.
    """

    def score(z: Array) -> Array:
        worst: Array = -margins(z).min(axis=1)
        return worst

    radius = _LARGER * math.sqrt(chdtri(d, asked))
    radii = np.linspace(radius / _SPHERES, radius, _SPHERES)
    found = extreme_points(score, list(radii), start_directions(score, d, rng=rng))
    if max(point.level for points in found for point in points) >= 0.0:
        return None
    return radius, float(chdtrc(d, radius**2))
