"""The strengths of [fastener]: as stated, from the property class, or one along with the other."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.sections.fastener import grade_of
from preloadmc.chance.laws import Constant, Law, Normal
from preloadmc.mechanics.grades import Grade, grades_with_usual_excess
from preloadmc.units import STRESS, format_quantity

YIELD, TENSILE = "fastener.yield_strength", "fastener.tensile_strength"
_STRENGTH, _CLASS = "fastener.strength", "fastener.property_class"


def take_strengths(draft: Draft) -> None:
    """Take the strengths that the file does not state from the property class."""
    stated = draft.stated
    grade = grade_of(stated)
    if grade is None:
        if _STRENGTH in stated and _CLASS not in stated:
            stated.problem(_STRENGTH, "nothing without a property_class")
        return
    usual = _as_usual(draft, grade)
    strengths = {YIELD: grade.yield_strength, TENSILE: grade.tensile_strength}
    absent = {name: value for name, value in strengths.items() if name not in stated}
    if usual and len(absent) == len(strengths):
        draft.correlations[YIELD, TENSILE] = 0.95
        draft.assume(
            "fastener.yield_strength with tensile_strength",
            "correlation 0.95 of the standard normals: a strong heat is strong in both",
            "engineering judgement",
        )
    for name, value in absent.items():
        law: Law = Constant(value)
        words, source = f"{format_quantity(value, STRESS)}, the minimum of {grade.name}", ""
        excess = grade.usual_excess
        if usual and excess is not None:
            mean = excess.mean_ratio * value
            law = Normal(mean, excess.cov * mean)
            words = (
                f"normal, mean {format_quantity(mean, STRESS)}, cov {100 * excess.cov:g} %: "
                f"{excess.mean_ratio:g} times the minimum of {grade.name}"
            )
            source = f"; {excess.source}"
        draft.laws[name] = law
        draft.assume(name, words, grade.source + source)


def _as_usual(draft: Draft, grade: Grade) -> bool:
    """Return whether strengths are as usually delivered; refuse it where that is not known."""
    stated = draft.stated
    if stated.known(_STRENGTH, str) != "usual":
        return False
    if grade.usual_excess is None:
        stated.problem(
            _STRENGTH,
            f"'minimum', or yield_strength as a law: {grade.name} has no usual excess over its "
            f"minimum; those that have one: {', '.join(grades_with_usual_excess())}",
        )
        return False
    return True
