"""A case: one joint with the laws of its inputs, its requirement and how to sample it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import PurePath
from typing import Any, TypeVar

import numpy as np

from preloadmc.chance.dependence import Dependence
from preloadmc.chance.laws import Constant, Law
from preloadmc.chance.sampling_table import sampled
from preloadmc.chance.tested_law import Tested
from preloadmc.evidence import Effort, Evidence, Inspection
from preloadmc.inputs import ACROSS, input_kind
from preloadmc.joint import (
    ALIKE,
    INTERACTION,
    TYPICAL,
    FastenerGroup,
    Joint,
    interaction_loss,
)
from preloadmc.limits import Requirement
from preloadmc.plausible import PLAUSIBLE_RANGES
from preloadmc.told import Told, told_words
from preloadmc.units import Array, FloatLike, parse_quantity

T = TypeVar("T", float, FloatLike)

Parameters = dict[str, tuple[Array, Array]]
"""Location and scale of tested laws, by input."""

SHARED_BY = ("tool", "lot", "joint")
MOST_SAMPLES = 200_000_000
# A positive quantity whose law reaches zero with less than this is cut off at zero.
NEGLIGIBLE_BELOW_ZERO = 1e-9


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that the case file did not state: its path, the value in words, its source."""

    path: str
    told: Told
    source: str

    @property
    def value(self) -> str:
        """Return the value in words, in metric units."""
        return told_words(self.told)

    def words(self, system: str) -> str:
        """Return the value in words, in the units of ``system``."""
        return told_words(self.told, system)


@dataclass(frozen=True, slots=True)
class Shared:
    """Scatter in common: the joints of one tool, lot or joint share this much of the variance."""

    by: str
    fraction: float


@dataclass(frozen=True, slots=True)
class Follows:
    """An input that goes along with another in every fastener: ``factor`` times ``leader``."""

    leader: str
    factor: float


@dataclass(frozen=True, slots=True)
class Cost:
    """What a joint costs, and what each miss, rejected tightening and action costs.

    All in ``currency``.
    ``tool_price`` is spread over the joints made: ``quantity`` of them, with a new tool after every
    ``tool_life`` joints; either may be None, which is no bound.
    """

    per_joint: float
    per_under: float
    per_over: float
    per_loosening: float
    tool_price: float
    tool_life: float | None
    quantity: float | None
    currency: str
    per_reject: float = 0.0
    per_check: float = 0.0
    per_retightening: float = 0.0
    per_replacement: float = 0.0

    @property
    def tool_per_joint(self) -> float:
        """Return the price of the tools over the joints that they make."""
        if self.tool_price == 0.0:
            return 0.0
        if self.quantity is None:
            assert self.tool_life is not None, "a price is spread over something"
            return self.tool_price / self.tool_life
        tools = 1 if self.tool_life is None else math.ceil(self.quantity / self.tool_life)
        return self.tool_price * tools / self.quantity

    @property
    def to_make(self) -> float:
        """Return what a joint costs to make, its share of the tool with it."""
        return self.per_joint + self.tool_per_joint


@dataclass(frozen=True, slots=True)
class Deterministic:
    """A stated scatter of preload, for largest and smallest preload without probabilities.

    ``uncertainty`` is the half width Gamma, ``scatter_ratio`` the largest over the smallest
    assembled preload; None where neither the file nor a named row of the table states it.
    ``control_tolerance`` is the half width of what is controlled; ``averaged_fasteners`` how many
    share a load so that their mean counts; ``relaxation_tested`` whether tests stand behind the
    stated losses.
    """

    uncertainty: float | None
    uncertainty_source: str
    control_tolerance: float
    averaged_fasteners: int
    relaxation_tested: bool
    scatter_ratio: float | None
    scatter_ratio_source: str


@dataclass(frozen=True, slots=True)
class Sampling:
    """How far to sample: a count, or a precision (half width of the interval over the value)."""

    samples: int | None
    precision: float | None
    seed: int


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """The fasteners of one joint, and what is asked of them together.

    ``governing`` is the fastener that has least to spare nominally, counted from 0: the one that
    stands for one fastener where results are of one. ``fractions`` are the shares of variance that
    the fasteners of a joint have in common, by input, and ``levels`` what they share it by.
    ``at_least`` fasteners must keep enough preload; None where nothing is asked. ``allowed`` holds
    the allowed probabilities of the joint. Preloads within ``spread`` of each other, over their
    mean, are called even; lots are counted in which more than ``lot_share`` of joints miss.
    ``exceptions`` are fasteners that differ, each with a case of its own. ``alike`` is the
    correlation of the preloads of two fasteners right after tightening, ``typical`` their preload
    per unit of the setting, nominally [N].
    """

    facts: FastenerGroup
    governing: int
    fractions: Mapping[str, float]
    levels: Mapping[str, str]
    at_least: int | None
    allowed: Mapping[str, float]
    spread: float
    lot_share: float
    exceptions: tuple[tuple[tuple[int, ...], Case], ...] = ()
    alike: float = 1.0
    typical: float = 0.0

    @property
    def n(self) -> int:
        """Return the number of fasteners."""
        return self.facts.fasteners

    @property
    def place(self) -> str:
        """Return what the governing fastener is called: by its number, from 1."""
        return f"fastener {self.governing + 1}"


