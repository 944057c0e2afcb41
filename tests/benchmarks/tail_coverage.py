# ruff: noqa: T201
"""Coverage, flags and model calls of the tail estimators, per problem over many seeds.

Run by hand: python tests/benchmarks/tail_coverage.py [--seeds N] [--method M ...] [NAME ...].
Prints a markdown table. "calls" are those of search and sampling of the main estimator, median and
95th percentile; "real / said" is the scatter over seeds against the one reported by the interval.
"""

import argparse
import math
import platform
import sys
import time
from datetime import date
from pathlib import Path

import numpy as np
from scipy.special import stdtrit

from preloadmc.errors import EstimateError
from preloadmc.estimates.tail import tail_probability

sys.path.insert(0, str(Path(__file__).parents[1] / "estimates"))
from tail_problems import PROBLEMS

# degrees of freedom of the intervals
FREEDOM = {"plain": math.inf, "importance": 15, "subset": 9}

COLUMNS = (
    "problem",
    "d",
    "exact",
    "used",
    "covers %",
    "flag %",
    "either %",
    "mean/exact",
    "cov % real / said",
    "calls median / 95 %",
    "ms",
)


def row(problem, method, seeds):
    values, said, calls, methods = [], [], [], []
    covered = flagged = either = none = 0
    start = time.perf_counter()
    for seed in range(seeds):
        rng = np.random.default_rng(seed)
        try:
            tail = tail_probability(problem.margins, problem.d, rng=rng, method=method)
        except EstimateError:
            none += 1
            continue
        p = tail.probability
        inside = p.low <= problem.p <= p.high
        covered += inside
        flagged += not p.reliable
        either += inside or not p.reliable
        values.append(p.value)
        said.append(p.relative_half_width / stdtrit(FREEDOM[p.method], 0.975))
        calls.append(p.model_calls)
        methods.append(p.method)
    ms = 1e3 * (time.perf_counter() - start) / seeds
    if not values:
        return f"| {problem.name} | {problem.d} | {problem.p:.3g} | no design point | | | | | | |"
    n = len(values)
    used = ", ".join(
        f"{name} {100 * methods.count(name) / n:.0f} %" for name in sorted(set(methods))
    )
    real = np.std(values) / np.mean(values)
    cells = [
        problem.name + ("" if problem.listed else " *"),
        f"{problem.d}",
        f"{problem.p:.3g}",
        used,
        f"{100 * covered / n:.1f}",
        f"{100 * flagged / n:.1f}",
        f"{100 * (either + none) / seeds:.1f}",
        f"{np.mean(values) / problem.p:.3f}",
        f"{100 * real:.1f} / {100 * np.median(said):.1f}",
        f"{np.median(calls):.0f} / {np.quantile(calls, 0.95):.0f}",
        f"{ms:.0f}",
    ]
    return f"| {' | '.join(cells)} |"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*")
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--method", nargs="*", default=["choice", "importance"])
    options = parser.parse_args()
    print(f"{date.today()}, {platform.machine()}, numpy {np.__version__}, {options.seeds} seeds;")
    print("* = not among the problems whose flag must stay down")
    for method in options.method:
        print(f"\nMethod: {method}\n")
        print(f"| {' | '.join(COLUMNS)} |")
        print("|---" * len(COLUMNS) + "|")
        for name, problem in PROBLEMS.items():
            if not options.names or name in options.names:
                forced = None if method == "choice" else method
                print(row(problem, forced, options.seeds), flush=True)


if __name__ == "__main__":
    main()
