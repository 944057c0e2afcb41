"""The strengths of [fastener]: as stated, from the property class, or one along with the other."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, Follows
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.sections.fastener import grade_of
from preloadmc.chance.laws import Constant, Law, Normal
from preloadmc.inputs import input_label
from preloadmc.joint import Method
from preloadmc.mechanics.grades import Grade, grades_with_usual_excess
from preloadmc.mechanics.thread import Thread
from preloadmc.told import Magnitude, Told
from preloadmc.units import STRESS, format_quantity

YIELD, TENSILE = "fastener.yield_strength", "fastener.tensile_strength"
_STRENGTH, _CLASS = "fastener.strength", "fastener.property_class"


def take_strengths(draft: Draft, method: Method | None) -> None:
    """Take the strengths that the file does not state from the property class.

    A method that tightens each fastener to its own yield takes them as usually delivered unless the
    file says otherwise: a stronger fastener is then tightened harder.
    """
    stated = draft.stated
    grade = grade_of(stated)
    if grade is None:
        if _STRENGTH in stated and _CLASS not in stated and not stated.problems.at(_CLASS):
            stated.problem(_STRENGTH, "nothing without a property_class")
        return
    _doubt_size(draft, grade)
    strengths = {YIELD: grade.yield_strength, TENSILE: grade.tensile_strength}
    absent = {name: value for name, value in strengths.items() if name not in stated}
    if _STRENGTH in stated:
        usual = _as_usual(draft, grade)
    elif method is not None and method.passes_yield and len(absent) == len(strengths):
        usual = _usual_by_default(draft, grade, method)
    else:
        usual = False
    if len(absent) == 1 and _follow(draft, grade, *absent, even_one_figure=usual):
        return
    if usual and len(absent) == len(strengths):
        draft.correlations[YIELD, TENSILE] = 0.95
        draft.assume(
            "fastener.yield_strength with tensile_strength",
            "correlation 0.95 of the standard normals: a strong heat is strong in both",
            "engineering judgement",
        )
    for name, value in absent.items():
        law: Law = Constant(value)
        told: Told = (Magnitude(value, STRESS), f", the minimum of {grade.name}")
        source = ""
        excess = grade.usual_excess
        if usual and excess is not None:
            mean = excess.mean_ratio * value
            law = Normal(mean, excess.cov * mean)
            told = (
                "normal, mean ",
                Magnitude(mean, STRESS),
                f", cov {100 * excess.cov:g} %: {excess.mean_ratio:g} times the minimum of "
                f"{grade.name}",
            )
            source = f"; {excess.source}"
        draft.laws[name] = law
        draft.assume(name, told, grade.source + source)


def _doubt_size(draft: Draft, grade: Grade) -> None:
    """Warn where the standard leaves the strengths of a size to agreement."""
    thread = draft.stated.get("fastener.thread", Thread)
    limit = grade.agreed_above
    if thread is not None and limit is not None and thread.diameter > limit:
        draft.warnings.append(
            f"property_class {grade.name} above M{limit:g}: the standard leaves the strengths to "
            "agreement between buyer and seller (from memory); those of smaller sizes are taken. "
            "State yield_strength and tensile_strength as agreed."
        )


def _follow(draft: Draft, grade: Grade, name: str, *, even_one_figure: bool) -> bool:
    """Let a strength that the file does not state follow the other one, if that scatters.

    The class's ratio of the two holds in every fastener; a law on one and the minimum of the other
    would leave many a yield strength above the tensile strength.

    Returns
    -------
    bool
        Whether it follows.
    """
    other = TENSILE if name == YIELD else YIELD
    law = draft.laws.get(other)
    if law is None or (isinstance(law, Constant) and not even_one_figure):
        return False
    ratio = grade.yield_strength / grade.tensile_strength
    factor = ratio if name == YIELD else 1.0 / ratio
    draft.follows[name] = Follows(other, factor)
    draft.assume(
        name,
        f"{factor:.4g} times the {input_label(other)} of each fastener: the minima of {grade.name} "
        "are in that ratio",
        f"{grade.source}; that the ratio holds in every fastener is engineering judgement",
    )
    return True


def check_strengths(draft: Draft) -> None:
    """No fastener breaks before it yields: the tensile strength is above the yield strength."""
    yielding, tensile = draft.laws.get(YIELD), draft.laws.get(TENSILE)
    # Where both are as usual they go together, and are far enough apart in every class.
    if yielding is None or tensile is None or (YIELD, TENSILE) in draft.correlations:
        return
    yielding, tensile = yielding.best_estimate(), tensile.best_estimate()
    crossed = _chance_of_crossing(yielding, tensile)
    if crossed > NEGLIGIBLE_BELOW_ZERO:
        words = "above the yield strength in every fastener; "
        if isinstance(yielding, Constant) and isinstance(tensile, Constant):
            words += f"it is not above {format_quantity(yielding.value, STRESS, draft.unit_system)}"
        else:
            words += f"with these laws it is not with probability {crossed:.2g}"
        draft.stated.problems.add(
            TENSILE,
            None if TENSILE not in draft.stated else draft.stated.given(TENSILE),
            f"{words} (beside a property_class one law alone is enough, the other strength "
            'follows it; strength = "usual" lets both go together)',
        )


def _chance_of_crossing(yielding: Law, tensile: Law) -> float:
    """Return the probability that yield is not below the tensile strength, both independent."""
    if isinstance(tensile, Constant):
        return float(yielding.sf(math.nextafter(tensile.value, 0.0)))
    # The mean of P(yield > t) over the tensile strength t, by the trapezoidal rule on its normal.
    z, step = np.linspace(-8.0, 8.0, 4001, retstep=True)
    weights = step * np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return float(np.sum(weights * yielding.sf(tensile.from_normal(z))))


def _usual_by_default(draft: Draft, grade: Grade, method: Method) -> bool:
    """Return whether the class has a usual excess; ask for a law of the strength where not."""
    if grade.usual_excess is None:
        draft.stated.missing(
            YIELD,
            f"a law of it: '{method.name}' tightens each fastener to its own yield, and "
            f"{grade.name} has no usual excess over its minimum, which says how little preload "
            'there may be and not how much (strength = "minimum" is enough for too little)',
        )
        return False
    draft.assume(
        _STRENGTH,
        f"usual: '{method.name}' tightens each fastener to its own yield, not to the minimum",
        grade.usual_excess.source,
    )
    return True


def is_one_figure(draft: Draft) -> bool:
    """Return whether the yield strength is one figure, above which a fastener may well lie."""
    return isinstance(draft.leading_law(YIELD), Constant)


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
