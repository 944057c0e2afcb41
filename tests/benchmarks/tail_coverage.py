# ruff: noqa: T201
"""Coverage, flags, silent errors and model calls of the tail estimators, over many seeds.

Run by hand: python tests/benchmarks/tail_coverage.py [--seeds N] [--method M ...] [--modes]
[NAME ...]. Prints a markdown table. "flag": the "not reliable" flag is up. "either": that, or the
interval covers. "silent": the flag is down and the known value lies outside the interval at 99.9 %,
which happens to a sound estimate in one seed of a thousand. "calls" are those of search and
sampling of the main estimator, median and 95th percentile; "check" those of the second estimate,
median; "real / said" is the scatter over seeds against the one reported by the interval.

--modes takes the problems with many ways to a miss in place of the listed ones. --counted N gives
the estimators so many plain samples whose misses are counted and not kept.
"""

import argparse
import math
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
from scipy.special import stdtrit

from preloadmc.errors import EstimateError
from preloadmc.estimates.plain import FirstLook
from preloadmc.estimates.probability import clopper_pearson
from preloadmc.estimates.tail import tail_probability

sys.path.insert(0, str(Path(__file__).parents[1] / "estimates"))
from mode_problems import MODE_PROBLEMS
from tail_problems import PROBLEMS

# degrees of freedom of the intervals
FREEDOM = {"plain": math.inf, "importance": 15, "subset": 9}
SURE = 0.999

COLUMNS = (
    "problem",
    "inputs",
    "known",
    "used",
    "covers %",
    "flag %",
    "either %",
    "silent %",
    "mean / known",
    "cov % real / said",
    "calls median / 95 %",
    "check",
    "ms",
)


def wide(p):
    """The interval of an estimate at 99.9 % in place of 95 %."""
    if p.method == "plain":
        return clopper_pearson(p.misses, p.samples, SURE)
    if p.value == 0.0:
        return p.low, p.high
    f = FREEDOM[p.method]
    factor = (p.high / p.value) ** (stdtrit(f, 0.5 + SURE / 2) / stdtrit(f, 0.5 + p.confidence / 2))
    return p.value / factor, p.value * factor


def estimate(problem, method, budget, counted, seed):
    rng = np.random.default_rng(seed)
    look = None
    if counted:
        look = FirstLook(rng.binomial(counted, problem.p), counted)
    start = time.perf_counter()
    try:
        found = tail_probability(
            problem.margins, problem.d, rng=rng, method=method, budget=budget, look=look
        )
    except EstimateError:
        return None
    return found.probability, found.check_calls, time.perf_counter() - start


def one(modes, name, method, budget, counted, seed):
    """One estimate in a process of its own: problems hold functions, which are not handed over."""
    return estimate((MODE_PROBLEMS if modes else PROBLEMS)[name], method, budget, counted, seed)


def row(problem, starred, outcomes):
    found = [outcome for outcome in outcomes if outcome is not None]
    cells = [problem.name + (" *" if starred else ""), f"{problem.d}", f"{problem.p:.3g}"]
    if not found:
        return f"| {' | '.join([*cells, 'no design point'])} | | | | | | | | | |"
    n, none = len(outcomes), len(outcomes) - len(found)
    ps = [p for p, _, _ in found]
    methods = [p.method for p in ps]
    flagged = np.array([not p.reliable for p in ps])
    inside = np.array([p.low <= problem.p <= p.high for p in ps])
    surely = np.array([wide(p)[0] <= problem.p <= wide(p)[1] for p in ps])
    values = np.array([p.value for p in ps])
    said = [p.relative_half_width / stdtrit(FREEDOM[p.method], 0.975) for p in ps if p.value]
    calls = [p.model_calls for p in ps]
    cells += [
        ", ".join(f"{m} {100 * methods.count(m) / n:.0f} %" for m in sorted(set(methods))),
        f"{100 * inside.sum() / n:.1f}",
        f"{100 * (flagged.sum() + none) / n:.1f}",
        f"{100 * ((inside | flagged).sum() + none) / n:.1f}",
        f"{100 * (~flagged & ~surely).sum() / n:.1f}",
        f"{values.mean() / problem.p:.3f}",
        f"{100 * values.std() / values.mean():.1f} / {100 * np.median(said):.1f}",
        f"{np.median(calls):.0f} / {np.quantile(calls, 0.95):.0f}",
        f"{np.median([c for _, c, _ in found]):.0f}",
        f"{1e3 * np.mean([t for _, _, t in found]):.0f}",
    ]
    return f"| {' | '.join(cells)} |"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*")
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--method", nargs="*", default=["choice"])
    parser.add_argument("--budget", type=int, default=1_000_000)
    parser.add_argument("--counted", type=int, default=0)
    parser.add_argument("--modes", action="store_true")
    parser.add_argument("--processes", type=int, default=1)
    given = parser.parse_args()
    problems = MODE_PROBLEMS if given.modes else PROBLEMS
    print(f"{date.today()}, {platform.machine()}, numpy {np.__version__}, {given.seeds} seeds;")
    print(f"* = not among those {'settings were chosen on' if given.modes else 'listed'}")
    seeds = range(given.first, given.first + given.seeds)
    with ProcessPoolExecutor(given.processes) as pool:
        for method in given.method:
            print(f"\nMethod: {method}, budget {given.budget}\n")
            print(f"| {' | '.join(COLUMNS)} |")
            print("|---" * len(COLUMNS) + "|")
            forced = None if method == "choice" else method
            for name, problem in problems.items():
                if given.names and name not in given.names:
                    continue
                task = partial(one, given.modes, name, forced, given.budget, given.counted)
                starred = not (problem.tuned if given.modes else problem.listed)
                print(row(problem, starred, list(pool.map(task, seeds, chunksize=5))), flush=True)


if __name__ == "__main__":
    main()
