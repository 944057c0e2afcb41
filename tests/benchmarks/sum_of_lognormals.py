# ruff: noqa: T201
"""Total clamp force of eight lognormal preloads, half of their variance in common, by plain draws.

Run by hand: python tests/benchmarks/sum_of_lognormals.py [--draws N] [--seed N]. The plain draws
are made here, in blocks, without the program. Prints a markdown table: the program's estimate with
its interval, what the draws count, the ratio of both with its standard error, and how many of these
it is off one.
"""

import argparse
import math
import platform
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import numpy as np
from scipy import stats

sys.path.insert(0, str(Path(__file__).parents[1] / "case_file"))
from case_text import case_text

from preloadmc import load_case
from preloadmc.judgement.joint_events import judged_joint

N, MEAN, COV, COMMON = 8, 40e3, 0.15, 0.5
LEVELS = (1e-3, 1e-4, 1e-5)
BLOCK = 2**18
# Of the logarithm of a preload.
SD = math.sqrt(math.log1p(COV**2))


def needed(p):
    """A total clamp force that is missed with a probability near p: a lognormal of equal moments.

    The covariance of two preloads is ``m²(exp(r s²) - 1)``, r = 1 of one with itself and else the
    share in common (L. F. Fenton, IRE Transactions CS-8 (1960) 57-67; from memory).
    """
    pair = math.expm1(COMMON * SD**2)
    square = (COV**2 + (N - 1) * pair) / N
    sd = math.sqrt(math.log1p(square))
    return N * MEAN * math.exp(sd * stats.norm.ppf(p) - 0.5 * sd**2)


def case_of(clamp, folder):
    """The case whose total clamp force is the sum: no settling, no load, preload as stated."""
    preload = {"law": "lognormal", "mean": f"{MEAN} N", "cov": COV}
    preload["shared"] = {"by": "lot", "fraction": COMMON}
    data = {
        "title": "Sum of lognormal preloads",
        "fastener": {"thread": "M12", "property_class": "10.9", "bearing_outer_diameter": "17 mm"},
        "friction": {"thread": 0.12, "bearing": 0.12},
        "tightening": {"method": "stated scatter", "preload": preload},
        "joint": {"fastener_compliance": "3 um/kN", "clamped_compliance": "1 um/kN"},
        "requirement": {"minimum_preload": "1 kN", "maximum_preload": "500 kN"},
        "group": {"fasteners": N, "minimum_total_clamp": f"{clamp} N"},
    }
    path = folder / "joint.toml"
    path.write_text(case_text(data), encoding="utf-8")
    return load_case(path)


def counted(clamps, draws, seed):
    """How many of so many joints hold less than each total clamp force."""
    rng = np.random.Generator(np.random.SFC64(seed))
    found = np.zeros(len(clamps), dtype=np.int64)
    own = np.empty((N, BLOCK))
    for first in range(0, draws, BLOCK):
        m = min(BLOCK, draws - first)
        rng.standard_normal(out=own)
        own *= SD * math.sqrt(1.0 - COMMON)
        own += SD * math.sqrt(COMMON) * rng.standard_normal(BLOCK)
        np.exp(own, out=own)
        total = MEAN * math.exp(-0.5 * SD**2) * own[:, :m].sum(axis=0)
        found += [np.count_nonzero(total < clamp) for clamp in clamps]
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--draws", type=int, default=100_000_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    clamps = [needed(p) for p in LEVELS]
    start = time.perf_counter()
    misses = counted(clamps, given.draws, given.seed)
    spent = time.perf_counter() - start
    print(f"{date.today()}, {platform.machine()}, numpy {np.__version__}")
    print(f"{given.draws:,} plain draws in {spent:.0f} s\n")
    print("| total clamp [kN] | estimate | 95 % interval | method | ms | plain | ratio | off |")
    print("|---" * 8 + "|")
    for clamp, count in zip(clamps, misses.tolist(), strict=True):
        with tempfile.TemporaryDirectory() as folder:
            case = case_of(clamp, Path(folder))
        start = time.perf_counter()
        judged = judged_joint(case, seed=given.seed, names=["total_clamp"])
        spent = time.perf_counter() - start
        found = judged.named("total_clamp").judged.probability
        plain = count / given.draws
        error = math.hypot(math.log(found.high / found.low) / 4.0, 1.0 / math.sqrt(max(count, 1)))
        ratio = found.value / max(plain, 1e-300)
        print(
            f"| {clamp / 1e3:.1f} | {found.value:.3e} | {found.low:.3e} to {found.high:.3e} | "
            f"{found.method} | {1e3 * spent:.0f} | {plain:.3e} | {ratio:.3f} ± {error:.3f} | "
            f"{(ratio - 1.0) / error:+.1f} |"
        )


if __name__ == "__main__":
    main()