@dataclass(frozen=True, slots=True)
class Case:
    """Everything one case file says, in N, mm, MPa, K.

    ``laws`` holds every input in the order of the fixed list; ``correlations`` are those of the
    standard normals; ``follows`` the inputs that have no law of their own but go along with one
    that has; ``shared`` what several joints have in common, which leaves the probability
    of one joint as it is. ``source`` is the file as given, ``text`` its content. Each of the
    ``alternatives`` is a whole case of its own ``name``; ``at_best`` tells that it is compared at
    its own best setting, not at the one stated. ``tables`` are the CSV files that it names: their
    text by path from the folder of the case file. ``group`` are the fasteners of the joint where it
    has several; the case is then of the one that governs.
    """

    name: str
    title: str
    source: str
    text: str
    sha256: str
    joint: Joint
    laws: Mapping[str, Law]
    correlations: Mapping[tuple[str, str], float]
    shared: Mapping[str, Shared]
    requirement: Requirement
    sampling: Sampling
    assumptions: tuple[Assumption, ...]
    warnings: tuple[str, ...]
    cost: Cost | None
    deterministic: Deterministic | None
    alternatives: tuple[Case, ...]
    at_best: bool = False
    investigation: Investigation | None = None
    follows: Mapping[str, Follows] = field(default_factory=dict)
    tables: Mapping[str, str] = field(default_factory=dict)
    group: Group | None = None

    @property
    def files(self) -> dict[str, str]:
        """Return the text of each file that the case was read from, by path from its folder."""
        files = {PurePath(self.source).name: self.text, **self.tables}
        for each in self.alternatives:
            files.update(each.tables)
        if self.investigation is not None:
            for suspect in self.investigation.suspects:
                files.update(suspect.case.tables)
            evidence = self.investigation.evidence
            if evidence.table_name:
                files[PurePath(evidence.table_name).as_posix()] = evidence.table_text
        return files

    @property
    def uncertain(self) -> tuple[str, ...]:
        """Return the names of the inputs that scatter: the columns of z."""
        return tuple(name for name, law in self.laws.items() if not isinstance(law, Constant))

    @property
    def means(self) -> dict[str, float]:
        """Return the inputs at their means by name: the nominal joint."""
        x = self._with_followers({name: law.mean for name, law in self.laws.items()})
        return {**x, **{name: float(value) for name, value in self._of_one(x).items()}}

    @property
    def may_slip(self) -> bool:
        """Return whether a transverse load acts on faces of known friction."""
        loaded = any(name.endswith(ACROSS) for name in self.laws)
        return loaded and any(
            name == "friction.joint" or name.endswith(".joint_friction") for name in self.laws
        )

    @property
    def unit_system(self) -> str:
        """Return the unit system to print in, "inch" for an inch thread, else "metric"."""
        return self.joint.thread.unit_system

    @property
    def is_smooth(self) -> bool:
        """Return whether no input goes in steps, so that a design point can exist."""
        return all(self.laws[name].is_smooth for name in self.uncertain)

    @property
    def tested(self) -> dict[str, Tested]:
        """Return the laws that are known from tests only, by input."""
        return {name: law for name, law in self.laws.items() if isinstance(law, Tested)}

    @property
    def given_words(self) -> str:
        """Return what results rest on, as the start of a sentence."""
        return "given these laws and their tests" if self.tested else "given these laws"

    @property
    def unknowns(self) -> int:
        """Return how many normal numbers a draw of the parameters of all tested laws takes."""
        return sum(law.knowledge.columns for law in self.tested.values())

    def with_laws(self, changed: Mapping[str, Law]) -> Case:
        """Return the case with some laws changed, all else as it is.

        Fasteners of its joint that differ go along where they have the law of all others.
        """
        group = self.group
        if group is not None:
            exceptions = tuple(
                (fasteners, other.with_laws(_of_others(self, other, changed)))
                for fasteners, other in group.exceptions
            )
            group = replace(group, exceptions=exceptions)
        return replace(self, laws={**self.laws, **changed}, group=group)

    def parameters(self, e: Array) -> Parameters:
        """Return the parameters of the tested laws at normal numbers e (n, unknowns).

        What is not known of two correlated inputs is correlated as they are, for their locations:
        so it is where both were measured in the same tests.
        """
        drawn: Parameters = {}
        tested = self.tested
        first = np.cumsum([0, *(law.knowledge.columns for law in tested.values())])
        pairs = {pair: rho for pair, rho in self.correlations.items() if {*pair} <= {*tested}}
        locations = Dependence.from_pairs(tuple(tested), pairs).mixed(e[:, first[:-1]])
        for place, (name, law) in enumerate(tested.items()):
            own = e[:, first[place] : first[place + 1]]
            if name in locations:
                own = np.column_stack([locations[name], own[:, 1:]])
            drawn[name] = law.knowledge.parameters(own)
        return drawn

    def inputs(
        self,
        z: Array,
        columns: Sequence[str],
        *,
        exact: bool = True,
        given: Parameters | None = None,
    ) -> dict[str, FloatLike]:
        """Return the inputs by name from standard normal numbers.

        Parameters
        ----------
        z : ndarray (n, d)
            Independent standard normal numbers.
        columns : sequence of str, length d
            The input of each column; those that this case holds constant are passed over.
        exact : bool
            False takes values as good as counting needs (`sampling_table.sampled`), faster.
        given : dict of str to (ndarray (n,), ndarray (n,)), optional
            Location and scale of each tested law in each row; without them such a law is that of
            the next value.

        Returns
        -------
        dict of str to float or ndarray (n,)
            Constants as floats, scatter as arrays, in N, mm, MPa, K.
        """
        mixed = Dependence.from_pairs(columns, self.correlations).mixed(z)
        place = {name: column for column, name in enumerate(columns)}
        x: dict[str, FloatLike] = {}
        for name, law in self.laws.items():
            if isinstance(law, Constant):
                x[name] = law.value
                continue
            normal = mixed[name] if name in mixed else z[:, place[name]]
            if given is not None and isinstance(law, Tested):
                values = law.given(normal, *given[name])
            else:
                values = law.from_normal(normal) if exact else sampled(law, normal)
            if law.support[0] < 0.0 and input_kind(name).sign != "any":
                least = 0.0 if input_kind(name).sign == "not negative" else 1e-6 * law.mean
                np.maximum(values, least, out=values)
            if isinstance(law, Tested):
                np.clip(values, *possible_values(name), out=values)
            x[name] = values
        x = self._with_followers(x)
        x.update(self._of_one(x))
        return x

    def _with_followers(self, x: dict[str, T]) -> dict[str, T]:
        """Return the inputs with those that go along with another."""
        for name, follows in self.follows.items():
            x[name] = follows.factor * x[follows.leader]
        return x

    def _of_one(self, x: Mapping[str, FloatLike]) -> dict[str, FloatLike]:
        """Return what the group makes of its governing fastener; nothing without a group.

        That are the loads on it, and what its neighbours are likely to take of its preload.
        """
        if self.group is None:
            return {}
        facts, fastener = self.group.facts, self.group.governing
        found = facts.loads(x, fastener)
        if facts.interacts:
            found[INTERACTION] = float(interaction_loss(facts)[fastener])
            found[ALIKE], found[TYPICAL] = self.group.alike, self.group.typical
        return found


