"""From normal numbers to all fasteners of a joint: what they share, and what each has of its own.

An input of which the fasteners share a fraction f of the variance takes ``sqrt(f) u + sqrt(1-f) v``
as its normal number: u is one of the joint's, v one of the fastener's. What tests leave open of a
law is drawn by further numbers of the joint. Given all that is shared, and without elastic
interaction, the fasteners are independent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from preloadmc.case import Case, Group, Parameters
from preloadmc.chance.tested_law import Tested
from preloadmc.engine import SIDES, on_event
from preloadmc.inputs import input_order
from preloadmc.joint import (
    INTERACTION,
    TAKEN,
    JudgedState,
    State,
    after_all_passes,
    assemble,
    evaluate,
    interaction_loss,
    preload_for_no_separation,
)
from preloadmc.joint.group import TORSIONAL, TRANSVERSE
from preloadmc.limits import as_columns, margins
from preloadmc.mechanics.gross_slip import slip_load_factor
from preloadmc.units import Array, FloatLike

TOTAL_CLAMP_INPUT = "group.minimum_total_clamp"
# Beginnings of the names of what a joint has one of.
_OF_JOINT = ("group.", "requirement.")
# A load this many times smaller than what a joint holds is as good as none.
_MOST_FACTOR = 1e3
# Fasteners worked on at once: a block stays within the cache of a core.
_ROWS = 2**16


@dataclass(frozen=True, slots=True)
class Member:
    """Fasteners of one joint, counted from 0, that have the laws of one case."""

    case: Case
    fasteners: NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Made:
    """Fasteners of one member in m joints: their inputs and state, rows joint by joint."""

    member: Member
    x: Mapping[str, FloatLike]
    state: State
    joints: int

    def by_fastener(self, values: FloatLike) -> Array:
        """Return values of rows as (m, fasteners of the member)."""
        shape = self.joints, len(self.member.fasteners)
        return np.broadcast_to(values, shape[0] * shape[1]).reshape(shape)


class WholeJoint:
    """All fasteners of a case's joint as functions of its shared and their own normal numbers.

    Parameters
    ----------
    case : Case
        A case with a group.
    common : float, optional
        Share of variance that the fasteners have in common of every input in place of that stated;
        what is of the joint by its meaning, its loads and requirement, stays common.

    Attributes
    ----------
    columns : tuple of str
        Inputs that scatter, in the order of the fixed list.
    shared, own : int
        Numbers of each joint, and of each fastener; the last shared ones, ``unknowns``, are of what
        tests leave open.
    """

    def __init__(self, case: Case, *, common: float | None = None) -> None:
        assert case.group is not None, "a whole joint has a group"
        self.case = case
        self.group: Group = case.group
        self.members = tuple(_members(case, case.group))
        names = {name for member in self.members for name in member.case.uncertain}
        self.columns = tuple(sorted(names, key=input_order))
        fractions = np.array([_fraction(self.members, name, common) for name in self.columns])
        self._common = np.flatnonzero(fractions > 0.0)
        self._apart = np.flatnonzero(fractions < 1.0)
        self._of_common = np.sqrt(fractions[self._common])
        self._of_own = np.sqrt(1.0 - fractions[self._apart])
        self._unknowns = _unknowns(self.members)
        self.unknowns = sum(law.knowledge.columns for _, law in self._unknowns)
        self.shared = len(self._common) + self.unknowns
        self.own = len(self._apart)

    @property
    def n(self) -> int:
        """Return the number of fasteners."""
        return self.group.n

    @cached_property
    def shared_names(self) -> tuple[str, ...]:
        """Return the inputs of the shared numbers; those of what tests leave open stand last."""
        of_laws = [self.columns[place] for place in self._common]
        of_tests = [name for name, law in self._unknowns for _ in range(law.knowledge.columns)]
        return (*of_laws, *of_tests)

    @cached_property
    def stations(self) -> tuple[tuple[Member, tuple[int, ...]], ...]:
        """Return the fasteners that are equal where none interact: by member, then by load."""
        found = []
        for member in self.members:
            mine = set(member.fasteners.tolist())
            for station in self.group.facts.stations:
                here = tuple(fastener for fastener in station if fastener in mine)
                if here:
                    found.append((member, here))
        return tuple(found)

    def places(self, levels: tuple[str, ...]) -> NDArray[np.intp]:
        """Return the places of the shared numbers that belong to lots, tools or joints."""
        of_laws = len(self._common)
        return np.array(
            [
                place
                for place, name in enumerate(self.shared_names[:of_laws])
                if self.group.levels.get(name, "joint") in levels
            ],
            dtype=np.intp,
        )

    def station_of(self, fastener: int) -> tuple[Member, tuple[int, ...]]:
        """Return the member and the equal fasteners that a fastener is one of."""
        return next(each for each in self.stations if fastener in each[1])

    def of_station(
        self, member: Member, fastener: int, event: str
    ) -> Callable[[Array, Array], Array]:
        """Return the margins of one fastener as a function; neighbours take what is likely of them.

        Parameters
        ----------
        member : Member
            The fastener's.
        fastener : int
            Its place, from 0.
        event : str
            One of `engine.OUTCOMES`, or a limit by its name.

        Returns
        -------
        callable
            From shared numbers (m, shared) and own ones (m, own) to margins (m, c).
        """
        one = Member(member.case, np.array([fastener]))

        def function(u: Array, v: Array) -> Array:
            x = self._inputs(one, u, v[:, None, :])
            if self.group.facts.interacts:
                x[INTERACTION] = float(interaction_loss(self.group.facts)[fastener])
            state = evaluate(member.case.joint, x)
            return self._margins(Made(one, x, state, len(u)), event)

        return function

    def of_all_numbers(self, member: Member, fastener: int, event: str) -> Callable[[Array], Array]:
        """Return `of_station` as a function of all numbers of one fastener, shared ones first."""
        margins = self.of_station(member, fastener, event)

        def function(z: Array) -> Array:
            return margins(z[:, : self.shared], z[:, self.shared :])

        return function

    def worst_margins(self, event: str) -> Callable[[Array, Array], Array]:
        """Return the smallest margin of each fastener of whole joints, as a function.

        Returns
        -------
        callable
            From shared numbers (m, shared) and own ones (m, n, own) to margins (m, n).
        """

        def function(u: Array, v: Array) -> Array:
            found = np.empty((len(u), self.n))
            for rows in self._blocks(len(u)):
                found[rows] = self.worst_of(self.made(u[rows], v[rows]), event)
            return found

        return function

    def worst_of(self, made: list[Made], event: str) -> Array:
        """Return the smallest margin of each fastener of joints that are made (m, n)."""
        return self.by_fastener(made, lambda each: self._margins(each, event).min(axis=1))

    def made(self, u: Array, v: Array) -> list[Made]:
        """Return the fasteners of m joints, member by member.

        Parameters
        ----------
        u, v : ndarray (m, shared), ndarray (m, n, own)
            Normal numbers.
        """
        inputs = [self._inputs(member, u, v[:, member.fasteners]) for member in self.members]
        if self.group.facts.interacts:
            tightened = self._tightened(inputs, len(u))
            taken = tightened - after_all_passes(self.group.facts, tightened)
            for member, x in zip(self.members, inputs, strict=True):
                x[TAKEN] = taken[:, member.fasteners].ravel()
        return [
            Made(member, x, evaluate(member.case.joint, x), len(u))
            for member, x in zip(self.members, inputs, strict=True)
        ]

    @property
    def numbers(self) -> int:
        """Return how many normal numbers a joint has: shared ones, then those of each fastener."""
        return self.shared + self.n * self.own

    def margins_of(self, name: str) -> Callable[[Array], Array]:
        """Return the margins of what is asked of all fasteners together, as a function.

        Parameters
        ----------
        name : {"total_clamp", "slip_capacity"}
            Total clamp force less the one needed [N], or the factor on the load of the joint at
            which all of it slips, less one.

        Returns
        -------
        callable
            From normal numbers (m, numbers) of whole joints to margins (m, states).
        """

        def function(z: Array) -> Array:
            u, v = self.unmixed(z)
            found = np.empty((len(z), len(self.case.joint.judged_states)))
            for rows in self._blocks(len(z)):
                found[rows] = self.together_of(self.made(u[rows], v[rows]), name)
            return found

        return function

    def together_of(self, made: list[Made], name: str) -> Array:
        """Return the margins of `margins_of` of joints that are made (m, states)."""
        margin = {"total_clamp": _total_clamp, "slip_capacity": self._slip}[name]
        states = range(len(self.case.joint.judged_states))
        return np.column_stack([margin(made, state) for state in states])

    def _slip(self, made: list[Made], state: int) -> Array:
        """Return the factor on the load of the joint at which all of it slips, less one.

        The load of a joint is one: it is read of its first fastener.
        """
        facts = self.group.facts

        def held_by(each: Made) -> FloatLike:
            judged = each.state.judged[state]
            assert judged.joint_friction is not None, "asked for where it is stated"
            friction = judged.joint_friction * each.member.case.joint.slip_faces
            return friction * clamp_force(judged)

        held = self.by_fastener(made, held_by)
        force, moment = (
            np.zeros(len(held))
            if name not in made[0].x
            else made[0].by_fastener(made[0].x[name])[:, 0]
            for name in (TRANSVERSE, TORSIONAL)
        )
        if facts.positions is None or TORSIONAL not in made[0].x:
            load = np.maximum(np.abs(force), held.sum(axis=1) / _MOST_FACTOR)
            factor = held.sum(axis=1) / np.maximum(load, 1e-300)
        else:
            across = force[:, None] * facts.direction
            factor = slip_load_factor(held, facts.positions, across, moment)
        margin: Array = np.minimum(factor, _MOST_FACTOR) - 1.0
        return margin

    def by_fastener(self, made: list[Made], of: Callable[[Made], FloatLike]) -> Array:
        """Return a quantity of each fastener of joints that are made (m, n), from its member's."""
        found = np.empty((made[0].joints, self.n))
        for each in made:
            found[:, each.member.fasteners] = each.by_fastener(of(each))
        return found

    def tightened(self, u: Array, v: Array) -> Array:
        """Return the preload of each fastener right after its own tightening (m, n) [N]."""
        return self.by_fastener(self.made(u, v), lambda each: each.state.assembly.preload)

    def unmixed(self, z: Array) -> tuple[Array, Array]:
        """Split rows (m, shared + n own) into shared numbers and own ones (m, n, own)."""
        return z[:, : self.shared], z[:, self.shared :].reshape(len(z), self.n, self.own)

    def _blocks(self, m: int) -> Iterator[slice]:
        step = max(_ROWS // self.n, 1)
        for first in range(0, m, step):
            yield slice(first, first + step)

    def _tightened(self, inputs: list[dict[str, FloatLike]], m: int) -> Array:
        tightened = np.empty((m, self.n))
        for member, x in zip(self.members, inputs, strict=True):
            preload = assemble(member.case.joint, x).preload
            count = len(member.fasteners)
            tightened[:, member.fasteners] = np.broadcast_to(preload, m * count).reshape(m, count)
        return tightened

    def _inputs(self, member: Member, u: Array, v: Array) -> dict[str, FloatLike]:
        """Return the inputs of a member's fasteners, rows joint by joint, before interaction."""
        m, k = v.shape[:2]
        z = np.zeros((m, k, len(self.columns)))
        z[:, :, self._common] = (u[:, : len(self._common)] * self._of_common)[:, None, :]
        z[:, :, self._apart] += v * self._of_own
        given = self._parameters(member, u, k)
        x = member.case.inputs(z.reshape(m * k, -1), self.columns, given=given)
        x.update(self.group.facts.loads(x, np.tile(member.fasteners, m)))
        return x

    def _parameters(self, member: Member, u: Array, k: int) -> Parameters | None:
        """Return location and scale of each tested law in each row; None where there is none."""
        tested = member.case.tested
        if not tested:
            return None
        first = len(self._common)
        places: dict[str, NDArray[np.intp]] = {}
        for name, law in self._unknowns:
            last = first + law.knowledge.columns
            if tested.get(name) == law:
                places[name] = np.arange(first, last)
            first = last
        drawn = member.case.parameters(u[:, np.concatenate([places[name] for name in tested])])
        return {
            name: (np.repeat(at, k), np.repeat(scale, k)) for name, (at, scale) in drawn.items()
        }

    def _margins(self, made: Made, event: str) -> Array:
        """Return the margins of an event by row, as columns."""
        case = made.member.case
        others = event not in SIDES
        found = margins(case.joint, case.requirement, made.x, made.state, others=others)
        return as_columns(on_event(found, event), made.joints * len(made.member.fasteners))


def _total_clamp(made: list[Made], state: int) -> Array:
    """Return the clamp force of all fasteners together, less the one needed [N]."""
    total = sum(
        each.by_fastener(clamp_force(each.state.judged[state])).sum(axis=1) for each in made
    )
    needed = made[0].by_fastener(made[0].x[TOTAL_CLAMP_INPUT])[:, 0]
    margin: Array = total - needed
    return margin


def clamp_force(judged: JudgedState) -> FloatLike:
    """Return the clamp force at a fastener in a state [N]: parts that have parted press no more."""
    clamp: FloatLike = np.maximum(judged.preload - preload_for_no_separation(judged), 0.0)
    return clamp


def _members(case: Case, group: Group) -> Iterator[Member]:
    """Yield the case with the fasteners that are as it says, then the exceptions."""
    differ = {fastener for fasteners, _ in group.exceptions for fastener in fasteners}
    alike = [fastener for fastener in range(group.n) if fastener not in differ]
    if alike:
        yield Member(case, np.array(alike))
    for fasteners, other in group.exceptions:
        yield Member(other, np.array(fasteners))


def _fraction(members: tuple[Member, ...], name: str, common: float | None) -> float:
    """Return the share of an input's variance that is common, as the first member has it."""
    if common is not None and not name.startswith(_OF_JOINT):
        return common
    for member in members:
        assert member.case.group is not None, "a member is of the group"
        if name in member.case.group.fractions:
            return member.case.group.fractions[name]
    raise KeyError(name)


def _unknowns(members: tuple[Member, ...]) -> list[tuple[str, Tested]]:
    """Return the laws known from tests only, each once however many members have it."""
    found: list[tuple[str, Tested]] = []
    for member in members:
        found += [each for each in member.case.tested.items() if each not in found]
    return found
