"""The sections [requirement] and [sampling]: what is asked of the joint and of the numbers."""

from __future__ import annotations

from collections.abc import Mapping

from preloadmc.case import MOST_SAMPLES, Sampling
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.limits import Requirement
from preloadmc.units import RATIO

DEFAULT_SAMPLES = 1_000_000
DEFAULT_SEED = 1


def read_requirement(table: Table, draft: Draft) -> Requirement:
    """Read [requirement]: the preload window and the allowed probabilities of missing it."""
    minimum = _minimum(table, draft)
    maximum, fraction = _maximum(table, draft)
    _check_window(table, draft)
    allowed = []
    for key in ("allowed_under", "allowed_over"):
        allowed.append(table.quantity(key, RATIO, above=0.0, high=1.0))
        if key not in table:
            draft.assume(table.at(key), "none: no probability is asked for")
    table.close()
    return Requirement(minimum, maximum, fraction, allowed[0], allowed[1])


def _minimum(table: Table, draft: Draft) -> str:
    given = table.raw("minimum_preload")
    if given is None:
        table.missing("minimum_preload", 'a force, or { from = "no slip" }')
        return "stated"
    if not (isinstance(given, Mapping) and "from" in given):
        draft.read(table, "minimum_preload", "requirement.minimum_preload")
        return "stated"
    derived = table.table("minimum_preload")
    limit = derived.choice("from", ("no slip", "no separation"), None) or "stated"
    derived.close()
    load = "transverse" if limit == "no slip" else "axial"
    if not any(name.endswith(f".{load}") for name in draft.laws):
        derived.problem("from", f"a [load] {load} to derive it from")
    if limit == "no slip" and not any("joint" in n and "friction" in n for n in draft.laws):
        derived.problem("from", "[friction] joint, the friction between the clamped parts")
    if "joint.compliance" in draft.laws and any(n.endswith(".axial") for n in draft.laws):
        derived.problem(
            "from",
            "[joint] fastener_compliance and clamped_compliance: their total "
            "does not say what share of an axial load the fastener takes",
        )
    return limit


def _maximum(table: Table, draft: Draft) -> tuple[str, float]:
    given = table.raw("maximum_preload")
    # A strength that could not be read is one problem, not two.
    knows_yield = "fastener.yield_strength" in draft.laws or draft.problems.has(
        "fastener.property_class", "fastener.yield_strength", "fastener.thread"
    )
    if given is None:
        if knows_yield:
            draft.assume(table.at("maximum_preload"), "yield in tension with torsion")
        else:
            table.missing(
                "maximum_preload",
                'a force, or { from = "yield", fraction = 0.9 }, or '
                "[fastener] property_class for yield itself",
            )
        return "", 1.0
    if not (isinstance(given, Mapping) and "from" in given):
        draft.read(table, "maximum_preload", "requirement.maximum_preload")
        return "stated", 1.0
    derived = table.table("maximum_preload")
    derived.choice("from", ("yield",), None)
    fraction = derived.quantity("fraction", RATIO, above=0.0, high=2.0)
    if "fraction" not in derived:
        derived.missing("fraction", "the share of the yield preload, such as 0.9")
    derived.close()
    if not knows_yield:
        derived.problem("from", "[fastener] property_class or yield_strength to derive it from")
    return "yield", 1.0 if fraction is None else fraction


def _check_window(table: Table, draft: Draft) -> None:
    low, high = (draft.laws.get(f"requirement.{side}_preload") for side in ("minimum", "maximum"))
    if low is not None and high is not None and low.mean >= high.mean:
        table.problem("minimum_preload", "a minimum below the maximum_preload")


def read_sampling(table: Table, draft: Draft) -> Sampling:
    """Read [sampling]: a count or a precision, and the seed."""
    samples = table.whole_number("samples", 1, MOST_SAMPLES)
    precision = table.quantity("precision", RATIO, above=0.0, high=1.0)
    seed = table.whole_number("seed", 0, 2**63 - 1)
    if "samples" in table.data and "precision" in table.data:
        table.problem("precision", "either samples or a precision")
    if "samples" not in table.data and "precision" not in table.data:
        samples = DEFAULT_SAMPLES
        draft.assume(table.at("samples"), f"{samples:,}", "default of this program")
    if "seed" not in table:
        draft.assume(table.at("seed"), f"{DEFAULT_SEED}", "default of this program")
    table.close()
    return Sampling(samples, precision, DEFAULT_SEED if seed is None else seed)
