"""What a fit is asked, and what it finds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from preloadmc.case import Case
from preloadmc.case_file import RecordFile
from preloadmc.chance.capability import Capability
from preloadmc.chance.fitting import Fit, MeasuredMoments
from preloadmc.chance.oddities import Drift, FarthestValue, LotDifference
from preloadmc.chance.tolerance_limits import DistributionFreeLimits, ToleranceLimits
from preloadmc.chance.variance_components import VarianceComponents
from preloadmc.inputs import InputKind
from preloadmc.results import Result
from preloadmc.units import (
    Array,
    Dimension,
    format_number,
    to_unit,
)

CONTENT, CONFIDENCE = 0.99, 0.95
# With fewer tests no law is told from another.
FEWEST_TO_TELL = 8
# Laws that fit better than others by less than this in Akaike's criterion are not told apart: the
# better one is then at most e^2 = 7 times as likely.
AICC_APART = 4.0
# A law with a smaller p-value is called unlikely: the true one is in 5 of 100 series.
POOR_FIT = 0.05
# What is found so seldom in tests of one law is called odd; several looks are taken at each column.
ODD = 0.01


@dataclass(frozen=True, slots=True)
class FitQuestion:
    """What is asked of test records.

    ``column``, ``law``, ``lot`` and ``unit`` are as given, None where nothing was; ``where`` holds
    words by column. ``content`` is the share of all values that limits hold and a claim states,
    with ``confidence``. ``at_least`` and ``at_most`` are limits of a claim with their units.
    ``tolerance`` is that of a tool, as a share of its set value.
    """

    column: str | None = None
    law: str | None = None
    where: Mapping[str, str] = field(default_factory=dict)
    lot: str | None = None
    unit: str | None = None
    content: float = CONTENT
    confidence: float = CONFIDENCE
    at_least: str | None = None
    at_most: str | None = None
    tolerance: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One quantity of every test, in the order of the file.

    ``values`` (n,) are in N, mm, MPa, N·mm, K, rad, s; ``unit`` is the one that the file writes.
    ``source`` says how it follows from other columns; empty for a column of the file. ``input`` is
    the input of a case that it is, or None. ``left_out`` tests have no value.
    """

    name: str
    dimension: Dimension
    unit: str
    values: Array
    lines: tuple[int, ...]
    lots: tuple[str, ...] | None
    source: str
    input: InputKind | None
    left_out: int

    @property
    def n(self) -> int:
        """Return the number of tests."""
        return len(self.values)

    def number(self, value: float) -> float:
        """Return a value as a number of the file's unit."""
        return to_unit(value, self.unit, self.dimension)

    def width(self, value: float) -> float:
        """Return a width, such as an s.d., as a number of the file's unit."""
        return to_unit(value, self.unit, self.dimension.of_difference)

    def words(self, value: float, digits: int = 3) -> str:
        """Return a value with the file's unit; "none" for a limit that two or three tests lack."""
        if not math.isfinite(value):
            return "none"
        return f"{format_number(self.number(value), digits)} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Candidate:
    """A law that may be behind the tests: its fit, distance A² and how often that is as large.

    ``unlikely`` tells that the tests speak against it.
    """

    fit: Fit
    distance: float
    p_value: float
    unlikely: bool

    @property
    def law(self) -> str:
        """Return the law's name in a case file."""
        return self.fit.kind


@dataclass(frozen=True, slots=True)
class Group:
    """Tests by the words of one column: how many of each, and how far they differ, if known."""

    column: str
    counts: Mapping[str, int]
    difference: LotDifference | None


@dataclass(frozen=True, slots=True)
class ShownClaim:
    """Whether tests show that a share of all values is on the good side of a limit.

    ``misses`` tests miss it. ``distance`` is that of the limit from the mean in s.d., on the scale
    of a normal law; None for laws without such a scale. ``by_law`` and ``by_count`` are the largest
    shares that the tests show with the confidence: if the law holds, and for any law.
    ``by_other_laws`` has the same for laws that are possible besides.
    ``required_by_law`` and ``required_by_count`` are the tests that it takes in all, if further
    ones are like these, or miss no more; None where no number does, or where that is not known.
    """

    limit: float
    is_least: bool
    content: float
    confidence: float
    misses: int
    distance: float | None
    by_law: float
    by_other_laws: Mapping[str, float]
    by_count: float
    required_by_law: int | None
    required_by_count: int

    @property
    def shown_by_law(self) -> bool:
        """Return whether the law and the tests show it."""
        return self.by_law >= self.content

    @property
    def not_by(self) -> tuple[str, ...]:
        """Return the laws that are possible besides and do not show it."""
        return tuple(k for k, share in self.by_other_laws.items() if share < self.content)

    @property
    def shown_by_count(self) -> bool:
        """Return whether the tests alone show it."""
        return self.by_count >= self.content


@dataclass(frozen=True, slots=True)
class PairedFrictions:
    """Correlation of the frictions of thread and bearing in the same n tests, with its interval.

    It is that of the logarithms, which are the normals behind lognormal laws.
    """

    n: int
    value: float
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True, eq=False)
class QuantityFit:
    """What the tests say of one quantity.

    ``laws`` are the laws that were fitted, best first by Akaike's criterion; ``chosen`` is
    the one taken. ``lots`` and ``table`` are None where there are no lots to compare, ``drift`` and
    ``farthest`` where there are fewer than three tests. ``capability`` is that of a tool with a
    tolerance.
    """

    measured: Measured
    moments: MeasuredMoments
    laws: tuple[Candidate, ...]
    chosen: Candidate
    limits: ToleranceLimits
    limits_by_count: DistributionFreeLimits
    lots: LotDifference | None
    table: VarianceComponents | None
    drift: Drift | None
    farthest: FarthestValue | None
    groups: tuple[Group, ...]
    claims: tuple[ShownClaim, ...]
    capability: Capability | None

    @property
    def tells_laws(self) -> bool:
        """Return whether there are enough tests to tell laws apart at all."""
        return self.measured.n >= FEWEST_TO_TELL

    @property
    def alike(self) -> tuple[str, ...]:
        """Return the laws other than the chosen one that the tests do not speak against."""
        return tuple(
            each.law for each in self.laws if not each.unlikely and each is not self.chosen
        )

    @property
    def nothing_fits(self) -> bool:
        """Return whether every law fits as badly as is called odd."""
        return self.tells_laws and all(each.p_value < ODD for each in self.laws)


@dataclass(frozen=True, slots=True, eq=False)
class FitResult(Result):
    """What the tests of one file say of each quantity that was fitted.

    ``case`` gave the geometry of a rig, or is None. ``not_fitted`` are the columns that were not
    fitted, each with the reason; ``lot`` is the column of lots, or None. ``wants_case`` tells that
    frictions would follow with the geometry of a case. ``friction_correlation`` is the correlation
    of thread and bearing friction, where the same tests gave both.
    """

    file: RecordFile
    case: Case | None
    question: FitQuestion
    seed: int
    quantities: tuple[QuantityFit, ...]
    not_fitted: tuple[tuple[str, str], ...]
    lot: str | None
    wants_case: bool
    friction_correlation: PairedFrictions | None
    answer: tuple[str, str, str]
    warnings: tuple[str, ...]

    @property
    def files(self) -> dict[str, str]:
        """Return the text of each file that was read, by the path of its copy in a report."""
        return {**({} if self.case is None else self.case.files), **self.file.files}
