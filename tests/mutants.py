# ruff: noqa: T201
"""Do the tests notice when a line is wrong?

Run by hand from the repository: ``python tests/mutants.py``. The script lists every small mistake
of four kinds that the package's calculating folders could hold, draws some of them by a seed, and
puts them one at a time into a copy of the repository. Tests that see the line are run there, those
that take least time first. What no test notices is listed.

Which test runs which line is measured once, with the coverage of each test, and kept in `--map`;
remove that folder after larger changes. Nothing is ever changed in the repository itself.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import itertools
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

import coverage
import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
FOLDERS = ("mechanics", "joint", "limits", "chance", "estimates", "questions")
# Field evidence has its own calibration by simulation, which takes too long to run so often.
LEFT_OUT = "preloadmc/questions/infer/"
# So many tests, and so many seconds of them, are run first, since they kill most mutants; the
# others are run after them.
FIRST = 60
FIRST_SECONDS = 10.0
# Seconds of tests that a mutant is held against at most: what survives them has to be looked at.
ENOUGH = 60.0
# A line that fewer tests run may run in shared fixtures, or while modules are imported.
FEW = 10

# What no test can or need notice, and is not drawn: modules, the line as a pattern, and why.
TUNED = "tuned on the benchmarks, which hold it: a tenth changes calls or scatter, and no answer"
EQUIVALENT = (
    ("estimates/*", r"^_?[A-Z_]+ = ", TUNED),
    ("questions/aim/s*", r"^_?[A-Z_]+ = ", TUNED),
    ("questions/aim/allowed_scatter.py", r"^_[A-Z]+ = ", TUNED),
    ("questions/control/question.py", r"^[A-Z]*_?(BLOCK|SAMPLES|PRECISION|INPUTS) = ", TUNED),
    ("questions/compare/question.py", r"^MOST_PLAIN = ", TUNED),
    ("questions/run/question.py", r"^FEW_SAMPLES = ", TUNED),
    ("questions/rank.py", r"^[A-Z]+_SAMPLES = ", TUNED),
    ("estimates/*", r"^    \w+: int = |least: int = ", "how much is drawn, unless it is said"),
)

OPPOSITE = {
    ast.Lt: ">=",
    ast.LtE: ">",
    ast.Gt: "<=",
    ast.GtE: "<",
    ast.Eq: "!=",
    ast.NotEq: "==",
    ast.Is: "is not",
    ast.IsNot: "is",
    ast.In: "not in",
    ast.NotIn: "in",
}
# The end point counts or does not: looked at where whole numbers are compared.
END_POINT = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">"}
SWAPPED = {
    ast.Add: "-",
    ast.Sub: "+",
    ast.Mult: "/",
    ast.Div: "*",
    ast.FloorDiv: "*",
    ast.Mod: "*",
    ast.Pow: "*",
    ast.BitOr: "&",
    ast.BitAnd: "|",
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """A wrong text in place of the bytes from `start` to `end` of a file."""

    path: str
    start: int
    end: int
    lines: range
    before: str
    after: str

    @property
    def words(self) -> str:
        """Return file and line, what stood there, and what stands there now."""
        shown = (" ".join(text.split()) for text in (self.before, self.after))
        return f"{self.path}:{self.lines.start}  {'  ->  '.join(text[:90] for text in shown)}"


class Source:
    """A module's text and tree, with the place of each node in bytes."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.text = (REPOSITORY / path).read_bytes()
        self.tree = ast.parse(self.text)
        self.lines = self.text.splitlines(keepends=True)
        self._starts = [0]
        for line in self.lines:
            self._starts.append(self._starts[-1] + len(line))

    def span(self, node: ast.expr) -> tuple[int, int]:
        """Return where a node begins and ends, in bytes."""
        end_line, end_column = node.end_lineno or node.lineno, node.end_col_offset or 0
        first = self._starts[node.lineno - 1] + node.col_offset
        return first, self._starts[end_line - 1] + end_column

    def words(self, node: ast.expr) -> str:
        """Return the text of a node."""
        start, end = self.span(node)
        return self.text[start:end].decode()

    def mutants(self) -> Iterator[Mutant]:
        """Yield every mutant of the module, those of `EQUIVALENT` left out."""
        for node in _calculating(self.tree):
            start, end = self.span(node)
            lines = range(node.lineno, (node.end_lineno or node.lineno) + 1)
            line = self.lines[node.lineno - 1].decode()
            for after in _mistakes(node, self.words):
                if not any(
                    fnmatch(self.path, f"preloadmc/{modules}") and re.search(pattern, line)
                    for modules, pattern, _ in EQUIVALENT
                ):
                    yield Mutant(self.path, start, end, lines, self.words(node), after)


