"""The sections [requirement] and [sampling]: what is asked of the joint and of the numbers."""

from __future__ import annotations

from collections.abc import Mapping

from preloadmc.case import MOST_SAMPLES, Sampling
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.fastener_section import FastenerFacts
from preloadmc.case_file.tables import Table
from preloadmc.chance.laws import Constant
from preloadmc.joint import Method
from preloadmc.limits import Requirement
from preloadmc.mechanics.structural import structural_preload
from preloadmc.units import FORCE, RATIO, format_quantity

DEFAULT_SAMPLES = 1_000_000
DEFAULT_SEED = 1


def read_requirement(
    table: Table, draft: Draft, fastener: FastenerFacts, method: Method | None
) -> Requirement:
    """Read [requirement]: the preload window and the allowed probabilities of missing it."""
    minimum = _minimum(table, draft, fastener)
    maximum, fraction = _maximum(table, draft, method)
    _check_window(table, draft)
    allowed = []
    for key in ("allowed_under", "allowed_over"):
        allowed.append(table.quantity(key, RATIO, above=0.0, high=1.0))
        if key not in table:
            draft.assume(table.at(key), "none: no probability is asked for")
    table.close()
    return Requirement(minimum, maximum, fraction, allowed[0], allowed[1])


def _minimum(table: Table, draft: Draft, fastener: FastenerFacts) -> str:
    given = table.raw("minimum_preload")
    if given is None:
        table.missing("minimum_preload", 'a force, or { from = "no slip" }')
        return "stated"
    if not (isinstance(given, Mapping) and "from" in given):
        draft.read(table, "minimum_preload", "requirement.minimum_preload")
        return "stated"
    derived = table.table("minimum_preload")
    origins = ("no slip", "no separation", "structural preloading")
    limit = derived.choice("from", origins, None) or "stated"
    derived.close()
    if limit == "structural preloading":
        _structural(derived, draft, fastener)
        return "stated"
    if limit == "stated":
        return limit
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


def _structural(derived: Table, draft: Draft, fastener: FastenerFacts) -> None:
    """F_p,C = 0.7 f_ub As of structural bolting, for the classes that have it."""
    nominal = {"8.8": 800.0, "10.9": 1000.0}
    name = "" if fastener.grade is None else fastener.grade.name
    if name not in nominal or fastener.thread is None:
        derived.problem("from", "[fastener] property_class 8.8 or 10.9 for structural preloading")
        return
    value = float(structural_preload(nominal[name], fastener.thread.stress_area))
    draft.laws["requirement.minimum_preload"] = Constant(value)
    draft.assume(
        derived.path,
        f"{format_quantity(value, FORCE)} = 0.7 x {nominal[name]:g} MPa x As",
        "EN 1993-1-8:2005, Sec. 3.6.1",
    )


def _maximum(table: Table, draft: Draft, method: Method | None) -> tuple[str, float]:
    given = table.raw("maximum_preload")
    elongation = "maximum_plastic_elongation"
    if elongation in table:
        draft.read(table, elongation, f"requirement.{elongation}")
        if method is not None and not method.passes_yield:
            table.problem(elongation, f"nothing: '{method.name}' is meant to stay elastic")
    if given is None and method is not None and method.passes_yield:
        if elongation not in table.data:
            table.missing(
                "maximum_preload", f"a force, or {elongation}: this method goes past yield"
            )
        return "", 1.0
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
