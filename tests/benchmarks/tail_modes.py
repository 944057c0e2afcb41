# ruff: noqa: T201
"""Flags and silent errors of the tail estimators where a miss has many ways, over many seeds.

Run by hand: python tests/benchmarks/tail_modes.py [--seeds N] [--method M ...] [--budget B]
[NAME ...]. Prints a markdown table. "unresolved": the "not reliable" flag is up. "silent": it is
not, and the known value lies outside the interval at 99.9 %, which happens to a sound estimate in
one seed of a thousand. "calls" are those of the main estimator and of the check, medians.
"""

import argparse
import math
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from pathlib import Path

import numpy as np
from scipy.special import stdtrit

from preloadmc.errors import EstimateError
from preloadmc.estimates.probability import clopper_pearson
from preloadmc.estimates.tail import tail_probability

sys.path.insert(0, str(Path(__file__).parents[1] / "estimates"))
from mode_problems import MODE_PROBLEMS

# degrees of freedom of the intervals
FREEDOM = {"importance": 15, "subset": 9}
SURE = 0.999

COLUMNS = (
    "problem",
    "inputs",
    "known",
    "used",
    "covers %",
    "unresolved %",
    "silent %",
    "mean / known",
    "cov % real / said",
    "calls, check",
    "ms",
)


def wide(p):
    """The interval of an estimate at 99.9 % in place of 95 %."""
    if p.method == "plain":
        return clopper_pearson(p.misses, p.samples, SURE)
    f = FREEDOM[p.method]
    factor = (p.high / p.value) ** (stdtrit(f, 0.5 + SURE / 2) / stdtrit(f, 0.5 + p.confidence / 2))
    return p.value / factor, p.value * factor


def one(task):
    name, method, budget, seed = task
    problem = MODE_PROBLEMS[name]
    rng = np.random.default_rng(seed)
    start = time.perf_counter()
    try:
        found = tail_probability(problem.margins, problem.d, rng=rng, method=method, budget=budget)
    except EstimateError:
        return None
    return found.probability, found.check_calls, time.perf_counter() - start


def row(name, outcomes):
    problem = MODE_PROBLEMS[name]
    found = [outcome for outcome in outcomes if outcome is not None]
    cells = [name + ("" if problem.tuned else " *"), f"{problem.d}", f"{problem.p:.3g}"]
    if not found:
        return f"| {' | '.join([*cells, 'no design point'])} | | | | | | | |"
    n = len(outcomes)
    ps = [p for p, _, _ in found]
    methods = [p.method for p in ps]
    flags = sum(not p.reliable for p in ps) + n - len(found)
    silent = sum(p.reliable and not wide(p)[0] <= problem.p <= wide(p)[1] for p in ps)
    values = np.array([p.value for p in ps])
    said = [
        p.relative_half_width / stdtrit(FREEDOM.get(p.method, math.inf), 0.975)
        for p in ps
        if p.value
    ]
    cells += [
        ", ".join(f"{m} {100 * methods.count(m) / n:.0f} %" for m in sorted(set(methods))),
        f"{100 * sum(p.low <= problem.p <= p.high for p in ps) / n:.1f}",
        f"{100 * flags / n:.1f}",
        f"{100 * silent / n:.1f}",
        f"{values.mean() / problem.p:.3f}",
        f"{100 * values.std() / values.mean():.1f} / {100 * np.median(said):.1f}",
        f"{np.median([p.model_calls for p in ps]):.0f}, {np.median([c for _, c, _ in found]):.0f}",
        f"{1e3 * np.mean([t for _, _, t in found]):.0f}",
    ]
    return f"| {' | '.join(cells)} |"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*")
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--budget", type=int, default=1_000_000)
    parser.add_argument("--method", nargs="*", default=["choice"])
    parser.add_argument("--tuned", action="store_true", help="leave out the others, marked *")
    options = parser.parse_args()
    print(f"{date.today()}, {platform.machine()}, numpy {np.__version__}, {options.seeds} seeds;")
    print("* = not among those that settings were chosen on")
    with ProcessPoolExecutor(2) as pool:
        for method in options.method:
            print(f"\nMethod: {method}, budget {options.budget}\n")
            print(f"| {' | '.join(COLUMNS)} |")
            print("|---" * len(COLUMNS) + "|")
            forced = None if method == "choice" else method
            for name, problem in MODE_PROBLEMS.items():
                if (options.names and name not in options.names) or (
                    options.tuned and not problem.tuned
                ):
                    continue
                seeds = range(options.first, options.first + options.seeds)
                tasks = [(name, forced, options.budget, seed) for seed in seeds]
                print(row(name, list(pool.map(one, tasks, chunksize=5))), flush=True)


if __name__ == "__main__":
    main()