def _calculating(node: ast.AST) -> Iterator[ast.expr]:
    """Yield the expressions that calculate or decide: no types, words, errors or decorators."""
    if isinstance(node, ast.Raise | ast.JoinedStr):
        return
    if isinstance(node, ast.FunctionDef) and node.name in ("__repr__", "__str__"):
        return
    if isinstance(node, ast.Assign) and any(
        isinstance(target, ast.Name) and target.id == "__slots__" for target in node.targets
    ):
        return
    if isinstance(node, ast.BinOp | ast.Compare | ast.Constant | ast.UnaryOp):
        yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _calculating(child)


def _mistakes(node: ast.expr, words) -> Iterator[str]:
    """Yield what may stand wrongly in place of an expression."""
    if isinstance(node, ast.Constant):
        if type(node.value) in (int, float):
            yield _changed(node.value)
    elif isinstance(node, ast.UnaryOp):
        if isinstance(node.op, ast.USub) and not isinstance(node.operand, ast.Constant):
            yield f"({words(node.operand)})"
    elif isinstance(node, ast.Compare):
        if len(node.ops) == 1:
            left, right = words(node.left), words(node.comparators[0])
            yield f"(({left}) {OPPOSITE[type(node.ops[0])]} ({right}))"
            whole = any(_is_whole(side) for side in (node.left, node.comparators[0]))
            if whole and type(node.ops[0]) in END_POINT:
                yield f"(({left}) {END_POINT[type(node.ops[0])]} ({right}))"
    elif isinstance(node, ast.BinOp) and type(node.op) in SWAPPED and not _holds_words(node):
        left, right = words(node.left), words(node.right)
        yield f"(({left}) {SWAPPED[type(node.op)]} ({right}))"
        if isinstance(node.op, ast.Add | ast.Sub | ast.Mult | ast.Div):
            yield f"({left})"
        if isinstance(node.op, ast.Add | ast.Mult):
            yield f"({right})"
        if isinstance(node.op, ast.Sub):
            yield f"(-({right}))"


