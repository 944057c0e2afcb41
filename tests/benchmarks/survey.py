# ruff: noqa: T201
"""How long does a register take, and are its numbers those of a run?

Run by hand from the repository: ``python tests/benchmarks/survey.py``. The rows are joints of
`cases/drive_line_joint.toml`: seven inputs, every limit judged, numbers of their own.

- one row: to read it, and to judge it among others, on one core (to reach: 3 ms together);
- two processes against one (to reach: 1.8, where two cores are free);
- ``--rows 100000``: the whole command, with its memory (to reach: 10 minutes, 500 MB);
- ``--against 300``: as many random rows against runs of each by itself;
- ``--cluster``: 10,000 rows on Dask with 1, 2 and 4 workers, and with one that is killed, bit for
  bit against this process; bytes on the wire.
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from preloadmc.case_file.register import Register, load_register
from preloadmc.judgement.rows import judged_alone
from preloadmc.questions.survey.batches import in_batches
from preloadmc.questions.survey.cluster import cluster_at
from preloadmc.questions.survey.judged import Survey, judged_batch
from preloadmc.questions.survey.workers import Workers, processes

CASE = Path(__file__).parents[2] / "cases" / "drive_line_joint.toml"
SEED = 1


def register_of(folder: Path, rows: int) -> Register:
    """Return a register of joints whose probabilities of a miss run from 1e-8 to 0.1."""
    rng = np.random.default_rng(11)
    lines = [
        "joint,lot,tool,tightening.torque [N·m],friction.thread.mean,friction.bearing.mean,"
        "requirement.minimum_preload [kN]"
    ]
    for n in range(rows):
        torque, thread, head, least = rng.uniform((41, 0.11, 0.11, 12), (47, 0.13, 0.13, 16))
        numbers = f"{torque:.1f},{thread:.4f},{head:.4f},{least:.1f}"
        lines.append(f"J{n},lot {n % 90},wrench {n % 7},{numbers}")
    path = folder / "register.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return load_register(path, CASE)


def judged(register: Register, workers: Workers) -> tuple[dict[str, object], float]:
    """Return the rows by key as they are judged, and the wall time."""
    found: dict[str, object] = {}

    def done(rows: list, results: list) -> None:
        found.update((row.key, each) for row, each in zip(rows, results, strict=True))

    def failed(row: object, words: str) -> None:
        print("failed:", row, words)

    task = Survey(register.templates, SEED)
    begun = time.perf_counter()
    with workers:
        in_batches(workers, judged_batch, task, register.rows, done=done, failed=failed)
    return found, time.perf_counter() - begun


def one_row(register: Register) -> None:
    """Print what reading and judging a row costs."""
    rows = register.rows[:600]
    (template,) = register.templates.values()
    begun = time.process_time()
    for row in rows:
        template.case_of(row)
    read = (time.process_time() - begun) / len(rows)
    task = Survey(register.templates, SEED)
    times = []
    for start in range(0, len(rows), 200):
        begun = time.process_time()
        found = judged_batch(task, rows[start : start + 200])
        times.append((time.process_time() - begun) / len(found))
    alone = sum(not each["together"] for each in found) / len(found)
    print(f"a row: read {1e3 * read:.2f} ms, read and judged {1e3 * min(times):.2f} ms")
    print(f"judged by themselves: {100 * alone:.1f} % of the last {len(found)}")


def two_processes(register: Register) -> None:
    """Print what a second process gains."""
    one, alone = judged(register, processes(1))
    # Started before: a process takes a second to import what it needs.
    both, together = judged(register, processes(2))
    print(f"{len(one):,} rows: one process {alone:.1f} s, two {together:.1f} s, "
          f"ratio {alone / together:.2f}; the same bits: {one == both}")  # fmt: skip


def against_runs(register: Register, count: int) -> None:
    """Print how rows agree with cases judged by themselves."""
    (template,) = register.templates.values()
    rows = register.rows[:count]
    found = judged_batch(Survey(register.templates, SEED), rows)
    ratios, apart, events, verdicts = [], 0, 0, 0
    for place, (row, each) in enumerate(zip(rows, found, strict=True)):
        alone = judged_alone(template.case_of(row), seed=1000 + place).judgement
        verdicts += each["verdict"] != alone.verdict
        for name, event in each["outcomes"].items():
            other = alone.named(name).probability
            events += 1
            apart += event["low"] > other.high or event["high"] < other.low
            if event["probability"] > 0.0 and other.value > 0.0 and other.method != "plain":
                ratios.append(math.log(event["probability"] / other.value))
    print(f"{count} rows against cases alone: {apart} of {events} intervals apart, {verdicts} "
          f"verdicts differ, mean ratio {math.exp(np.mean(ratios)):.3f}, s.d. of its logarithm "
          f"{np.std(ratios):.2f} over {len(ratios)} rare outcomes")  # fmt: skip


def whole_command(rows: int) -> None:
    """Print time and memory of the command on many rows."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        register_of(folder, rows)
        program = "from preloadmc.cli.main import main; main()"
        command = [sys.executable, "-c", program, "survey", str(folder / "register.csv")]
        command += ["--template", str(CASE), "--out", str(folder / "out"), "--quiet"]
        begun = time.perf_counter()
        subprocess.run(command, check=True)
        took = time.perf_counter() - begun
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        sizes = {path.name: path.stat().st_size for path in (folder / "out").iterdir()}
        print(f"{rows:,} rows: {took:.0f} s, largest process {peak:.0f} MB")
        print(
            "files [MB]:", {key: round(size / 1e6, 1) for key, size in sizes.items() if size > 1e5}
        )


def on_cluster(register: Register) -> None:
    """Print times on Dask, and whether all bits are those of this process."""
    from distributed import LocalCluster

    own, took = judged(register, processes(1))
    print(f"this process: {took:.1f} s")
    options = {"threads_per_worker": 1, "dashboard_address": None, "silence_logs": 50}
    sent_before = loopback()
    for count in (1, 2, 4):
        with LocalCluster(n_workers=count, **options) as started:
            found, took = judged(register, cluster_at(started.scheduler_address))
        sent, sent_before = loopback() - sent_before, loopback()
        print(f"{count} workers: {took:.1f} s, {sent / 1e6:.1f} MB on the wire, "
              f"the same bits: {found == own}")  # fmt: skip
    with LocalCluster(n_workers=2, **options) as started:
        threading.Timer(0.3 * took, kill_one, [started]).start()
        found, took = judged(register, cluster_at(started.scheduler_address))
    print(f"2 workers, one killed: {took:.1f} s, the same bits: {found == own}")


def kill_one(started: object) -> None:
    """Kill a worker process of a cluster of this machine."""
    process = next(iter(started.workers.values())).pid
    os.kill(process, signal.SIGKILL)
    print(f"killed worker process {process}")


def loopback() -> int:
    """Return how many bytes went over the loopback device so far."""
    return int(Path("/sys/class/net/lo/statistics/tx_bytes").read_text(encoding="ascii"))


def main() -> None:
    """Print what is asked."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int)
    parser.add_argument("--against", type=int)
    parser.add_argument("--cluster", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        register = register_of(Path(name), 10_000 if asked.cluster else 2000)
        if asked.rows:
            whole_command(asked.rows)
        elif asked.against:
            against_runs(register, asked.against)
        elif asked.cluster:
            on_cluster(register)
        else:
            one_row(register)
            two_processes(register)


if __name__ == "__main__":
    main()
