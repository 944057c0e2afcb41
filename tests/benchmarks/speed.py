# ruff: noqa: T201
"""How fast is plain sampling? Ratios within one run, for they alone outlive the machine.

Run by hand from the repository: ``python tests/benchmarks/speed.py``. Each figure is the best of
several repeats taken in turn, so that a busy moment strikes both sides.

- plain sampling, one thread: `cases/benchmark.toml` against OpenTURNS' probability simulation of
  the same inputs and the same formula as a symbolic function, block of 4096 (to reach: 2);
- two threads against one (to reach: 1.8);
- five shipped cases against numpy's own standard normal numbers for as many inputs, the least that
  plain sampling can cost (to reach: half of that speed);
- start-up of ``--help``, ``--version`` and ``check`` against that of Python with numpy.
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import openturns as ot

from preloadmc import load_case
from preloadmc.case import Case
from preloadmc.chance.streams import CHUNK, normal_chunk
from preloadmc.engine import sample

CASE = Path(__file__).parents[2] / "cases" / "benchmark.toml"
BLOCK = 4096
PROGRAM = "from preloadmc.cli.main import main; main()"


def seconds(work: Callable[[], object]) -> float:
    """Return the wall time of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def best_in_turn(repeats: int, *works: Callable[[], object]) -> list[float]:
    """Return the best wall time of each work, all called once in each round."""
    rounds = [[seconds(work) for work in works] for _ in range(repeats)]
    return [min(times) for times in zip(*rounds, strict=True)]


def symbolic(case: Case) -> tuple[ot.Distribution, ot.SymbolicFunction]:
    """Return the laws of the benchmark and the smallest of its two margins as one formula."""
    thread, laws = case.joint.thread, case.laws
    means = {name: law.mean for name, law in laws.items()}
    spreads = {name: law.sd for name, law in laws.items()}

    def normal(name: str) -> ot.Distribution:
        return ot.Normal(means[name], spreads[name])

    def lognormal(name: str) -> ot.Distribution:
        return ot.LogNormalMuSigma(means[name], spreads[name], 0.0).getDistribution()

    joint = ot.JointDistribution(
        [
            normal("tightening.tool"),
            lognormal("friction.thread"),
            lognormal("friction.bearing"),
            normal("fastener.yield_strength"),
            normal("joint.compliance"),
            lognormal("settling.embedding"),
            normal("settling.relaxation"),
        ]
    )
    # Torque in the thread per preload: d2/2 tan(phi + rho'), with the tangents of both angles.
    lead = thread.pitch / (math.pi * thread.pitch_diameter)
    rubs = f"{1 / math.cos(math.radians(30))!r}*mt"
    arm = f"({thread.pitch_diameter / 2!r}*({lead!r}+{rubs})/(1-{lead!r}*{rubs}))"
    per_preload = f"({arm}+{means['fastener.bearing_diameter'] / 2!r}*mb)"
    assembled = f"({means['tightening.torque']!r}*e/{per_preload})"
    under = f"({assembled}-fz/delta)*(1-r)-{means['requirement.minimum_preload']!r}"
    # sqrt(3) tau = F sqrt(3) 12/(pi d0³) arm
    torsion = math.sqrt(3) * 12 / (math.pi * thread.stress_diameter**3) * thread.stress_area
    most = (
        f"{case.requirement.yield_fraction * thread.stress_area!r}*rp/sqrt(1+({torsion!r}*{arm})^2)"
    )
    names = ["e", "mt", "mb", "rp", "delta", "fz", "r"]
    return joint, ot.SymbolicFunction(names, [f"min({under},{most}-{assembled})"])


def check_formula(case: Case, joint: ot.Distribution, formula: ot.SymbolicFunction) -> None:
    """Stop unless both compute the same probability."""
    ours = sample(case, seed=1, samples=1_000_000, precision=None, threads=2)
    theirs = simulated(joint, formula, 1_000_000)
    both = [ours.probability("outside_window").value, theirs]
    print(f"probability outside the window: {both[0]:.3e}, OpenTURNS {both[1]:.3e}")
    spread = 5 * math.sqrt(2 * both[0] / 1_000_000)
    if abs(both[0] - both[1]) > spread:
        sys.exit("the two do not compute the same")