def _of_others(case: Case, other: Case, changed: Mapping[str, Law]) -> dict[str, Law]:
    """Return the changed laws that another case has from a case."""
    return {
        name: law
        for name, law in changed.items()
        if name in other.laws and other.laws[name] == case.laws[name]
    }


@cache
def possible_values(name: str) -> tuple[float, float]:
    """Return the least and most that an input can have; infinite where nothing is said of it.

    A law from few tests has values beyond: the mechanics does not hold for a friction of 17.
    """
    kind = input_kind(name)
    row = PLAUSIBLE_RANGES.get(name)
    low, high = -math.inf, 1.0 if kind.is_share else math.inf
    if row is not None:
        low = parse_quantity(row.least, kind.dimension) if row.least else low
        high = min(parse_quantity(row.most, kind.dimension), high) if row.most else high
    return low, high


@dataclass(frozen=True, slots=True)
class Suspect:
    """One explanation of what was found: a whole case, and the traces that only evidence shows.

    ``traces`` holds the laws of back rotation, missed tightening, seat and friction at rest;
    ``fractions`` the share of variance that the fasteners of a lot have in common, for every input
    that scatters; ``rotation_time`` [s] the service that the back rotation goes with, or None.
    ``changes`` are the paths that it overrides in the case, ``tables`` what it states there, as in
    a case file; ``prior`` is a weight.
    """

    name: str
    case: Case
    traces: Mapping[str, Law]
    fractions: Mapping[str, float]
    rotation_time: float | None
    changes: frozenset[str]
    prior: float
    source: str
    note: str
    tables: Mapping[str, Any]

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the names of the columns of z: inputs of the case, then traces that scatter."""
        traces = (name for name, law in self.traces.items() if not isinstance(law, Constant))
        return (*self.case.uncertain, *traces)


@dataclass(frozen=True, slots=True)
class Investigation:
    """What was found, and who is suspected; the first suspect is the joint as designed.

    ``two_causes`` is the chance beforehand that two suspects are at work together; ``efforts`` is
    what measurements to come take, by kind; ``inspection`` is what a customer is told of it.
    """

    evidence: Evidence
    suspects: tuple[Suspect, ...]
    two_causes: float
    efforts: Mapping[str, Effort]
    inspection: Inspection
    assumptions: tuple[Assumption, ...]
    warnings: tuple[str, ...]
