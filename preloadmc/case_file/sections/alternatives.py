"""What a case is called, what a fastener costs, and the alternatives that change the case."""

from __future__ import annotations

from preloadmc.case import Cost
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import FILE_SECTIONS, TRACE_SECTIONS, Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.word_kinds import Text, Word
from preloadmc.inputs import Default
from preloadmc.units import RATIO

STATED, BEST = "stated", "best"
_COST = Quantity(RATIO, low=0.0)
_FREE = Default(0.0, "0")
_JOINTS = Quantity(RATIO, low=1.0)
NAME_FIELDS = (
    Field("title", Text("a title"), "title of the report", '"Pump cover, M12"'),
    Field(
        "name",
        Text("what this case is called beside its alternatives"),
        "what this case is called beside its alternatives",
        '"wrench, 6 %"',
        Default("as it is", "as it is"),
    ),
)
COST_FIELDS = (
    Field("cost", Table(), "what a fastener costs, in one currency"),
    Field("cost.per_joint", _COST, "cost of each fastener", "1.10", _FREE),
    Field("cost.per_under", _COST, "cost of each fastener with too little preload", "900", _FREE),
    Field("cost.per_over", _COST, "cost of each fastener with too much preload", "250", _FREE),
    Field(
        "cost.per_loosening",
        _COST,
        "cost of each fastener that loosens by transverse slip",
        "400",
        _FREE,
    ),
    Field(
        "cost.per_reject",
        _COST,
        "cost of each tightening that the check at the tool rejects",
        "3.50",
        _FREE,
    ),
    Field("cost.per_check", _COST, "cost of each check in service", "2", _FREE),
    Field("cost.per_retightening", _COST, "cost of each retightening in service", "4", _FREE),
    Field("cost.per_replacement", _COST, "cost of each fastener replaced", "15", _FREE),
    Field("cost.tool_price", _COST, "price of the tool", "2400", _FREE),
    Field("cost.tool_life", _JOINTS, "fasteners that one tool tightens", "200000"),
    Field("cost.quantity", _JOINTS, "fasteners to be tightened in all", "5000"),
    Field(
        "cost.currency",
        Text("the currency, for the report"),
        "currency",
        '"EUR"',
        Default("", "not named"),
    ),
)
ALTERNATIVE_FIELDS = (
    Field(
        "alternative[]",
        Table(changes_case=True, keeps=(*TRACE_SECTIONS, *FILE_SECTIONS)),
        "alternative to compare: its tables replace those of the case, key by key",
    ),
    Field(
        "alternative[].name",
        Text("a name for the alternative"),
        "name of the alternative",
        '"better wrench, 3 %"',
        needed=True,
    ),
    Field(
        "alternative[].setting",
        Word((STATED, BEST)),
        "whether it is compared at the setting stated, or at its own best setting",
        '"best"',
    ),
)


def cost_of(draft: Draft) -> Cost | None:
    """Return the costs; None where the file states none."""
    stated = draft.stated
    if not stated.has_table("cost"):
        return None
    misses = {"cost.per_under": "cost.per_over", "cost.per_over": "cost.per_under"}
    for path, other in misses.items():
        if path not in stated and stated.known(other, float) > 0.0:
            draft.warnings.append(
                f"{path} is not stated and counts as 0, while {other} does not: the best setting "
                "moves away from the side that costs."
            )
    price, life = stated.known("cost.tool_price", float), stated.get("cost.tool_life", float)
    quantity = stated.get("cost.quantity", float)
    if price > 0.0 and life is None and quantity is None:
        stated.problem(
            "cost.tool_price",
            "the number of fasteners that it is spread over: state tool_life, or quantity, or both",
        )
        return None
    return Cost(
        stated.known("cost.per_joint", float),
        stated.known("cost.per_under", float),
        stated.known("cost.per_over", float),
        stated.known("cost.per_loosening", float),
        price,
        life,
        quantity,
        stated.known("cost.currency", str),
        stated.known("cost.per_reject", float),
        stated.known("cost.per_check", float),
        stated.known("cost.per_retightening", float),
        stated.known("cost.per_replacement", float),
    )
