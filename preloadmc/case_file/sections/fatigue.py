"""The section [fatigue]: how the axial load comes again and again, and what the thread bears."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field, Form
from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.case_file.sections.fastener import grade_of
from preloadmc.case_file.sections.strength import TENSILE
from preloadmc.case_file.word_kinds import Word
from preloadmc.chance.laws import Constant, Law, LogNormal
from preloadmc.inputs import ALONG, Default
from preloadmc.joint import ENDURANCE_INPUT, Fatigue
from preloadmc.mechanics import fatigue as rules
from preloadmc.mechanics.grades import Grade
from preloadmc.mechanics.thread import Thread
from preloadmc.told import Magnitude, Told
from preloadmc.units import RATIO, STRESS

BEFORE, AFTER = "rolled before heat treatment", "rolled after heat treatment"
TABLE = "Shigley Table 8-17"
GUIDES = (BEFORE, AFTER, TABLE)
NONE, GOODMAN = "none", "Goodman"
# Inverse slope of the line below 2e6 cycles: see `mechanics.fatigue.finite_life_factor`.
_SLOPES = {BEFORE: 3.0, AFTER: 6.0}
# The rules of VDI 2230 are for classes 8.8 to 12.9.
_WEAKEST, _STRONGEST = 800.0, 1250.0
_RATIO, _MEAN = "fatigue.load_ratio", "fatigue.mean_stress"
_CYCLES, _SLOPE = "fatigue.cycles", "fatigue.slope"
_GUIDE, _COV = f"{ENDURANCE_INPUT}.guide", f"{ENDURANCE_INPUT}.cov"
FIELDS = (
    Field("fatigue", Table(), "axial load that comes again and again, and what the thread bears"),
    Field(
        _RATIO,
        Quantity(RATIO, low=-100.0, high=0.999),
        "smallest axial load over the largest, which is the stated one; -1 where it alternates",
        "0",
        Default(0.0, "0: the axial load pulsates between none and the one stated"),
    ),
    Field(
        _MEAN,
        Word((NONE, GOODMAN, "Gerber")),
        "what the mean stress takes off the endurance limit; unless stated, Goodman with a limit "
        "under an alternating load from a table, none with every other",
        '"Goodman"',
    ),
    Field(
        _CYCLES,
        Whole(rules.FEWEST_CYCLES, 10**15),
        "load cycles that the joint must bear; the endurance limit holds from 2e6 on",
        "500_000",
        Default(None, "2e6 or more: the endurance limit"),
    ),
    Field(
        _SLOPE,
        Quantity(RATIO, low=1.0, high=100.0),
        "inverse slope of the line of amplitude against cycles below 2e6, on logarithmic axes",
        "3",
    ),
)


def _from_guide(draft: Draft) -> Law | None:
    """Return the endurance limit by a guide value, from the thread and its class."""
    stated = draft.stated
    guide, cov = stated.get(_GUIDE, str), stated.get(_COV, float)
    thread = stated.get("fastener.thread", Thread)
    if guide is None or thread is None:
        return None
    grade = grade_of(stated)
    source = rules.VDI_SOURCE
    if guide == TABLE:
        if grade is None:
            _ask_for_class(draft)
            return None
        try:
            value = rules.fully_corrected_limit(grade.name, thread.diameter)
        except ValueError as error:
            stated.problem(_GUIDE, f"{error}; `preloadmc tables fatigue` lists all")
            return None
        source = rules.TABLE_SOURCE
    else:
        value = float(rules.rolled_before_heat_treatment(thread.diameter))
        _doubt_class(draft, grade)
    scatter = "without scatter" if cov is None else f"lognormal with the given cov {100 * cov:g} %"
    rule = {
        BEFORE: "0.85 (150/d + 45) MPa, thread rolled before heat treatment",
        AFTER: "0.85 (150/d + 45) MPa, times 2 - F_Sm/F_0.2min in each fastener, thread rolled "
        "after heat treatment",
        TABLE: "fully corrected, under an alternating load",
    }[guide]
    told: Told = (Magnitude(value, STRESS), f": {rule}; {scatter}")
    draft.assume(ENDURANCE_INPUT, told, source)
    return Constant(value) if cov is None else LogNormal(value, cov * value)


def _ask_for_class(draft: Draft) -> None:
    stated = draft.stated
    if not stated.problems.at("fastener.property_class"):
        stated.problem(_GUIDE, "[fastener] property_class, by which the guide value goes")


def _doubt_class(draft: Draft, grade: Grade | None) -> None:
    """Warn where the rule of VDI 2230 is taken for a class that it is not made for."""
    if grade is not None and not _WEAKEST <= grade.tensile_strength <= _STRONGEST:
        draft.warnings.append(
            f"{_GUIDE}: the rule is for classes 8.8 to 12.9 (from memory), not for {grade.name}."
        )


ENDURANCE_BY_GUIDE = Form(
    ENDURANCE_INPUT,
    "guide",
    (
        Field(
            _GUIDE,
            Word(
                GUIDES,
                {
                    f"VDI 2230 {BEFORE}": BEFORE,
                    f"VDI 2230 {AFTER}": AFTER,
                    "rolled before": BEFORE,
                    "rolled after": AFTER,
                    "Shigley": TABLE,
                },
            ),
            "guide value by size of the thread (VDI 2230), or by its class from a table",
            f'"{BEFORE}"',
        ),
        Field(
            _COV,
            Quantity(RATIO, above=0.0, high=1.0),
            "scatter of the guide value, of your own",
            '"8 %"',
        ),
    ),
    _from_guide,
)


def fatigue_of(draft: Draft) -> Fatigue | None:
    """Return how the axial load comes again and again; None where the file says nothing of it."""
    stated = draft.stated
    if not stated.has_table("fatigue"):
        return None
    if ENDURANCE_INPUT not in stated:
        stated.missing(ENDURANCE_INPUT, "a stress amplitude, or { guide = ... }")
    guide = stated.get(_GUIDE, str) if stated.form(ENDURANCE_INPUT) is not None else None
    draft.assume_default(_RATIO)
    yield_force = _yield_force(draft) if guide == AFTER else None
    mean_stress = _mean_stress(draft, guide)
    if draft.has_law(*ALONG):
        draft.assume(
            "fatigue",
            "stresses on the stress area As, also where a waist is thinner; endurance limit and "
            "strength fall with heat alike",
            f"{rules.VDI_SOURCE}; with heat: engineering judgement",
        )
    return Fatigue(
        stated.known(_RATIO, float), _life_factor(draft, guide), mean_stress, yield_force
    )


def _yield_force(draft: Draft) -> float | None:
    """Return F_0.2min, the smallest yield strength of the class times the stress area [N]."""
    thread, grade = draft.stated.get("fastener.thread", Thread), grade_of(draft.stated)
    if grade is None:
        _ask_for_class(draft)
    if thread is None or grade is None:
        return None
    return grade.yield_strength * thread.stress_area


def _mean_stress(draft: Draft, guide: str | None) -> str:
    """Return the rule for the mean stress, and refuse one that its endurance limit does not go by.

    The rules of VDI 2230 are for the mean stress of tightened fasteners; a limit under an
    alternating load is for none.
    """
    stated = draft.stated
    stated_rule = stated.get(_MEAN, str)
    rule = stated_rule or (GOODMAN if guide == TABLE else NONE)
    if guide in (BEFORE, AFTER) and rule != NONE:
        stated.problem(_MEAN, f"'{NONE}': the rule holds at the mean stress of tightened fasteners")
    if guide == TABLE and rule == NONE:
        stated.problem(
            _MEAN,
            "'Goodman' or 'Gerber': the table is for an alternating load, no mean stress",
        )
    if _MEAN not in stated and guide is None and ENDURANCE_INPUT in stated:
        draft.assume(
            _MEAN,
            "none: the endurance limit stated holds at the joint's mean stress",
            "engineering judgement",
        )
    if _MEAN not in stated and guide == TABLE:
        draft.assume(
            _MEAN, "Goodman: the straight line, on the safe side of Gerber", "engineering judgement"
        )
    if rule != NONE and draft.mean(TENSILE) is None and not stated.problems.at("fastener"):
        stated.problem(_MEAN, "[fastener] property_class or tensile_strength, which the rule needs")
    return rule


def _life_factor(draft: Draft, guide: str | None) -> float:
    """Return what fewer cycles than endurance takes multiply the limit by."""
    stated = draft.stated
    cycles = stated.get(_CYCLES, int)
    if cycles is None:
        if _SLOPE in stated and _CYCLES not in stated:
            stated.missing(_CYCLES, "the load cycles below 2e6, for which the slope is")
        draft.assume_default(_CYCLES)
        return 1.0
    slope = stated.get(_SLOPE, float)
    if cycles >= rules.ENDURANCE_CYCLES:
        return 1.0
    if slope is None and _SLOPE not in stated:
        slope = _SLOPES.get(guide or "")
        if slope is None:
            draft.assume(
                _CYCLES,
                "the endurance limit for these few cycles too, on the safe side: no slope is "
                "stated of the line below 2e6 cycles",
                "engineering judgement",
            )
            return 1.0
        draft.assume(_SLOPE, f"{slope:g}: the limit times (2e6/N)^(1/{slope:g})", rules.VDI_SOURCE)
    return 1.0 if slope is None else rules.finite_life_factor(float(cycles), slope)
