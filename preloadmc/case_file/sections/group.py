"""The section [group]: the fasteners of one joint, what it carries, and how they are tightened."""

from __future__ import annotations

from dataclasses import dataclass, field

from preloadmc.case_file.common_scatter import common_scatter
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.case_file.list_kinds import Row
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.sections.group_loads import LOAD_FIELDS, loads_of, positions_of
from preloadmc.case_file.sections.group_tightening import (
    SEQUENCE,
    TIGHTENING_FIELDS,
    coefficients_of,
    passes_of,
)
from preloadmc.chance.laws import Constant
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import Default
from preloadmc.joint import GROUP_LOADS, FastenerGroup
from preloadmc.joint.group import TORSIONAL, TRANSVERSE
from preloadmc.units import RATIO

MOST_FASTENERS = 200
# What a fastener cannot have otherwise than its joint.
NOT_OF_EXCEPTIONS = (
    "title",
    "name",
    "temperature",
    "load",
    "requirement",
    "group",
    "cost",
    "sampling",
)
FASTENERS = "group.fasteners"
_AT_LEAST = "group.at_least"
SPREAD = "group.spread"
_ALLOWED = Quantity(RATIO, above=0.0, high=1.0)
ALLOWED = {
    "any_under": "that any fastener has too little preload",
    "any_over": "that any fastener has too much preload",
    "any_outside": "that any fastener ends outside the preload window",
    "fewer_than_k": "that fewer than at_least fasteners keep enough preload",
    "first_slip": "that the parts slip at any fastener",
    "slip_capacity": "that the whole joint slips",
    "total_clamp": "that the total clamp force is below minimum_total_clamp",
    "least_clamp": "that the clamp force at any fastener is below minimum_clamp",
}
FIELDS = (
    Field("group", Table(), "the fasteners of one joint; [load] and [requirement] are for each"),
    Field(
        FASTENERS,
        Whole(2, MOST_FASTENERS),
        "number of fasteners of the joint",
        "8",
        called=("bolts", "screws", "studs", "number", "count", "n"),
    ),
    *LOAD_FIELDS,
    *TIGHTENING_FIELDS,
    Field(_AT_LEAST, Whole(1, MOST_FASTENERS), "fasteners that must keep enough preload", "7"),
    Field(
        SPREAD,
        Quantity(RATIO, above=0.0, high=1.0),
        "largest less smallest preload over the mean that counts as even",
        '"10 %"',
        Default(0.1, "10 %: preloads within this are called even", "engineering judgement"),
    ),
    Field(
        "group.lot_share",
        Quantity(RATIO, above=0.0, high=1.0),
        "share of joints that may miss in a lot",
        '"1 %"',
        Default(0.01, "1 %: lots are counted in which more joints miss", "engineering judgement"),
    ),
    Field("group.allowed", Table(), "allowed probabilities of the joint as a whole"),
    *(
        Field(f"group.allowed.{name}", _ALLOWED, f"allowed probability {meaning}", "1e-3")
        for name, meaning in ALLOWED.items()
    ),
    Field(
        "group.exception[]",
        Table(changes_case=True, keeps=NOT_OF_EXCEPTIONS),
        "fasteners that differ: the tables replace those of the case, key by key",
    ),
    Field(
        "group.exception[].fasteners",
        Row(Whole(1, MOST_FASTENERS)),
        "numbers of the fasteners that differ, from 1",
        "[1, 5]",
        needed=True,
    ),
)


@dataclass(frozen=True, slots=True)
class StatedGroup:
    """The facts of a group, and what is asked of it."""

    facts: FastenerGroup
    at_least: int | None
    allowed: dict[str, float] = field(default_factory=dict)
    spread: float = 0.1
    lot_share: float = 0.01


def is_group(stated: Stated) -> bool:
    """Return whether the case is of several fasteners."""
    return stated.has_table("group")


def check_loads(draft: Draft) -> None:
    """Loads of a joint and of one fastener exclude each other."""
    stated = draft.stated
    if not is_group(stated):
        return
    of_group = [path for path in GROUP_LOADS if path in stated]
    states = stated.each("temperature.state")
    of_one = [
        path
        for place in ("load", *states)
        for path in (f"{place}.axial", f"{place}.transverse")
        if path in stated
    ]
    if of_group and of_one:
        stated.problem(
            of_one[0],
            f"loads of the joint ({', '.join(of_group)}) or loads on one fastener, not both",
        )


def group_of(draft: Draft) -> StatedGroup | None:
    """Return what the case says of its group; None where it is of one fastener, or has problems."""
    stated = draft.stated
    if not is_group(stated):
        return None
    n = stated.get(FASTENERS, int)
    if n is None and FASTENERS not in stated:
        stated.missing(FASTENERS, stated.field(FASTENERS).asked)
    layout, positions = positions_of(draft, n)
    loads = loads_of(draft, n, positions)
    coefficients, source = coefficients_of(draft, n, layout)
    sequence = passes_of(draft, n)
    at_least = stated.get(_AT_LEAST, int)
    if at_least is not None and n is not None and at_least > n:
        stated.problem(_AT_LEAST, f"no more than the {n} fasteners")
    allowed = {
        name: value
        for name in ALLOWED
        if (value := stated.get(f"group.allowed.{name}", float)) is not None
    }
    _check_allowed(draft, allowed)
    if n is None or loads is None or coefficients is None or sequence is None:
        return None
    passes, name, tools = sequence
    axial, bending, transverse, torsional, direction = loads
    if coefficients.any():
        for path in (*SEQUENCE, SPREAD):
            draft.assume_default(path)
    draft.assume_default("group.lot_share")
    facts = FastenerGroup(
        fasteners=n,
        layout=layout,
        positions=positions,
        direction=direction,
        axial=axial,
        bending=bending,
        transverse=transverse,
        torsional=torsional,
        coefficients=coefficients,
        interaction_source=source,
        passes=passes,
        order_name=name,
        tools=tools,
    )
    return StatedGroup(
        facts,
        at_least,
        allowed,
        stated.known(SPREAD, float),
        stated.known("group.lot_share", float),
    )


def fractions_of(draft: Draft) -> tuple[dict[str, float], dict[str, str]]:
    """Return how much of each input's variance the fasteners of a joint share, and by what.

    What tests leave open is no part of it: it is drawn by numbers of its own.
    """
    fractions, levels = {}, {}
    for name, law in draft.laws.items():
        if isinstance(law, Constant):
            continue
        shared = draft.shared.get(name)
        if shared is not None:
            levels[name], fractions[name] = shared.by, shared.fraction
            continue
        levels[name], fractions[name], why = common_scatter(name)
        if isinstance(law, Tested):
            fractions[name], why = 0.0, "what its tests leave open is in common already"
        words = f"{100 * fractions[name]:g} % of the variance in common by {levels[name]}"
        draft.assume(f"{name} shared", words, why)
    return fractions, levels


def _check_allowed(draft: Draft, allowed: dict[str, float]) -> None:
    """What is allowed of the group needs what it is about."""
    stated = draft.stated
    needs = {
        "fewer_than_k": (_AT_LEAST,),
        "total_clamp": ("group.minimum_total_clamp",),
        "least_clamp": ("requirement.minimum_clamp",),
        "first_slip": (TRANSVERSE, TORSIONAL, "load.transverse"),
        "slip_capacity": (TRANSVERSE, TORSIONAL),
    }
    for name, paths in needs.items():
        if name in allowed and not any(
            path in stated or stated.problems.at(path) for path in paths
        ):
            stated.problem(f"group.allowed.{name}", f"what it is about: state {' or '.join(paths)}")
