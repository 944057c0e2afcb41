"""The section [requirement]: the preload window, and how often it may be missed."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field, Form
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.sections.fastener import grade_of
from preloadmc.case_file.sections.strength import TENSILE, is_one_figure
from preloadmc.case_file.word_kinds import Word
from preloadmc.chance.laws import Constant, Law
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import ACROSS, ALONG, Default
from preloadmc.joint import Method
from preloadmc.limits import LIMITS, SLIP, WANTED_LAW, Requirement, minimum_origins
from preloadmc.mechanics.structural import structural_preload
from preloadmc.mechanics.thread import Thread
from preloadmc.told import Magnitude, percent
from preloadmc.units import FORCE, RATIO, STRESS, format_quantity

_MINIMUM, _MAXIMUM = "requirement.minimum_preload", "requirement.maximum_preload"
_ELONGATION = "requirement.maximum_plastic_elongation"
_MINIMUM_FROM, _MAXIMUM_FROM = f"{_MINIMUM}.from", f"{_MAXIMUM}.from"
_FRACTION = f"{_MAXIMUM}.fraction"
_ALLOWED = Quantity(RATIO, above=0.0, high=1.0)
_NONE_ASKED = Default(None, "none: no probability is asked for")
_CLAMP = "requirement.minimum_clamp"
# A load that is so many times what breaks the fastener is typed in another unit, or by a slip.
_OVERLOAD = 10.0
# Names of the limits that may stand beside a window, which is then stated in forces.
_BESIDE = tuple(
    name
    for kind in LIMITS
    if not kind.sides(Requirement("stated", "stated", 1.0, None, None))
    for name in (kind.name, *kind.places)
)
FIELDS = (
    Field("requirement", Table(), "preload window, and how often it may be missed"),
    Field(
        "requirement.allowed_under",
        _ALLOWED,
        "allowed probability of too little preload",
        "1e-3",
        _NONE_ASKED,
    ),
    Field(
        "requirement.allowed_over",
        _ALLOWED,
        "allowed probability of too much preload",
        "1e-3",
        _NONE_ASKED,
    ),
    Field(
        "requirement.allowed_other",
        _ALLOWED,
        "allowed probability of missing any limit beside the preload window",
        "1e-3",
    ),
    Field(
        "requirement.allowed",
        Table(),
        "allowed probability of missing a single limit, by its name as results print it",
    ),
    Field(
        "requirement.confidence",
        Quantity(RATIO, low=0.5, high=0.999),
        "confidence with which a limit meets, where laws are known from tests only",
        '"95 %"',
        Default(0.95, "95 %: with what confidence a limit meets", "usual in tolerance limits"),
    ),
    *(
        Field(
            f"requirement.allowed.{name}",
            _ALLOWED,
            f"allowed probability of missing '{name}'",
            "1e-3",
        )
        for name in _BESIDE
    ),
)
_STRUCTURAL = "structural preloading"
# Nominal tensile strength of the classes that have a structural preload [MPa].
_STRUCTURAL_CLASSES = {"8.8": 800.0, "10.9": 1000.0}


def requirement_of(draft: Draft, method: Method | None) -> Requirement:
    """Return the window and the allowed probabilities of missing it."""
    stated = draft.stated
    minimum_from = _minimum_from(draft)
    maximum_from, fraction = _maximum_from(draft, method)
    _check_window(draft)
    of_side = {side: _allowed_of(draft, side) for side in ("under", "over")}
    _doubt_beyond_strength(draft)
    named = {name: stated.get(f"requirement.allowed.{name}", float) for name in _BESIDE}
    found = Requirement(
        minimum_from,
        maximum_from,
        fraction,
        of_side["under"],
        of_side["over"],
        stated.get("requirement.allowed_other", float),
        {name: allowed for name, allowed in named.items() if allowed is not None},
        stated.known("requirement.confidence", float),
    )
    if any(isinstance(law, Tested) for law in draft.laws.values()):
        draft.assume_default("requirement.confidence")
    for kind in LIMITS:
        path = f"requirement.allowed.{kind.name}"
        if kind.sides(found) and path in stated:
            side = " and ".join(f"allowed_{side}" for side in kind.sides(found))
            stated.problem(
                path, f"remove it: here '{kind.name}' makes the preload window, state {side}"
            )
    if found.allowed_other is None and found.least_allowed is not None:
        draft.assume(
            "requirement.allowed_other",
            f"{percent(found.least_allowed)}: the smaller of what both sides of the window are "
            "allowed",
        )
    return found


def _allowed_of(draft: Draft, side: str) -> float | None:
    """Return the allowed probability of a side of the window; None where none is asked.

    No fastener misses oftener than any of its joint does: what is allowed of the joint holds for
    each fastener where the case allows nothing else.
    """
    stated = draft.stated
    path = f"requirement.allowed_{side}"
    own = stated.get(path, float)
    names = [f"any_{side}", "any_outside"]
    if side == "under":
        names += _joint_names_of_minimum(stated)
    of_joint = [
        allowed
        for name in names
        if (allowed := stated.get(f"group.allowed.{name}", float)) is not None
    ]
    if path in stated or not of_joint:
        draft.assume_default(path)
        return own
    draft.assume(
        path,
        f"{percent(min(of_joint))}: what is allowed of any fastener of the joint",
        "no fastener misses oftener than any of its joint",
    )
    return min(of_joint)


def _joint_names_of_minimum(stated: Stated) -> list[str]:
    """Return the event of a joint that is the same as too little preload in any of its fasteners.

    None where more than one limit makes the least preload.
    """
    derived = stated.get(_MINIMUM_FROM, str) if stated.form(_MINIMUM) is not None else None
    if _CLAMP in stated:
        return [] if _MINIMUM in stated else ["least_clamp"]
    return ["first_slip"] if derived == SLIP.minimum_from else []


def _minimum_from(draft: Draft) -> str:
    """Return what the least preload follows from, and ask for what that needs."""
    stated = draft.stated
    if _MINIMUM not in stated:
        if _CLAMP in stated:
            return ""
        stated.missing(_MINIMUM, 'a force, or { from = "no slip" }, or minimum_clamp')
    origin = stated.get(_MINIMUM_FROM, str) if stated.form(_MINIMUM) else None
    if origin is None or origin not in minimum_origins():
        return "stated"
    slips = origin == "no slip"
    load = "transverse" if slips else "axial"
    endings = ACROSS if slips else ALONG
    states = "temperature.state"
    of_joint = (f"group{ending}" for ending in endings)
    if not draft.has_law(*endings) and not stated.problems.at(f"load.{load}", states, *of_joint):
        stated.problem(_MINIMUM_FROM, f"a [load] {load} to derive it from")
    knows_friction = draft.has_law("friction.joint", ".joint_friction")
    if slips and not knows_friction and not stated.problems.at("friction.joint", states):
        stated.problem(_MINIMUM_FROM, "[friction] joint, the friction between the clamped parts")
    if "joint.compliance" in draft.laws and draft.has_law(*ALONG):
        stated.problem(
            _MINIMUM_FROM,
            "[joint] fastener_compliance and clamped_compliance: their total "
            "does not say what share of an axial load the fastener takes",
        )
    return origin


def _structural_preload(draft: Draft) -> Law | None:
    """Return F_p,C = 0.7 f_ub As of structural bolting, for the classes that have it."""
    stated = draft.stated
    if stated.get(_MINIMUM_FROM, str) != _STRUCTURAL:
        return None
    grade = grade_of(stated)
    thread = stated.get("fastener.thread", Thread)
    strength = None if grade is None else _STRUCTURAL_CLASSES.get(grade.name)
    if strength is None or thread is None:
        stated.problem(
            _MINIMUM_FROM,
            "[fastener] property_class 8.8 or 10.9 for structural preloading, which is 0.7 times "
            "the tensile strength on the stress area (EN 1993-1-8)",
        )
        return None
    value = float(structural_preload(strength, thread.stress_area))
    draft.assume(
        _MINIMUM,
        (Magnitude(value, FORCE), " = 0.7 x ", Magnitude(strength, STRESS), " x As"),
        "EN 1993-1-8:2005, Sec. 3.6.1",
    )
    return Constant(value)


def _maximum_from(draft: Draft, method: Method | None) -> tuple[str, float]:
    """Return what the largest preload follows from, with the fraction of yield."""
    stated = draft.stated
    passes_yield = method is not None and method.passes_yield
    if _ELONGATION in stated and method is not None and not passes_yield:
        stated.problem(_ELONGATION, f"remove it: '{method.name}' is meant to stay elastic")
    # A strength that could not be read is one problem, not two.
    knows_yield = draft.mean("fastener.yield_strength") is not None or stated.problems.at(
        "fastener.property_class", "fastener.yield_strength", "fastener.thread"
    )
    if stated.form(_MAXIMUM) is not None:
        if not knows_yield:
            stated.problem(
                _MAXIMUM_FROM, "[fastener] property_class or yield_strength to derive it from"
            )
        return "yield", stated.get(_FRACTION, float) or 1.0
    if _MAXIMUM in stated:
        if passes_yield and is_one_figure(draft) and not stated.problems.at("fastener"):
            stated.problem(
                _MAXIMUM,
                f"[fastener] {WANTED_LAW} (or a maximum that goes with the strength: "
                'maximum_plastic_elongation, or { from = "yield", fraction = 1.05 })',
            )
        return "stated", 1.0
    if passes_yield:
        if _ELONGATION not in stated:
            stated.missing(
                _MAXIMUM, "a force, or maximum_plastic_elongation: this method goes past yield"
            )
    elif knows_yield:
        draft.assume(_MAXIMUM, "yield in tension with torsion")
    else:
        stated.missing(
            _MAXIMUM,
            'a force, or { from = "yield", fraction = 0.9 }, or '
            "[fastener] property_class for yield itself",
        )
    return "", 1.0


def _check_window(draft: Draft) -> None:
    low, high = draft.laws.get(_MINIMUM), draft.laws.get(_MAXIMUM)
    if low is not None and high is not None and low.mean >= high.mean:
        draft.stated.problem(_MINIMUM, "a minimum below the maximum_preload")


def _doubt_beyond_strength(draft: Draft) -> None:
    """Warn of a side of the window, or a load, far beyond what the fastener bears in tension."""
    thread = draft.stated.get("fastener.thread", Thread)
    tensile = draft.mean(TENSILE)
    if thread is None or tensile is None:
        return
    breaks = tensile * thread.stress_area
    system = thread.unit_system
    at = f"the fastener breaks at {format_quantity(breaks, FORCE, system)} in tension"
    loads = [name for name in draft.laws if name.endswith(ALONG + ACROSS)]
    for path, so, most in (
        (_MINIMUM, ": no tightening reaches it", breaks),
        (_CLAMP, ": no tightening reaches it", breaks),
        (_MAXIMUM, ": it has no effect", breaks),
        *((path, "", _OVERLOAD * breaks) for path in loads if not path.startswith("group.")),
    ):
        law = draft.laws.get(path)
        # A force that nothing bears is doubted by its size alone.
        if law is None or abs(law.mean) <= most or path in draft.stated.unusual:
            continue
        smaller = (law.mean / slip for slip in (10.0, 1000.0))
        likely = next((each for each in smaller if abs(each) < breaks), None)
        meant = "." if likely is None else f"; is {format_quantity(likely, FORCE, system)} meant?"
        force = format_quantity(law.mean, FORCE, system)
        draft.warnings.append(f"{path}: {force}, and {at}{so}{meant}")


FORMS = (
    Form(
        _MINIMUM,
        "from",
        (
            Field(
                _MINIMUM_FROM,
                Word((*minimum_origins(), _STRUCTURAL)),
                "what the least preload follows from; structural preloading is 0.7 times the "
                "tensile strength on the stress area, for classes 8.8 and 10.9 (EN 1993-1-8)",
                '"no slip"',
            ),
        ),
        _structural_preload,
    ),
    Form(
        _MAXIMUM,
        "from",
        (
            Field(
                _MAXIMUM_FROM,
                Word(("yield",)),
                "what the largest preload follows from",
                '"yield"',
            ),
            Field(
                _FRACTION,
                Quantity(RATIO, above=0.0, high=2.0),
                "share of the yield preload, in tension with torsion",
                "0.9",
                needed=True,
            ),
        ),
    ),
)
