"""A case in words: inputs, nominal values, assumptions, warnings, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from preloadmc.case import Assumption, Case
from preloadmc.inputs import input_kind, input_label
from preloadmc.joint import GROUP_LOADS
from preloadmc.judgement.verdicts import JOINT_LABELS
from preloadmc.limits import minimum_kinds
from preloadmc.questions.check import CheckResult
from preloadmc.report.text.blocks import Paragraph, Points, Report, Section, Table, render_text
from preloadmc.report.text.cautions import CAUTION, CAUTIONS, NOT_COVERED
from preloadmc.report.text.law_sketch import Sketch
from preloadmc.report.text.laws import law_words
from preloadmc.told import and_words, percent
from preloadmc.units import FORCE, LENGTH, TORQUE, format_quantity


def check_text(result: CheckResult, system: str = "metric", *, full: bool = True) -> str:
    """Return a case explained in words, with one line of caution where not in ``full``."""
    case = result.case
    return render_text(
        Report(
            case.title,
            (
                Section(
                    "What the case says",
                    (Paragraph(story(case, system)), Paragraph(allowed_words(case))),
                ),
                nominal_section(result, system),
                input_section(case, system, correlation_words(result)),
                assumption_section(case.assumptions, system),
                caution_section() if full else Section("Caution", (Paragraph(CAUTION),)),
            ),
            warnings=(*result.warnings, *_of_alternatives(case)),
        )
    )


def _of_alternatives(case: Case) -> Iterator[str]:
    """Yield what alternatives alone are warned of, by their names."""
    for each in case.alternatives:
        for words in each.warnings:
            if words not in case.warnings:
                yield f"{words.rstrip('.')} (in '{each.name}')."


def story(case: Case, system: str) -> str:
    """Return what the case says, in a paragraph."""
    joint = case.joint
    states = ", ".join(joint.judged_states)
    asked = [kind.asks for kind in minimum_kinds(case.requirement, case.laws.keys())]
    minimum = " or ".join(asked)
    maximum = {
        "stated": "the stated maximum",
        "yield": f"{100 * case.requirement.yield_fraction:g} % of yield",
        "": "",
    }[case.requirement.maximum_from]
    holds_yield = case.requirement.maximum_from == "yield" and case.requirement.yield_fraction <= 1
    if not joint.method.passes_yield and not holds_yield:
        maximum = f"{maximum} or yield" if maximum else "yield"
    too_much = f"a preload above {maximum}" if maximum else ""
    if "requirement.maximum_plastic_elongation" in case.laws:
        elongation = "a plastic elongation above the stated one"
        too_much = f"{too_much} or {elongation}" if too_much else elongation
    article = "An" if joint.thread.designation.startswith("M") else "A"
    return (
        f"{article} {joint.thread.designation} fastener is tightened by {_control(case, system)}. "
        f"Its preload settles and is judged in these states: {states}. Too little is a preload "
        f"below {minimum} in any of them; too much is {too_much}, at assembly or in any later "
        f"state. Yield is that in tension with torsion. {_whose(case)}{_of_group(case, system)}"
    )


def allowed_words(case: Case) -> str:
    """Return the probabilities with which each limit may be missed, in a sentence."""
    requirement = case.requirement
    of_joint = {} if case.group is None else case.group.allowed
    asked = (
        ("too little preload", requirement.allowed_under),
        ("too much preload", requirement.allowed_over),
        ("each limit beside the window", requirement.allowed_for_others),
        *requirement.allowed.items(),
        *((JOINT_LABELS[name], share) for name, share in of_joint.items()),
    )
    words = (f"{name} {'none stated' if p is None else percent(p)}" for name, p in asked)
    return f"Allowed probabilities: {'; '.join(words)}."


def _whose(case: Case) -> str:
    """Return what loads, forces and limits are of."""
    if any(name in case.laws for name in GROUP_LOADS):
        return "Loads are those of the joint; forces and limits are those of one fastener."
    return "Loads, forces and limits are those of one fastener."


def _of_group(case: Case, system: str) -> str:
    """Return what the case says of all its fasteners; empty where it is of one."""
    group = case.group
    if group is None:
        return ""
    facts = group.facts
    where = ""
    if facts.positions is not None:
        across = 2.0 * float(np.hypot(*facts.positions.T).max())
        where = f" on {_LAYOUTS[facts.layout]}"
        if facts.layout == "circle":
            where += f" of {format_quantity(across, LENGTH, system)} in diameter"
    words = f" The joint has {group.n} fasteners{where}"
    if facts.interacts:
        shares = and_words([f"{100 * share:g} %" for share, _ in facts.passes])
        words += (
            f", tightened in the order '{facts.order_name}' in passes to {shares}, which take "
            "preload from each other"
        )
    return f"{words}. One of them stands for all: {group.place}, which has least to spare."


_LAYOUTS = {"circle": "a circle", "row": "a row", "positions": "places as stated"}


def _control(case: Case, system: str) -> str:
    """Return the tightening method with its set value."""
    method = case.joint.method
    names = [control.input for control in method.controls if control.is_set]
    values = " and ".join(
        format_quantity(case.laws[name].mean, input_kind(name).dimension, system) for name in names
    )
    words = f"{method.name} ({values})" if values else method.name
    if method.reads_friction:
        words += f"; preload follows from {_friction(case)}"
    return words


def _friction(case: Case) -> str:
    if case.joint.uses_nut_factor:
        return "a nut factor"
    if "friction.total" in case.laws:
        return "the total friction of thread and bearing"
    return "the frictions of thread and bearing"


def nominal_section(result: CheckResult, system: str) -> Section:
    """Return the joint with every input at its mean."""
    nominal = result.nominal
    rows = [(f"preload, {stage}", _force(value, system)) for stage, value in nominal.path.items()]
    if nominal.yield_preload is not None:
        rows.append(("yield in tension with torsion", _force(nominal.yield_preload, system)))
    if nominal.capacity is not None:
        rows.append(("breaks in tightening at", _force(nominal.capacity, system)))
    if nominal.nut_factor is not None:
        rows.append((_factor_name(result.case), f"{nominal.nut_factor:.3f}"))
    solved = result.case.joint.uses_nut_factor and "friction.thread" not in result.case.laws
    if nominal.thread_friction is not None and solved:
        rows.append(("friction, thread as bearing", f"{nominal.thread_friction:.3f}"))
    if nominal.shares is not None:
        shares = nominal.shares
        words = f"{100 * shares.pitch:.1f} / {100 * shares.thread:.1f} / {100 * shares.bearing:.1f}"
        rows.append(("torque to pitch / thread / bearing [%]", words))
    if nominal.release_torque is not None:
        rows.append(
            (
                "torque to turn back the settled fastener",
                format_quantity(nominal.release_torque, TORQUE, system, 3),
            )
        )
    return Section("The joint at nominal values", (Table(("at nominal values", ""), tuple(rows)),))


def _factor_name(case: Case) -> str:
    """Return what K of T = K F d is called: a fastener in a tapped hole has no nut."""
    return "nut factor" if case.joint.geometry.has_nut else "torque coefficient"


def _force(value: float, system: str) -> str:
    return format_quantity(value, FORCE, system)


def input_section(case: Case, system: str, correlations: Sequence[str] = ()) -> Section:
    """Return the law of every input, and what is said of their correlations."""
    table = Table(
        ("input", "law"),
        tuple((input_label(name), law_words(name, law, system)) for name, law in case.laws.items()),
        words=2,
        sketches=tuple(
            Sketch(name, law.best_estimate(), system) for name, law in case.laws.items()
        ),
    )
    return Section("Inputs and their laws", (table, *map(Paragraph, correlations)))


def correlation_words(result: CheckResult) -> list[str]:
    """Return the correlations as given and as they come out."""
    found = []
    for item in result.correlations:
        names = " and ".join(input_label(name) for name in item.names)
        found.append(
            f"Correlation of {names}: {item.given:g} of the standard normals behind them; this "
            f"makes {item.linear:.3f} linear and {item.rank:.3f} rank correlation of the "
            "quantities."
        )
    return found


def assumption_section(
    assumptions: Sequence[Assumption], system: str, title: str = "Assumed, with source:"
) -> Section:
    """Return every value that the case file did not state; each source once, by its number."""
    if not assumptions:
        return Section(title, (Paragraph("The case states every value itself."),))
    items, sources = assumed_words(assumptions, system)
    return Section(title, (Points(items), Paragraph("Sources:"), Points(sources)), titled=True)


def assumed_words(
    assumptions: Sequence[Assumption], system: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return every assumed value with the number of its source, and each source once."""
    sources = list(dict.fromkeys(item.source for item in assumptions))
    paths: dict[tuple[str, str], list[str]] = {}
    for item in assumptions:
        paths.setdefault((item.words(system), item.source), []).append(item.path)
    items = (
        f"{', '.join(named)}: {words} [{sources.index(source) + 1}]"
        for (words, source), named in paths.items()
    )
    return tuple(items), tuple(f"[{place}] {words}" for place, words in enumerate(sources, 1))


def caution_section() -> Section:
    """Return the cautions that every report carries."""
    return Section("Cautions:", (Points((*CAUTIONS, NOT_COVERED)),), titled=True)
