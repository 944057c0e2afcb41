"""A law that tests stand behind: read one by one from a file or a list, or told by their number."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.case_file.law_table import KIND, LawTable
from preloadmc.case_file.named_tests import NamedTests
from preloadmc.case_file.word_kinds import Text
from preloadmc.chance.extreme_knowledge import ExtremeTests
from preloadmc.chance.extreme_laws import Gumbel, Weibull
from preloadmc.chance.fitting import FITTED_KINDS, OF_LOGARITHMS, OF_SMALLEST
from preloadmc.chance.knowledge import FEWEST_TESTS
from preloadmc.chance.law import Law
from preloadmc.chance.normal_knowledge import LotTests, NormalTests
from preloadmc.chance.normal_laws import LogNormal, Normal
from preloadmc.chance.tested_law import Tested
from preloadmc.units import RATIO, TEMPERATURE

AS_GOOD_AS = "as_good_as"
MOST_TESTS = 1_000_000
# What is known of these laws is summed over the very tests; so many leave next to nothing unknown.
MOST_EXTREMES = 10_000
COUNT = Whole(FEWEST_TESTS, MOST_TESTS)
PRICE = Quantity(RATIO, low=0.0)
# Beyond this share of the scatter seen, what is left hangs on the measuring error.
_MUCH = 0.5

# Keys that need the very tests.
_ONE_BY_ONE = ("column", "where", "lot", "measuring")
# Keys of a law whose tests stand in a list or in a file.
OF_LISTS = ("law", "tests", "unit", "measuring", "shared", "test_price")
OF_FILES = (*OF_LISTS, "column", "where", "lot")

Check = Callable[[float], str]


def law_of_table(table: LawTable, check: Check) -> Law | None:
    """Return the law that a table states: by its numbers, or by tests; None with a problem noted.

    Parameters
    ----------
    table : LawTable
        The table.
    check : callable
        Says what is wrong with one value, in words; empty for nothing.
    """
    law = _law(table, check)
    if "test_price" not in table.given:
        return law
    price = PRICE.read(table.given["test_price"], table.at("test_price"), table.problems)
    if isinstance(law, Tested):
        return replace(law, price=price)
    if law is not None:
        table.problem("test_price", "nothing where no tests stand behind the law")
    return law


def _law(table: LawTable, check: Check) -> Law | None:
    tests = table.given.get("tests")
    if isinstance(tests, str | list):
        return _LawOfValues(table, check).law()
    counted = [key for key in ("tests", AS_GOOD_AS) if key in table.given]
    one_by_one = [key for key in _ONE_BY_ONE if key in table.given]
    if counted and one_by_one:
        for key in one_by_one:
            table.problem(key, "tests one by one, in a file or a list: their number is not enough")
        return None
    law = table.law()
    if not counted or law is None:
        return law
    if len(counted) > 1:
        table.problem(AS_GOOD_AS, "nothing beside tests: it is for a law that none stand behind")
        return None
    return _of_summary(table, law, counted[0])


def doubt_of_measuring(law: Tested) -> str:
    """Return what to warn of where a measuring error makes most of the scatter; else empty."""
    known = law.knowledge
    if isinstance(known, ExtremeTests):
        return ""
    assert isinstance(known, NormalTests | LotTests), "no other law has an error taken out"
    seen = known.sd if isinstance(known, NormalTests) else known.within_sd
    share = known.measuring / seen
    if share <= _MUCH:
        return ""
    return (
        f"the measuring error is {100 * share:.0f} % of the scatter seen: what is left of it "
        "hangs on how well that error is known"
    )


def _refused(table: LawTable, kind: str) -> bool:
    """Return whether tests cannot stand behind a law of this kind, which is noted."""
    if kind in FITTED_KINDS:
        return False
    reasons = {
        "tabulated": "a tabulated law is its values, and says nothing of how sure they make us",
        "constant": "a constant has no scatter to be known",
    }
    reason = reasons.get(
        kind, f"the ends of a {kind} law are set by judgement, and tests do not tell them"
    )
    table.problem("law", f"one of {', '.join(FITTED_KINDS)}, where tests stand behind it: {reason}")
    return True


class _LawOfValues:
    """A law of values that are stated one by one."""

    def __init__(self, table: LawTable, check: Check) -> None:
        self.table = table
        self.check = check

    def law(self) -> Law | None:
        """Return the law; None with a problem noted."""
        table = self.table
        kind = table.word("law", KIND)
        named = isinstance(table.given["tests"], str)
        if named and not isinstance(table.given["tests"], NamedTests):
            return None  # what is wrong with the file is noted already
        known = table.known(*(OF_FILES if named else OF_LISTS))
        if kind is None or not known or _refused(table, kind):
            return None
        found = self._from_file() if named else self._from_list()
        measuring = self._measuring(kind)
        if found is None or measuring is None:
            return None
        values, lots, words = found
        if kind in OF_LOGARITHMS and min(values) <= 0.0:
            table.problem("law", f"normal or gumbel: a {kind} law has no value of 0 or below")
            return None
        try:
            return _fitted(kind, values, lots, measuring, words)
        except ValueError as error:
            table.problem("tests", str(error))
            return None

    def _from_file(self) -> tuple[Sequence[float], Sequence[str] | None, str] | None:
        table, given = self.table, self.table.given
        name = given["tests"]
        assert isinstance(name, NamedTests), "a file that is no table of tests is refused before"
        records, problems = name.records, table.problems
        if "column" in given:
            column = self._text("column")
        elif len(records.names) == 1:
            (column,) = records.names
        else:
            problems.missing(table.at("column"), f"one of {', '.join(records.names)}")
            return None
        lot = self._text("lot") if "lot" in given else None
        where = self._where()
        if column is None or where is None or ("lot" in given and lot is None):
            return None
        found = records.column(
            column,
            table.dimension,
            problems,
            f"{table.path}.",
            where=where,
            lot=lot,
            unit=self._text("unit") if "unit" in given else None,
            fewest=FEWEST_TESTS,
            check=self._wrong,
        )
        if found is None:
            return None
        rows = "".join(f", {key} = {word}" for key, word in where.items())
        words = f"{len(found.values)} tests ({name}, {found.name}{rows})"
        if found.lots is not None:
            words += f" of {len(set(found.lots))} lots"
        return [value + table.about for value in found.values], found.lots, words

    def _from_list(self) -> tuple[Sequence[float], None, str] | None:
        table = self.table
        values = table.listed("tests", self.check)
        if values is None:
            return None
        if len(values) < FEWEST_TESTS:
            table.problem("tests", f"at least {FEWEST_TESTS} values: fewer tell no scatter")
            return None
        return values, None, f"{len(values)} tests"

    def _wrong(self, value: float) -> str:
        return self.check(value + self.table.about)

    def _text(self, key: str) -> str | None:
        return Text("a name").read(
            self.table.given.get(key), self.table.at(key), self.table.problems
        )

    def _where(self) -> dict[str, str] | None:
        """Return the filter; None with a problem noted."""
        table = self.table
        if "where" not in table.given:
            return {}
        where = Table().read(table.given["where"], table.at("where"), table.problems)
        if where is None:
            return None
        wrong = [key for key, word in where.items() if isinstance(word, Mapping | list | bool)]
        for key in wrong:
            table.problems.add(f"{table.at('where')}.{key}", where[key], "a word of the column")
        return None if wrong else {key: str(word) for key, word in where.items()}

    def _measuring(self, kind: str) -> tuple[float, bool] | None:
        """Return the measuring error and whether it is a share of the value; None if wrong."""
        table = self.table
        if "measuring" not in table.given:
            return 0.0, False
        path = table.at("measuring")
        given = Table().read(table.given["measuring"], path, table.problems)
        if given is None:
            return None
        if kind in OF_SMALLEST:
            words = "nothing: an error is taken out of normal and lognormal laws alone"
            table.problem("measuring", words)
            return None
        keys = [key for key in ("sd", "cov") if key in given]
        if len(keys) != 1 or len(given) > 1:
            table.problem("measuring", "{ sd = ... } in the unit of the values, or { cov = ... }")
            return None
        (key,) = keys
        if key == "cov" and table.dimension is TEMPERATURE:
            words = "sd in K: a cov of a temperature depends on the zero of the scale"
            table.problems.add(f"{path}.cov", given[key], words)
            return None
        dimension = RATIO if key == "cov" else table.dimension.of_difference
        sd = Quantity(dimension, above=0.0).read(given[key], f"{path}.{key}", table.problems)
        return None if sd is None else (sd, key == "cov")


def _fitted(
    kind: str,
    values: Sequence[float],
    lots: Sequence[str] | None,
    measuring: tuple[float, bool],
    words: str,
) -> Tested:
    """Return the law of values, which are positive where their logarithm is taken."""
    at = np.log(values) if kind in OF_LOGARITHMS else np.asarray(values, dtype=float)
    if kind in OF_SMALLEST:
        if lots is not None:
            raise ValueError("a lot column goes with a normal or lognormal law alone")
        _check_extremes(len(at), kind)
        known = ExtremeTests(tuple(at.tolist()), smallest=kind == "weibull")
        return (Tested.weibull if kind == "weibull" else Tested.gumbel)(known, words)
    error, is_share = measuring
    if error:
        middle = abs(float(np.mean(values)))
        if kind == "lognormal" and not is_share:
            error /= middle
        elif kind == "normal" and is_share:
            error *= middle
    make = Tested.lognormal if kind == "lognormal" else Tested.normal
    if lots is not None:
        return make(LotTests.of(at.tolist(), lots, error), words)
    seen = float(at.std(ddof=1))
    return make(NormalTests(float(at.mean()), seen, len(at), error), words)


def _check_extremes(tests: int, kind: str) -> None:
    if tests > MOST_EXTREMES:
        raise ValueError(
            f"at most {MOST_EXTREMES:,} tests of a {kind} law: with more, nothing is left unknown "
            "of it; state the law by its numbers"
        )


def _of_summary(table: LawTable, law: Law, key: str) -> Law | None:
    """Return a law by its numbers and how many tests stand behind it."""
    if _refused(table, law.kind):
        return None
    count = COUNT.read(table.given[key], table.at(key), table.problems)
    if count is None:
        return None
    if law.kind in OF_SMALLEST:
        try:
            _check_extremes(count, law.kind)
        except ValueError as error:
            table.problem(key, str(error))
            return None
    words = f"{count} tests" if key == "tests" else f"as good as {count} tests"
    if isinstance(law, Normal):
        return Tested.normal(NormalTests(law.mean, law.sd, count), words)
    if isinstance(law, Gumbel):
        known = ExtremeTests.ideal(law.mode, law.scale, count, smallest=False)
        return Tested.gumbel(known, words)
    if isinstance(law, LogNormal) and law.location == 0.0:
        words += ", the logarithm by mean and s.d. of the values"
        return Tested.lognormal(NormalTests(law.log_mean, law.log_sd, count), words)
    if isinstance(law, Weibull) and law.location == 0.0:
        known = ExtremeTests.ideal(math.log(law.scale), 1.0 / law.shape, count, smallest=True)
        return Tested.weibull(known, words)
    table.problem(key, f"nothing beside a {law.kind} law that does not begin at 0")
    return None