def _changed(value: float) -> str:
    """A number a tenth larger, a whole one by one at least; one in place of 0.0."""
    if isinstance(value, int):
        return str(value + max(1, value // 10))
    return repr(value * 1.1 if value and value * 1.1 != value else 1.0)


def _is_whole(node: ast.expr) -> bool:
    counted = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    return (isinstance(node, ast.Constant) and type(node.value) is int) or (
        counted and node.func.id == "len"
    )


def _holds_words(node: ast.expr) -> bool:
    """Whether a sum joins texts, lists or types, where a mistake would not even start."""
    if isinstance(node, ast.BinOp):
        return _holds_words(node.left) or _holds_words(node.right)
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str) or node.value is None
    return isinstance(node, ast.JoinedStr | ast.List | ast.Tuple)


class TestMap:
    """Which tests run which line, and how long each takes, as measured once."""

    def __init__(self, folder: Path) -> None:
        if not (folder / "seconds").exists():
            _measure(folder)
        self._data = coverage.CoverageData(str(folder / "coverage"))
        self._data.read()
        shown = (folder / "seconds").read_text(encoding="utf-8")
        contexts = self._data.measured_contexts()
        # Tests that take next to no time are not listed among the durations.
        self.seconds = {
            each.removesuffix("|run"): 0.0 for each in contexts if each.endswith("|run")
        }
        for spent, test in re.findall(
            r"^(\d+\.\d+)s (?:call|setup) +(\S+::.*)$", shown, re.MULTILINE
        ):
            self.seconds[test.rstrip()] = self.seconds.get(test.rstrip(), 0.0) + float(spent)
        for test in re.findall(r"^(?:FAILED|ERROR) (\S+::.*?)(?: - .*)?$", shown, re.MULTILINE):
            del self.seconds[test]
            print("left out, since it fails without a mistake:", test)
        self._measured = {
            path[path.rindex("preloadmc/") :]: path for path in self._data.measured_files()
        }
        self._lines: dict[str, dict[int, list[str]]] = {}
        self._by_file: dict[str, list[str]] = {}
        for test in self.seconds:
            self._by_file.setdefault(test.partition("::")[0], []).append(test)

    def of_lines(self, path: str, lines: range | None = None) -> set[str]:
        """Return the tests that run any of the lines, or any line of the module."""
        if path not in self._lines:
            measured = self._measured.get(path)
            self._lines[path] = self._data.contexts_by_lineno(measured) if measured else {}
        ran = self._lines[path]
        found = set()
        for context in {each for line in lines or ran for each in ran.get(line, ())}:
            test, _, phase = context.rpartition("|")
            if phase == "run":
                found.add(test)
        return found & self.seconds.keys()

    def cheapest(self, count: int) -> list[str]:
        """Return the tests that take least time."""
        return sorted(self.seconds, key=lambda test: (self.seconds[test], test))[:count]

    def naming(self, word: str) -> set[str]:
        """Return the tests of files that hold a word."""
        return {
            test
            for path, tests in self._by_file.items()
            if re.search(rf"\b{word}\b", (REPOSITORY / path).read_text(encoding="utf-8"))
            for test in tests
        }


def _measure(folder: Path) -> None:
    """Run all tests once, with coverage by test."""
    print("measuring which test runs which line; this takes some minutes", flush=True)
    folder.mkdir(parents=True, exist_ok=True)
    with _copied() as copy:
        options = "-n 2 -vv --durations=0 --cov=preloadmc --cov-context=test --cov-report="
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *options.split()],
            cwd=copy,
            env={**_environment(copy), "COVERAGE_FILE": str(folder / "coverage")},
            capture_output=True,
            text=True,
            check=False,
        )
    (folder / "seconds").write_text(done.stdout, encoding="utf-8")


@contextlib.contextmanager
def _copied() -> Iterator[Path]:
    """Copy what the tests need into a folder that goes again at the end."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=True,
    )
    with tempfile.TemporaryDirectory(prefix="mutants-") as held:
        for name in listed.stdout.splitlines():
            if (REPOSITORY / name).is_file():
                target = Path(held) / name
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(REPOSITORY / name, target)
        yield Path(held)


def _environment(copy: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(copy)}


def tests_that_see(mutant: Mutant, tests: TestMap) -> list[str]:
    """Return the tests that run the lines of a mutant, the likeliest to notice it first.

    Where few do, since a line runs in shared fixtures or while modules are imported, all that run
    or name the module are asked after them. Tests of the module's own folder count as ten times
    quicker than they are. Beyond `ENOUGH` no more are returned.
    """
    running = tests.of_lines(mutant.path, mutant.lines)
    others = set[str]()
    if len(running) < FEW:
        others = tests.of_lines(mutant.path) | tests.naming(Path(mutant.path).stem)
    own = f"tests/{mutant.path.split('/')[1]}/"

    def cost(test: str) -> tuple[float, str]:
        return tests.seconds[test] * (0.1 if own in test else 1.0), test

    ordered = sorted(running, key=cost) + sorted(others - running, key=cost)
    spent = itertools.accumulate(tests.seconds[test] for test in ordered)
    return [test for test, so_far in zip(ordered, spent, strict=True) if so_far < ENOUGH]


def outcome(mutant: Mutant, chosen: list[str], copy: Path, tests: TestMap) -> str:
    """Return "killed", "survived" or "timeout" for a mutant put into the copy."""
    target = copy / mutant.path
    right = target.read_bytes()
    try:
        _write(target, right[: mutant.start] + mutant.after.encode() + right[mutant.end :])
        spent = itertools.accumulate(tests.seconds[test] for test in chosen)
        first = min(FIRST, sum(so_far < FIRST_SECONDS for so_far in spent) + 1)
        for some in (chosen[:first], chosen[first:]):
            if some and (found := run(some, copy, tests)) != "survived":
                return found
        return "survived"
    finally:
        _write(target, right)


def _write(target: Path, text: bytes) -> None:
    """Write a module without the compiled one, which would pass for it within the same second."""
    target.write_bytes(text)
    for compiled in (target.parent / "__pycache__").glob(f"{target.stem}.*.pyc"):
        compiled.unlink()


def run(chosen: list[str], copy: Path, tests: TestMap) -> str:
    """Run tests in the copy until one fails."""
    seconds = 60 + 5 * sum(tests.seconds[test] for test in chosen)
    code, said = _run(chosen, copy, seconds)
    # Tests that are made for each row of a table may have gone with the row.
    gone = set(re.findall(rf"not found: {re.escape(str(copy))}/(.*)", said))
    if gone:
        there = [test for test in chosen if test not in gone]
        code, _ = _run(there, copy, seconds) if there else (pytest.ExitCode.OK, "")
    return {None: "timeout", pytest.ExitCode.OK: "survived"}.get(code, "killed")


def _run(asked: list[str], copy: Path, seconds: float) -> tuple[int | None, str]:
    """Return the exit code of pytest, None where it did not end in time, and what it said."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *asked]
    with subprocess.Popen(
        command,
        cwd=copy,
        env=_environment(copy),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    ) as process:
        try:
            said, _ = process.communicate(timeout=seconds)
            return process.returncode, said
        except subprocess.TimeoutExpired:
            return None, ""
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)


