"""Test problems with many ways to a miss in one margin, or with ways that a search hardly sees.

All in standard normal space, with one margin column and a known probability: exact, or from a
mixture of half-spaces whose error is below a thousandth. `tuned` marks those on which the settings
of the estimators were chosen; the others were looked at only afterwards.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc, gammaincc, log_ndtr, ndtr, ndtri
from scipy.stats import ncx2
from tail_problems import PROBLEMS, preload_margin


@dataclass(frozen=True)
class ModeProblem:
    name: str
    d: int
    g: Callable[[np.ndarray], np.ndarray]
    p: float
    tuned: bool = True

    def margins(self, z):
        return self.g(z)[:, None]


def any_of(count, p):
    """Probability of any of so many independent events of probability p each."""
    return -math.expm1(count * math.log1p(-p))


def on_axes(count, beta, **more):
    """A plane across each of so many axes: independent."""
    return ModeProblem(
        f"{count} axes at {beta}",
        count,
        lambda z: beta - z.max(axis=1),
        any_of(count, float(ndtr(-beta))),
        **more,
    )


def both_ways_on_axes(d, beta, **more):
    """Planes across each axis both ways, ever farther along the axes: independent by axis."""
    betas = beta + np.linspace(0.0, 1.0, d)
    none = np.log1p(-2.0 * ndtr(-betas)).sum()
    return ModeProblem(
        f"{d} axes both ways",
        d,
        lambda z: (betas - np.abs(z)).min(axis=1),
        -math.expm1(none),
        **more,
    )


def cosine_valley(d, beta, depth, rate, tilt, **more):
    """A limit that waves along one input, lower on one side: several ways at unlike distances."""

    def limit(x):
        return beta + depth * (1.0 - np.cos(rate * x)) + tilt * x

    x, step = np.linspace(-12.0, 12.0, 24001, retstep=True)
    # P(z_1 > limit(z_0)), the outer integral by the trapezoidal rule
    p = float(np.sum(np.exp(-0.5 * x * x) * ndtr(-limit(x))) * step / math.sqrt(2.0 * math.pi))
    return ModeProblem(
        f"cosine valley in {d} inputs", d, lambda z: limit(z[:, 0]) - z[:, 1], p, **more
    )


def random_planes(count, d, beta, **more):
    """Planes at one distance in random directions."""
    rows = np.random.default_rng([count, d]).standard_normal((count, d))
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    return ModeProblem(
        f"{count} planes in {d} inputs",
        d,
        lambda z: beta - (z @ rows.T).max(axis=1),
        by_half_spaces(rows, beta),
        **more,
    )


def by_half_spaces(rows, beta, n=400_000):
    """P(any row @ z > beta): draws from the half-spaces in turn, over how many each lies in.

    E[1/S] sum p_i is the probability of the union, S the half-spaces that a draw lies in; its
    relative error is below 1/sqrt(n).
    """
    rng = np.random.default_rng(1)
    p = float(ndtr(-beta))
    z = rng.standard_normal((n, rows.shape[1]))
    mine = rows[np.arange(n) % len(rows)]
    along = -ndtri(p * rng.random(n))  # standard normal beyond beta
    z += (along - np.sum(z * mine, axis=1))[:, None] * mine
    return len(rows) * p * float(np.mean(1.0 / np.maximum((z @ rows.T >= beta).sum(axis=1), 1)))


def exponential_blocks(blocks, each, limit, **more):
    """Sums of exponentials in blocks of their own; the sum of n has a gamma law."""

    def g(z):
        sums = -log_ndtr(-z).reshape(len(z), blocks, each).sum(axis=2)
        return limit - sums.max(axis=1)

    return ModeProblem(
        f"{blocks} sums of {each} exponentials",
        blocks * each,
        g,
        any_of(blocks, float(gammaincc(each, limit))),
        **more,
    )


def ball(centre, radius):
    return float(ncx2.cdf(radius**2, len(centre), float(centre @ centre)))


def island(name, centre, radius, steep, beta, **more):
    """A plane at beta across the first axis, a ball of misses on its safe side.

    The ball's own margin is `steep` times the distance from it: a steep one is seen from near it
    only.
    """
    centre = np.array(centre)

    def g(z):
        away = np.linalg.norm(z - centre, axis=1) - radius
        return np.minimum(beta - z[:, 0], steep * away)

    assert centre[0] + radius < beta  # apart: the probabilities add
    return ModeProblem(name, len(centre), g, float(ndtr(-beta)) + ball(centre, radius), **more)


def hole(name, centre, radius, beta, **more):
    """The same with a ball that nothing around it gives away."""
    centre = np.array(centre)

    def g(z):
        inside = np.linalg.norm(z - centre, axis=1) < radius
        return np.where(inside, -1.0, beta - z[:, 0])

    return ModeProblem(name, len(centre), g, float(ndtr(-beta)) + ball(centre, radius), **more)


def shell(d, inner, outer, **more):
    """Misses between two spheres about the origin."""
    middle, half = 0.5 * (inner + outer), 0.5 * (outer - inner)
    return ModeProblem(
        f"shell in {d} inputs",
        d,
        lambda z: np.abs(np.linalg.norm(z, axis=1) - middle) - half,
        float(chdtrc(d, inner**2) - chdtrc(d, outer**2)),
        **more,
    )


def outside_ball(centre, radius, **more):
    """Misses outside a ball whose centre is not the origin."""
    centre = np.array(centre)
    return ModeProblem(
        f"outside a ball in {len(centre)} inputs",
        len(centre),
        lambda z: radius - np.linalg.norm(z - centre, axis=1),
        float(ncx2.sf(radius**2, len(centre), float(centre @ centre))),
        **more,
    )


def stairs(d, beta, height, width, **more):
    """A plane, with a step up or down wherever another direction crosses a multiple of `width`."""
    along, across = np.ones(d) / math.sqrt(d), np.zeros(d)
    across[0], across[1] = 1.0, -1.0
    across /= math.sqrt(2.0)

    def g(z):
        up = np.floor(z @ across / width) % 2.0
        return beta - z @ along + height * (2.0 * up - 1.0)

    edges = width * np.arange(-2 * round(10.0 / width), 2 * round(10.0 / width) + 1)
    share = np.diff(ndtr(edges))[1::2].sum()  # of the steps up
    p = share * ndtr(-beta - height) + (1.0 - share) * ndtr(-beta + height)
    return ModeProblem(f"plane with steps in {d} inputs", d, g, float(p), **more)


def rounded_preload(step, **more):
    """The preload above a minimum, rounded down to multiples of `step` [N]: the same misses."""
    return ModeProblem(
        "preload, rounded",
        7,
        lambda z: step * np.floor(preload_margin(z, 20650.0) / step),
        PROBLEMS["preload, 1e-6"].p,
        **more,
    )


def rough_preload(step, **more):
    """The preload with a ripple of steps of the first two inputs that vanishes at the limit."""

    def g(z):
        smooth = preload_margin(z, 20650.0)
        ripple = np.floor(25.0 * z[:, 0]) + np.floor(25.0 * z[:, 1])
        return smooth * (1.0 + step * (ripple % 2.0))

    return ModeProblem("preload with a ripple", 7, g, PROBLEMS["preload, 1e-6"].p, **more)


MODE_PROBLEMS = {
    problem.name: problem
    for problem in [
        on_axes(5, 4.5),
        on_axes(20, 4.3),
        on_axes(20, 4.8),
        on_axes(20, 5.3),
        random_planes(20, 6, 4.8),
        random_planes(60, 8, 5.0),
        island("island beside a plane", [-4.5, 0.0, 0.0, 0.0], 1.0, 1.0, 4.5),
        island("steep island", [-3.5, 2.0, 0.0], 0.7, 10.0, 4.5),
        shell(6, 6.2, 7.0),
        stairs(4, 4.5, 0.03, 0.1),
        on_axes(60, 5.0, tuned=False),
        both_ways_on_axes(10, 4.6, tuned=False),
        both_ways_on_axes(30, 4.6, tuned=False),
        cosine_valley(2, 4.5, 1.5, 2.5, 0.2, tuned=False),
        cosine_valley(6, 4.2, 3.0, 3.0, 0.4, tuned=False),
        random_planes(20, 12, 4.6, tuned=False),
        random_planes(5, 3, 4.2, tuned=False),
        exponential_blocks(5, 4, 17.0, tuned=False),
        island("island in 8 inputs", [-2.0, -3.5, 0, 0, 0, 0, 0, 0], 1.5, 2.0, 4.8, tuned=False),
        hole("hole", [-3.4, 2.4], 0.4, 4.6),
        outside_ball([0.4, 0.3, 0.0, 0.0, 0.0, 0.0], 6.4, tuned=False),
        rounded_preload(50.0, tuned=False),
        rough_preload(0.01, tuned=False),
    ]
}
