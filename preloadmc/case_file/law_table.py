"""A quantity of the case file that may be a law: a text, a number or an inline table -> Law."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from preloadmc.case_file.tables import Table
from preloadmc.chance import laws, spreads
from preloadmc.chance.laws import Law
from preloadmc.units import RATIO, TEMPERATURE, TEMPERATURE_DIFFERENCE, Dimension, parse_quantity

_SPREADS = ("sd", "cov", "half_width", "scatter_ratio")


def read_law(table: Table, key: str, dimension: Dimension, offset: float = 0.0) -> Law | None:
    """Return the law under ``key``; None where absent or noted as a problem.

    Parameters
    ----------
    table : Table
        The table that holds the key.
    key : str
        A plain quantity there is a constant; an inline table names its law.
    dimension : Dimension
        What the quantity measures.
    offset : float
        Added to every location: 1 for a scatter about a set value, which is then read as a factor.
    """
    given = table.raw(key)
    if given is None:
        return None
    if not isinstance(given, Mapping):
        value = table.quantity(key, dimension)
        return None if value is None else laws.Constant(value + offset)
    reader = _LawReader(table.table(key), dimension, offset)
    return reader.read()


class _LawReader:
    """Reads one law table."""

    def __init__(self, table: Table, dimension: Dimension, offset: float) -> None:
        self.table = table
        self.dimension = dimension
        self.offset = offset

    def read(self) -> Law | None:
        """Return the law, or None with its problems noted."""
        makers: dict[str, Callable[[], Law | None]] = {
            "normal": self._normal,
            "lognormal": self._lognormal,
            "uniform": self._uniform,
            "triangular": self._triangular,
            "truncated normal": self._truncated_normal,
            "weibull": self._weibull,
            "gumbel": self._gumbel,
            "beta": self._beta,
            "constant": self._constant,
            "tabulated": self._tabulated,
        }
        kind = self.table.choice("law", tuple(makers), None)
        if kind is None:
            return None
        before = len(self.table.problems.found)
        try:
            law = makers[kind]()
        except ValueError as error:
            if len(self.table.problems.found) == before:
                self.table.problem("", f"{error}")
            law = None
        self.table.close("law", "coverage", "shared")
        return law

    def _location(self, key: str) -> float:
        """Return a location such as a mean or a bound, or NaN with the problem noted."""
        if key not in self.table:
            if key == "mean" and self.offset:
                return self.offset
            such_as = f", such as in {self.dimension.examples}" if self.dimension.examples else ""
            self.table.missing(key, f"this law needs {self.dimension.with_article}{such_as}")
            return math.nan
        value = self.table.quantity(key, self.dimension)
        return math.nan if value is None else value + self.offset

    def _number(self, key: str) -> float:
        """Return a bare positive number such as a shape, or NaN with the problem noted."""
        if key not in self.table:
            self.table.missing(key, "this law needs a number above 0")
            return math.nan
        value = self.table.quantity(key, RATIO, above=0.0)
        return math.nan if value is None else value

    def _spread(self, mean: float, lognormal: bool = False) -> float:
        """Return the s.d. that the one given spread states, or NaN with the problem noted."""
        given = [key for key in _SPREADS if key in self.table]
        if len(given) != 1:
            self.table.problems.add(
                self.table.path,
                " and ".join(given) or None,
                "one spread: sd, cov, half_width with coverage, or scatter_ratio with coverage",
            )
            return math.nan
        key = given[0]
        if key in ("sd", "cov") and "coverage" in self.table:
            self.table.problem(
                "coverage",
                f"nothing beside {key}; it says how a half_width or scatter_ratio is meant",
            )
            return math.nan
        if key == "cov":
            if self.dimension is TEMPERATURE:
                self.table.problem(key, "sd in K: a cov of a temperature hangs on the scale's zero")
                return math.nan
            cov = self.table.quantity(key, RATIO, above=0.0)
            return math.nan if cov is None else cov * abs(mean)
        if key == "sd":
            return self._width(key, mean)
        factor = self._coverage_factor()
        if key == "half_width":
            return self._width(key, mean) / factor
        ratio = self.table.quantity(key, RATIO, above=1.0)
        if ratio is None:
            return math.nan
        if not math.isfinite(factor):
            return math.nan
        spread = spreads.scatter_ratio_spread(ratio, factor)
        if lognormal:
            return mean * math.sqrt(math.expm1(spread.log_sd**2))
        return mean * spread.relative_sd

    def _coverage_factor(self) -> float:
        """Return how many s.d. the stated half width is, or NaN with the problem noted."""
        coverage = self.table.choice("coverage", spreads.COVERAGES, None)
        if coverage == spreads.RECTANGULAR:
            self.table.problem("coverage", "'rectangular' states a uniform law: law = \"uniform\"")
            return math.nan
        return math.nan if coverage is None else spreads.coverage_factor(coverage)

    def _width(self, key: str, mean: float) -> float:
        """Return an sd or half width; a share of the mean where '%' is given for a dimension."""
        given = self.table.raw(key)
        percent = isinstance(given, str) and given.strip().endswith("%")
        plain_ratio = self.dimension.name == RATIO.name and not self.offset
        if percent and plain_ratio:
            mean_given = self.table.raw("mean")
            if not (isinstance(mean_given, str) and mean_given.strip().endswith("%")):
                self.table.problem(
                    key, "the width itself, in the unit of the mean (a share of it is a cov)"
                )
                return math.nan
        if percent and not plain_ratio and not self.offset:
            if self.dimension is TEMPERATURE:
                self.table.problem(key, "a temperature difference, such as 5 K")
                return math.nan
            share = self.table.quantity(key, RATIO, above=0.0)
            return math.nan if share is None else share * abs(mean)
        difference = TEMPERATURE_DIFFERENCE if self.dimension is TEMPERATURE else self.dimension
        width = self.table.quantity(key, difference, above=0.0)
        return math.nan if width is None else width

    def _normal(self) -> Law | None:
        mean = self._location("mean")
        sd = self._spread(mean)
        return self._made(lambda: laws.Normal(mean, sd), mean, sd)

    def _lognormal(self) -> Law | None:
        mean = self._location("mean")
        sd = self._spread(mean, lognormal=True)
        return self._made(lambda: laws.LogNormal(mean, sd), mean, sd)

    def _uniform(self) -> Law | None:
        if "low" in self.table or "high" in self.table:
            low, high = self._location("low"), self._location("high")
            return self._made(lambda: laws.Uniform(low, high), low, high)
        mean = self._location("mean")
        if "half_width" in self.table:
            if self.table.raw("coverage") not in (None, "rectangular"):
                self.table.problem("coverage", "'rectangular': a uniform law has no other")
            half = self._width("half_width", mean)
        else:
            half = math.sqrt(3.0) * self._spread(mean)
        return self._made(lambda: laws.Uniform(mean - half, mean + half), mean, half)

    def _triangular(self) -> Law | None:
        low, mode, high = (self._location(key) for key in ("low", "mode", "high"))
        return self._made(lambda: laws.Triangular(low, mode, high), low, mode, high)

    def _truncated_normal(self) -> Law | None:
        mean = self._location("mean")
        sd = self._spread(mean)
        low, high = (
            self._location(key) if key in self.table else unbounded
            for key, unbounded in (("low", -math.inf), ("high", math.inf))
        )
        if math.isinf(low) and math.isinf(high):
            self.table.problems.add(self.table.path, None, "low, high or both, where it is cut")
            return None
        if math.isnan(low) or math.isnan(high):
            return None
        return self._made(lambda: laws.TruncatedNormal(mean, sd, low, high), mean, sd)

    def _weibull(self) -> Law | None:
        if "shape" in self.table or "scale" in self.table:
            shape = self._number("shape")
            origin = self._location("location") if "location" in self.table else self.offset
            scale = self._location("scale") - self.offset
            return self._made(lambda: laws.Weibull(shape, scale, origin), shape, scale, origin)
        mean = self._location("mean")
        sd = self._spread(mean)
        return self._made(lambda: laws.Weibull.from_moments(mean, sd), mean, sd)

    def _gumbel(self) -> Law | None:
        mean = self._location("mean")
        sd = self._spread(mean)
        return self._made(lambda: laws.Gumbel(mean, sd), mean, sd)

    def _beta(self) -> Law | None:
        low, high = self._location("low"), self._location("high")
        if "alpha" in self.table or "beta" in self.table:
            alpha, beta = self._number("alpha"), self._number("beta")
            return self._made(lambda: laws.Beta(alpha, beta, low, high), alpha, beta, low, high)
        mean = self._location("mean")
        sd = self._spread(mean)
        return self._made(lambda: laws.Beta.from_moments(mean, sd, low, high), mean, sd, low, high)

    def _constant(self) -> Law | None:
        value = self._location("value")
        return self._made(lambda: laws.Constant(value), value)

    def _tabulated(self) -> Law | None:
        given = self.table.raw("values")
        unit = self.table.text("unit", "the unit of all values")
        if not isinstance(given, list) or not given:
            self.table.problem("values", "a list of measured values")
            return None
        values = []
        for place, item in enumerate(given, 1):
            bare = isinstance(item, int | float) and not isinstance(item, bool)
            try:
                values.append(
                    parse_quantity(f"{item} {unit}" if bare and unit else item, self.dimension)
                    + self.offset
                )
            except ValueError as error:
                self.table.problems.add(f"{self.table.at('values')}[{place}]", item, str(error))
        if len(values) < len(given):
            return None
        return laws.Tabulated(tuple(values))

    def _made(self, make: Callable[[], Law], *needed: float) -> Law | None:
        """Return the law, or None where a needed number was already noted as a problem."""
        return make() if all(math.isfinite(number) for number in needed) else None
