# ruff: noqa: T201
"""What does a ranking cost? Ratios within one run, for they alone outlive the machine.

Run by hand from the repository: ``python tests/benchmarks/ranking.py``.

- Sobol' indices with intervals of 2^16 base points of the Ishigami function (T. Ishigami, T.
  Homma, Proc. ISUMA '90 (1990) 398) in nine inputs, six of them idle: time and memory against
  SALib's own design, analysis and bootstrap of a hundred resamples, and against its analysis and
  bootstrap alone, the design being ready (to reach: a third of both);
- ``--coverage N``: how often the 95 % intervals of Sobol' indices and Shapley shares hold the value
  in closed form, per index over N seeds, and their half width over the true error;
- miss shares: real scatter over many seeds against the interval's, at 1e-2 and 1e-6.
"""

from __future__ import annotations

import argparse
import math
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from scipy.special import ndtr, ndtri

from preloadmc.estimates.importance import failure_sample
from preloadmc.estimates.miss_shares import miss_shares
from preloadmc.estimates.mixture import Mixture, NormalAround
from preloadmc.estimates.shapley import shapley_shares
from preloadmc.estimates.sobol import sobol_indices
from preloadmc.units import Array

sys.path.insert(0, str(Path(__file__).parents[1] / "estimates"))
from test_shapley import CORRELATION, SLOPES, exact_shares, linear

COLUMNS = 9
BASE = 2**13  # of each of eight designs
NAMES = [f"x{i}" for i in range(COLUMNS)]
PROBLEM = {"num_vars": COLUMNS, "names": NAMES, "bounds": [[0.0, 1.0]] * COLUMNS}


def ishigami(z: Array) -> Array:
    """Return the function's values (n,) of standard normals (n, d)."""
    x = np.pi * (2.0 * ndtr(z[:, :3]) - 1.0)
    value: Array = (
        np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    )
    return value


def ours() -> None:
    """Indices and intervals from the values that the indices use."""
    sobol_indices(ishigami, NAMES, seed=1, base_samples=BASE)


def bootstrap() -> None:
    """Indices and intervals by SALib alone."""
    from SALib.sample import sobol as design

    unit = design.sample(PROBLEM, 8 * BASE, calc_second_order=False, seed=1)
    _resampled(ishigami(ndtri(np.clip(unit, 2.0**-53, 1.0 - 2.0**-53))))


def analysis() -> None:
    """Indices and intervals by SALib from values that cost nothing."""
    _resampled(np.random.default_rng(1).standard_normal(8 * BASE * (COLUMNS + 2)))


def _resampled(values: Array) -> None:
    from SALib.analyze import sobol

    sobol.analyze(PROBLEM, values, calc_second_order=False, num_resamples=100, seed=1)


def nothing() -> None:
    """Import what both need."""
    import SALib.analyze.sobol
    import SALib.sample.sobol  # noqa: F401


WORKS = {work.__name__: work for work in (nothing, ours, bootstrap, analysis)}


def measured(name: str) -> tuple[float, float]:
    """Return seconds of processor and megabytes at most of one work in a process of its own."""
    code = [sys.executable, __file__, "--only", name]
    found = subprocess.run(code, check=True, capture_output=True, text=True).stdout.split()
    return float(found[0]), float(found[1])


def miss_scatter(p: float, seeds: int) -> None:
    """Print the real scatter of a share over that which the interval states."""
    beta, slopes = -float(ndtri(p)), np.array([0.8, 0.6])
    mixture = Mixture(
        2, (NormalAround(beta * slopes, np.empty((0, 2)), np.empty(0)),), np.array([0.9])
    )
    shares, halves = [], []
    for seed in range(seeds):
        rng = np.random.default_rng(seed)
        found = failure_sample(lambda z: (beta - z @ slopes)[:, None], mixture, size=4000, rng=rng)
        order = rng.permutation(len(found.z))
        result = miss_shares(found.z[order], found.weights[order], ["a", "b"])
        shares.append(result.share[0])
        halves.append(result.ordering.half(0) / result.ordering.quantile)
    print(
        f"share of a miss at {p:g}: {np.mean(shares):.4f}, real scatter "
        f"{np.std(shares, ddof=1) / math.sqrt(np.mean(np.square(halves))):.2f} of the stated one"
    )


G = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0])
SUM = np.array([1.0, 0.8, 0.5, 0.3, 0.1])
SPREAD = np.array([0.3, 0.2, 0.15, 0.1])


def g_function(z: Array) -> Array:
    """Return the function's values (n,): I. M. Sobol', Math. Comput. Simul. 55 (2001) 271."""
    value: Array = np.prod((np.abs(4.0 * ndtr(z) - 2.0) + G) / (1.0 + G), axis=1)
    return value


def product_indices(parts: Array) -> Array:
    """Return first and total indices (2k,) of a product of factors, variance over mean square."""
    whole = np.prod(1.0 + parts) - 1.0
    found: Array = np.concatenate([parts, parts * (1.0 + whole) / (1.0 + parts)]) / whole
    return found


def coverage(seeds: int) -> None:
    """Print how often intervals hold the value in closed form, and how wide they are."""
    squares = SUM**2 / np.sum(SUM**2)
    cases = {
        "g-function": (g_function, product_indices(1.0 / (3.0 * (1.0 + G) ** 2))),
        "sum": (lambda z: z @ SUM, np.concatenate([squares, squares])),
        "lognormal product": (
            lambda z: np.exp(z @ SPREAD),
            product_indices(np.expm1(SPREAD**2)),
        ),
    }
    for name, (model, exact) in cases.items():
        k = len(exact) // 2
        found = [sobol_indices(model, NAMES[:k], seed=seed) for seed in range(seeds)]
        values = np.array([[*each.first, *each.total] for each in found])
        highs = np.array([[*each.first_high, *each.total_high] for each in found])
        _covered(f"{name}, first and total", values, highs - values, exact)
    players = [[i] for i in range(len(SLOPES))]
    exact, model = exact_shares(SLOPES, CORRELATION, players), linear(SLOPES, CORRELATION)
    shares = [
        shapley_shares(
            model, NAMES[: len(SLOPES)], CORRELATION, samples=2048, rng=np.random.default_rng(seed)
        )
        for seed in range(seeds)
    ]
    values = np.array([each.share for each in shares])
    highs = np.array([each.high for each in shares])
    _covered("Shapley shares of dependent inputs", values, highs - values, exact)


def _covered(name: str, values: Array, halves: Array, exact: Array) -> None:
    covered = 100.0 * (np.abs(values - exact) <= halves).mean(axis=0)
    error = np.sqrt(np.square(values - exact).mean(axis=0))
    print(
        f"{name}: covered in {' '.join(f'{each:.1f}' for each in covered)} %; half width over "
        f"error {' '.join(f'{each:.2f}' for each in halves.mean(axis=0) / error)}; error "
        f"{' '.join(f'{100.0 * each:.2g}' for each in error)} points"
    )


def main() -> None:
    """Print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=WORKS)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--coverage", type=int, metavar="N")
    given = parser.parse_args()
    if given.coverage:
        coverage(given.coverage)
        return
    if given.only:
        nothing()
        start = time.process_time()
        WORKS[given.only]()
        used = time.process_time() - start
        print(used, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
        return
    best: dict[str, tuple[float, ...]] = {}
    for name in WORKS:
        rounds = [measured(name) for _ in range(given.repeats)]
        best[name] = tuple(min(column) for column in zip(*rounds, strict=True))
    idle = best["nothing"][1]
    time_used, memory = best["ours"][0], best["ours"][1] - idle
    print(f"ours: {time_used:.2f} s, {memory:.0f} MB above the imports")
    for name in ("bootstrap", "analysis"):
        other = best[name][1] - idle
        print(
            f"{name}: {best[name][0]:.2f} s, {other:.0f} MB; ours takes "
            f"{time_used / best[name][0]:.2f} of the time, {memory / other:.2f} of the memory"
        )
    for p in (1e-2, 1e-6):
        miss_scatter(p, given.seeds)


if __name__ == "__main__":
    main()
