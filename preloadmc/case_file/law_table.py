"""A table that names a law: its keys, the ways to state each law, and the law that they make."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, NamedTuple

from preloadmc.case_file.kinds import Quantity
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.word_kinds import Text, Word
from preloadmc.chance import laws, spreads
from preloadmc.chance.laws import LAWS, Law
from preloadmc.units import RATIO, TEMPERATURE, Dimension, parse_quantity

# A bare "10" for 10 % is easily typed.
SHARE = Quantity(RATIO, above=0.0, high=1.0)
SCATTER_RATIO = Quantity(RATIO, above=1.0)
# A bare number such as a shape.
SHAPE_NUMBER = Quantity(RATIO, above=0.0)
KIND = Word(LAWS, {"gauss": "normal", "gaussian": "normal", "rectangular": "uniform"})
COVERAGE = Word(
    spreads.COVERAGES,
    {f"{n} {sd}": f"{n} sd" for n in (1, 2, 3) for sd in ("s", "s.d.", "sigma", "σ")},
)
# Of the keys that are words.
MEANINGS = {
    "law": "law of the quantity",
    "coverage": "how a half width or scatter ratio is meant",
}
# What others call the keys of a law.
_CALLED = {
    **dict.fromkeys(("mu", "µ", "average", "avg", "nominal"), "mean"),
    **dict.fromkeys(("std", "stdev", "std_dev", "sigma", "σ", "s", "stddev"), "sd"),
    **dict.fromkeys(("cv", "v", "rsd"), "cov"),
    **dict.fromkeys(("min", "minimum", "lower"), "low"),
    **dict.fromkeys(("max", "maximum", "upper"), "high"),
    **dict.fromkeys(("tolerance", "tol", "plus_minus"), "half_width"),
    **dict.fromkeys(("distribution", "dist", "type", "kind"), "law"),
}
SPREADS = ("sd", "cov", "half_width", "scatter_ratio")
# What may stand beside the numbers of a law.
BESIDE_NUMBERS = ("shared", "tests", "as_good_as", "test_price")


class LawTable:
    """A table that names a law: its numbers one by one, None where a problem is noted."""

    def __init__(
        self,
        given: Mapping[str, Any],
        path: str,
        problems: Problems,
        dimension: Dimension,
        about: float,
    ) -> None:
        self.given = given
        self.path = path
        self.problems = problems
        self.dimension = dimension
        self.about = about

    def law(self) -> Law | None:
        """Return the law that the numbers of the table make."""
        kind = self.word("law", KIND)
        if kind is None:
            return None
        way = self._way(kind)
        # What an unknown key leaves without is no further problem.
        if not self.known("law", *way.keys, *BESIDE_NUMBERS):
            return None
        numbers = [number.read(self) for number in way.numbers]
        if None in numbers:
            return None
        try:
            return way.make(*numbers)
        except (ValueError, OverflowError) as error:
            self.problems.add(self.path, None, str(error))
            return None

    def _way(self, kind: str) -> Way:
        """Return the way in which the numbers of a law are stated, by the keys given."""
        named = {_CALLED.get(key, key) for key in self.given}
        return next(way for way in WAYS[kind] if not way.only_with or way.only_with & named)

    def known(self, *keys: str) -> bool:
        """Note each key that is none of these; return whether there is none such."""
        unknown = [key for key in self.given if key not in keys]
        for key in unknown:
            meant = _CALLED.get(key.casefold())
            words = f"; here it is called '{meant}'" if meant in keys else ""
            if key == "law" and "tolerance" in self.given:
                words = ": a tolerance makes its own"
            self.problems.unknown(self.at(key), key, keys, words)
        return not unknown

    def word(self, key: str, kind: Word) -> str | None:
        """Return one of some words."""
        if key not in self.given:
            self.problems.missing(self.at(key), f"{MEANINGS[key]}: {kind.wanted(key)}")
            return None
        return kind.read(self.given[key], self.at(key), self.problems)

    @cached_property
    def mean(self) -> float | None:
        """Return the mean."""
        return self.location("mean")

    def location(self, key: str) -> float | None:
        """Return a location such as a mean or a bound."""
        if key not in self.given:
            if key == "mean" and self.about:
                return self.about
            such_as = f", such as in {self.dimension.examples}" if self.dimension.examples else ""
            words = f"this law needs {self.dimension.with_article}{such_as}"
            self.problems.missing(self.at(key), words)
            return None
        value = self._quantity(key, Quantity(self.dimension))
        return None if value is None else value + self.about

    def number(self, key: str) -> float | None:
        """Return a bare positive number such as a shape."""
        if key not in self.given:
            self.problems.missing(self.at(key), "this law needs a number above 0")
            return None
        return self._quantity(key, SHAPE_NUMBER)

    def sd(self, *, lognormal: bool = False) -> float | None:
        """Return the s.d. that the one given spread states."""
        key = self._spread()
        if key in ("half_width", "scatter_ratio"):
            return self._of_coverage(key, lognormal=lognormal)
        if key is not None and "coverage" in self.given:
            self.problem(
                "coverage",
                f"nothing beside {key}; it says how a half_width or scatter_ratio is meant",
            )
            return None
        if key == "cov":
            if self.dimension is TEMPERATURE:
                self.problem(
                    "cov", "sd in K: a cov of a temperature depends on the zero of the scale"
                )
                return None
            return self._share("cov")
        return None if key is None else self._width("sd")

    def half_width(self) -> float | None:
        """Return half the width of a uniform law about its mean."""
        if "half_width" not in self.given:
            sd = self.sd()
            return None if sd is None else math.sqrt(3.0) * sd
        coverage = self.given.get("coverage", spreads.RECTANGULAR)
        if COVERAGE.find(coverage) != spreads.RECTANGULAR:
            self.problem("coverage", "'rectangular': a uniform law has no other")
        return None if self._spread() is None else self._width("half_width")

    def _spread(self) -> str | None:
        """Return the key of the one spread that is given."""
        given = [key for key in SPREADS if key in self.given]
        if len(given) == 1:
            return given[0]
        self.problems.add(
            self.path,
            " and ".join(given) or None,
            "one spread: sd, cov, half_width with coverage, or scatter_ratio with coverage",
        )
        return None

    def cut(self, key: str, unbounded: float) -> float | None:
        """Return where a law is cut off."""
        if not {"low", "high"} & {*self.given}:
            self.problems.add(self.path, None, "low, high or both, where it is cut")
            return None
        return self.location(key) if key in self.given else unbounded

    def measured(self) -> tuple[float, ...] | None:
        """Return a list of measured values."""
        given = self.given.get("values")
        if not isinstance(given, list) or not given:
            self._unit()
            self.problem("values", "a list of measured values")
            return None
        return self.listed("values")

    def listed(
        self, key: str, check: Callable[[float], str] = lambda _: ""
    ) -> tuple[float, ...] | None:
        """Return the values of a list, each of which the check finds nothing wrong with."""
        unit, items = self._unit(), self.given[key]
        values = []
        for place, item in enumerate(items, 1):
            bare = isinstance(item, int | float) and not isinstance(item, bool)
            try:
                value = parse_quantity(f"{item} {unit}" if bare and unit else item, self.dimension)
                value += self.about
                words = check(value)
            except ValueError as error:
                words = str(error)
            if words:
                self.problems.add(f"{self.at(key)}[{place}]", item, words)
                if self.problems.cut_off:
                    return None
                continue
            values.append(value)
        return None if len(values) < len(items) else tuple(values)

    def _unit(self) -> str:
        """Return the unit of bare numbers in a list; empty where none is stated."""
        if "unit" not in self.given:
            return ""
        kind = Text("the unit of all values")
        return kind.read(self.given["unit"], self.at("unit"), self.problems) or ""

    def _of_coverage(self, key: str, *, lognormal: bool) -> float | None:
        """Return the s.d. behind a half width or a scatter ratio."""
        coverage = self.word("coverage", COVERAGE)
        if coverage == spreads.RECTANGULAR:
            self.problem("coverage", "'rectangular' states a uniform law: law = \"uniform\"")
            coverage = None
        if key == "half_width":
            width = self._width("half_width")
            if width is None or coverage is None:
                return None
            return width / spreads.coverage_factor(coverage)
        ratio = self._quantity("scatter_ratio", SCATTER_RATIO)
        if ratio is None or coverage is None or self.mean is None:
            return None
        spread = spreads.scatter_ratio_spread(ratio, spreads.coverage_factor(coverage))
        if lognormal:
            return self.mean * math.sqrt(math.expm1(spread.log_sd**2))
        return self.mean * spread.relative_sd

    def _width(self, key: str) -> float | None:
        """Return an sd or half width; a share of the mean where '%' is given for a dimension."""
        if self.mean is None:
            return None
        if _in_per_cent(self.given[key]) and not self.about:
            if self.dimension.name == RATIO.name:
                # About 0, a share of the mean would be nothing.
                if not _in_per_cent(self.given.get("mean")) and self.mean != 0.0:
                    self.problem(
                        key, "the width itself, in the unit of the mean (a share of it is a cov)"
                    )
                    return None
            elif self.dimension is TEMPERATURE:
                self.problem(key, "a temperature difference, such as 5 K")
                return None
            else:
                return self._share(key)
        both_ways = key == "half_width"
        return self._quantity(
            key, Quantity(self.dimension.of_difference, above=0.0, both_ways=both_ways)
        )

    def _share(self, key: str) -> float | None:
        share = self._quantity(key, SHARE._replace(both_ways=key == "half_width"))
        if share is not None and self.mean == 0.0:
            self.problem(key, "sd, the width itself: a share of a mean of 0 is no scatter")
            return None
        return None if share is None or self.mean is None else share * abs(self.mean)

    def _quantity(self, key: str, kind: Quantity) -> float | None:
        return kind.read(self.given[key], self.at(key), self.problems)

    def problem(self, key: str, allowed: str) -> None:
        """Note a problem with one key."""
        self.problems.add(self.at(key), self.given.get(key), allowed)

    def at(self, key: str) -> str:
        """Return the path of one key."""
        return f"{self.path}.{key}"


def _in_per_cent(given: Any) -> bool:
    return isinstance(given, str) and given.strip().endswith("%")


class Number(NamedTuple):
    """One number of a law: the keys that state it, how it is read from them, which it must have."""

    keys: tuple[str, ...]
    read: Callable[[LawTable], Any]
    needed: tuple[str, ...] = ()

    @property
    def is_spread(self) -> bool:
        """Return whether it is stated by one of the spreads."""
        return self.keys == _SPREAD


def _location(key: str) -> Number:
    return Number((key,), lambda table: table.location(key), (key,))


def _shape(key: str) -> Number:
    return Number((key,), lambda table: table.number(key), (key,))


def _scale(table: LawTable) -> float | None:
    scale = table.location("scale")
    return None if scale is None else scale - table.about


def _origin(table: LawTable) -> float | None:
    return table.location("location") if "location" in table.given else table.about


_SPREAD = (*SPREADS, "coverage")
_MEAN = Number(("mean",), lambda table: table.mean, ("mean",))
_LOW, _MODE, _HIGH = map(_location, ("low", "mode", "high"))
_SD = Number(_SPREAD, LawTable.sd)
_VALUES = Number(("values", "unit"), LawTable.measured, ("values",))


class Way(NamedTuple):
    """One way to state a law: its numbers, and the law that they make.

    A way that is told by keys of its own names them under ``only_with``, and stands first.
    """

    numbers: tuple[Number, ...]
    make: Callable[..., Law]
    only_with: frozenset[str] = frozenset()

    @property
    def keys(self) -> tuple[str, ...]:
        """Return its keys."""
        return tuple(key for number in self.numbers for key in number.keys)


WAYS: dict[str, tuple[Way, ...]] = {
    "normal": (Way((_MEAN, _SD), laws.Normal),),
    "lognormal": (
        Way((_MEAN, Number(_SPREAD, lambda table: table.sd(lognormal=True))), laws.LogNormal),
    ),
    "uniform": (
        Way((_LOW, _HIGH), laws.Uniform, frozenset({"low", "high"})),
        Way(
            (_MEAN, Number(_SPREAD, LawTable.half_width)),
            lambda mean, half: laws.Uniform(mean - half, mean + half),
        ),
    ),
    "triangular": (Way((_LOW, _MODE, _HIGH), laws.Triangular),),
    "truncated normal": (
        Way(
            (
                _MEAN,
                _SD,
                Number(("low",), lambda table: table.cut("low", -math.inf)),
                Number(("high",), lambda table: table.cut("high", math.inf)),
            ),
            laws.TruncatedNormal,
        ),
    ),
    "weibull": (
        Way(
            (
                _shape("shape"),
                Number(("scale",), _scale, ("scale",)),
                Number(("location",), _origin),
            ),
            laws.Weibull,
            frozenset({"shape", "scale"}),
        ),
        Way((_MEAN, _SD), laws.Weibull.from_moments),
    ),
    "gumbel": (Way((_MEAN, _SD), laws.Gumbel),),
    "beta": (
        Way(
            (_shape("alpha"), _shape("beta"), _LOW, _HIGH),
            laws.Beta,
            frozenset({"alpha", "beta"}),
        ),
        Way((_MEAN, _SD, _LOW, _HIGH), laws.Beta.from_moments),
    ),
    "constant": (Way((_location("value"),), laws.Constant),),
    "tabulated": (
        Way((Number(("values", "unit"), LawTable.measured, ("values",)),), laws.Tabulated),
    ),
}
