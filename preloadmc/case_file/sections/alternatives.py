"""What a case is called, what a joint costs, and the alternatives that change the case."""

from __future__ import annotations

from preloadmc.case import Cost
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table, Text
from preloadmc.case_file.reading import Stated
from preloadmc.inputs import Default
from preloadmc.units import RATIO

_COST = Quantity(RATIO, low=0.0)
_FREE = Default(0.0, "0")
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
    Field("cost", Table(), "what a joint costs, in one currency"),
    Field("cost.per_joint", _COST, "cost of each joint", "1.10", _FREE),
    Field("cost.per_under", _COST, "cost of each joint with too little preload", "900", _FREE),
    Field("cost.per_over", _COST, "cost of each joint with too much preload", "250", _FREE),
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
        Table(changes_case=True),
        "alternative to compare: its tables replace those of the case, key by key",
    ),
    Field(
        "alternative[].name",
        Text("a name for the alternative"),
        "name of the alternative",
        '"better wrench, 3 %"',
        needed=True,
    ),
)


def cost_of(stated: Stated) -> Cost | None:
    """Return the costs; None where the file states none."""
    if not stated.has_table("cost"):
        return None
    return Cost(
        stated.known("cost.per_joint", float),
        stated.known("cost.per_under", float),
        stated.known("cost.per_over", float),
        stated.known("cost.currency", str),
    )