def report(outcomes: dict[Mutant, str]) -> None:
    """Print the share killed by folder, and what survived."""
    print("\n| folder | mutants | killed | out of time | survived | killed, % |")
    print("|---|---|---|---|---|---|")
    counts = Counter((mutant.path.split("/")[1], found) for mutant, found in outcomes.items())
    for folder in (*FOLDERS, "all"):
        found = Counter[str]()
        for (where, what), n in counts.items():
            found[what] += n if folder in (where, "all") else 0
        killed, late, survived = (found[word] for word in ("killed", "timeout", "survived"))
        number = killed + late + survived
        if number:
            share = 100 * (killed + late) / number
            print(f"| {folder} | {number} | {killed} | {late} | {survived} | {share:.1f} |")
    for mutant, found in outcomes.items():
        if found == "survived":
            print(mutant.words)


def main() -> None:
    """Draw mutants, run the tests that see them, and report."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=300, help="how many mutants are drawn")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--folder", choices=FOLDERS, help="draw from this folder alone")
    asked.add_argument("--only", nargs="*", default=[], help="only lines such as joint/heat.py:40")
    asked.add_argument("--map", type=Path, default=REPOSITORY / ".mutants")
    options = asked.parse_args()
    modules = sorted((REPOSITORY / "preloadmc").rglob("*.py"))
    paths = [str(each.relative_to(REPOSITORY)) for each in modules]
    every = [
        mutant
        for path in paths
        if path.split("/")[1] in ((options.folder,) if options.folder else FOLDERS)
        and not path.startswith(LEFT_OUT)
        for mutant in Source(path).mutants()
    ]
    drawn = random.Random(options.seed).sample(every, min(options.count, len(every)))
    if options.only:
        lines = {f"preloadmc/{each}" for each in options.only}
        drawn = [each for each in drawn if f"{each.path}:{each.lines.start}" in lines]
    print(f"{len(drawn)} of {len(every)} mutants, seed {options.seed}", flush=True)
    tests = TestMap(options.map)
    os.nice(10)
    for stop in (signal.SIGINT, signal.SIGTERM):
        signal.signal(stop, signal.default_int_handler)
    outcomes: dict[Mutant, str] = {}
    with _copied() as copy:
        if run(tests.cheapest(FIRST), copy, tests) != "survived":
            raise SystemExit("tests fail in the copy without any mistake")
        try:
            for place, mutant in enumerate(drawn, 1):
                begin = time.monotonic()
                chosen = tests_that_see(mutant, tests)
                outcomes[mutant] = outcome(mutant, chosen, copy, tests)
                took = time.monotonic() - begin
                said = f"{place:4d} {outcomes[mutant]:8s} {took:5.1f} s {len(chosen):5d} tests"
                print(said, mutant.words, flush=True)
        except KeyboardInterrupt:
            print("interrupted")
        report(outcomes)


if __name__ == "__main__":
    main()