def simulated(joint: ot.Distribution, formula: ot.SymbolicFunction, n: int) -> float:
    """Return the probability by OpenTURNS' plain simulation of n samples."""
    event = ot.ThresholdEvent(
        ot.CompositeRandomVector(formula, ot.RandomVector(joint)), ot.Less(), 0.0
    )
    simulation = ot.ProbabilitySimulationAlgorithm(event, ot.MonteCarloExperiment())
    simulation.setBlockSize(BLOCK)
    simulation.setMaximumOuterSampling(n // BLOCK)
    simulation.setMaximumCoefficientOfVariation(0.0)
    simulation.run()
    return float(simulation.getResult().getProbabilityEstimate())


def sampling(samples: int, repeats: int) -> None:
    """Print the two ratios of plain sampling."""
    case = load_case(CASE)
    joint, formula = symbolic(case)
    check_formula(case, joint, formula)

    def ours(threads: int) -> Callable[[], object]:
        return lambda: sample(case, seed=1, samples=samples, precision=None, threads=threads)

    one, two, theirs = best_in_turn(
        repeats, ours(1), ours(2), lambda: simulated(joint, formula, samples)
    )
    for name, wall in (("one thread", one), ("two threads", two), ("OpenTURNS", theirs)):
        print(f"{name:<12} {samples / wall / 1e6:6.2f} M samples/s")
    print(f"OpenTURNS over one thread   {theirs / one:5.2f}   (to reach 2)")
    print(f"one thread over two threads {one / two:5.2f}   (to reach 1.8)")


def shares_of_limit(samples: int, repeats: int) -> None:
    """Print how near plain sampling of shipped cases comes to drawing normal numbers alone."""
    chunks = -(-samples // CHUNK)
    print("share of the speed of numpy's own normal numbers, one thread (to reach 50 %)")
    for name in ("benchmark", "conveyor_bracket", "pump_cover", "sensor_lid", "crane_bracket"):
        case = load_case(CASE.with_name(f"{name}.toml"))

        def numbers(columns: int = len(case.uncertain)) -> None:
            for k in range(chunks):
                normal_chunk(1, k, CHUNK, columns)

        def ours(case: Case = case) -> None:
            sample(case, seed=1, samples=chunks * CHUNK, precision=None, threads=1)

        limit, wall = best_in_turn(repeats, numbers, ours)
        kinds = sorted({case.laws[each].kind for each in case.uncertain})
        print(f"{name:<18} {100 * limit / wall:3.0f} %   laws: {', '.join(kinds)}")


def start_up(repeats: int) -> None:
    """Print the start-up of three commands over that of Python with numpy."""

    def process(code: str, *arguments: str) -> Callable[[], object]:
        command = [sys.executable, "-c", code, *arguments]
        return lambda: subprocess.run(command, check=True, capture_output=True)

    bare, *ours = best_in_turn(
        repeats,
        process("import numpy"),
        process(PROGRAM, "--version"),
        process(PROGRAM, "--help"),
        process(PROGRAM, "check", str(CASE)),
        process(PROGRAM, "run", str(CASE), "--samples", "1000000"),
    )
    print(f"{'import numpy':<24} {1e3 * bare:6.0f} ms")
    names = ("--version", "--help", "check", "run, 1e6 samples")
    for name, wall in zip(names, ours, strict=True):
        print(f"{name:<24} {1e3 * wall:6.0f} ms   {wall / bare:5.2f} times that")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--samples", type=int, default=4_000_000)
    parser.add_argument("--repeats", type=int, default=5)
    given = parser.parse_args()
    sampling(given.samples, given.repeats)
    shares_of_limit(given.samples // 4, given.repeats)
    start_up(given.repeats)
