# ruff: noqa: T201
"""Bias, scatter, coverage and model calls of the estimates of groups, over many seeds.

Run by hand: python tests/benchmarks/group_coverage.py [--seeds N] [--further] [--levels P ...]
[--processes N]. Prints a markdown table. "Either": the interval covers, or the "not reliable" flag
is up. "Real / said": the scatter over seeds against the one that the intervals report. "Calls" are
those of the estimate, "check" those of its check, medians; a call is a fastener, of a network a
whole joint.
"""

import argparse
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "estimates"))
from group_problems import further_problems, problems

COLUMNS = (
    "problem",
    "single",
    "known",
    "used",
    "covers %",
    "flag %",
    "either %",
    "mean / known",
    "cov % real / said",
    "calls, check",
    "ms",
)


def one(further, level, place, seed):
    """One estimate in a process of its own: problems hold functions, which are not handed over."""
    problem = (further_problems if further else problems)(level)[place]
    start = time.perf_counter()
    found = problem.estimate(seed)
    return found.probability, found.check, time.perf_counter() - start


def row(problem, level, outcomes):
    ps = [p for p, _, _ in outcomes]
    methods = [p.method for p in ps]
    inside = np.array([p.low <= problem.p <= p.high for p in ps])
    flagged = np.array([not p.reliable for p in ps])
    values = np.array([p.value for p in ps])
    said = [np.log(p.high / p.low) / 2.0 / 2.2 for p in ps if p.low > 0.0]
    checks = [0 if check is None else check.model_calls for _, check, _ in outcomes]
    used = [f"{m} {100 * methods.count(m) / len(ps):.0f} %" for m in sorted(set(methods))]
    cells = [
        problem.name,
        f"{level:.0e}",
        f"{problem.p:.3g}",
        ", ".join(used),
        f"{100 * inside.mean():.1f}",
        f"{100 * flagged.mean():.1f}",
        f"{100 * (inside | flagged).mean():.1f}",
        f"{values.mean() / problem.p:.4f}",
        f"{100 * values.std() / values.mean():.1f} / {100 * np.median(said):.1f}",
        f"{np.median([p.model_calls for p in ps]):.0f}, {np.median(checks):.0f}",
        f"{1e3 * np.mean([spent for _, _, spent in outcomes]):.0f}",
    ]
    return f"| {' | '.join(cells)} |"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=500)
    parser.add_argument("--further", action="store_true")
    parser.add_argument("--levels", nargs="*", type=float, default=[1e-2, 1e-4, 1e-6])
    parser.add_argument("--processes", type=int, default=1)
    given = parser.parse_args()
    print(f"{date.today()}, {platform.machine()}, numpy {np.__version__}, {given.seeds} seeds\n")
    print(f"| {' | '.join(COLUMNS)} |")
    print("|---" * len(COLUMNS) + "|")
    with ProcessPoolExecutor(given.processes) as pool:
        for level in given.levels:
            listed = (further_problems if given.further else problems)(level)
            for place, problem in enumerate(listed):
                task = partial(one, given.further, level, place)
                outcomes = list(pool.map(task, range(given.seeds), chunksize=5))
                print(row(problem, level, outcomes), flush=True)


if __name__ == "__main__":
    main()
