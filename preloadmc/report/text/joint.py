"""The joint as a whole as text: its probabilities, what is common, its fasteners, orders, lots."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from preloadmc.case import Case
from preloadmc.estimates.probability import GROUP_METHODS
from preloadmc.inputs import input_label
from preloadmc.joint import FastenerGroup
from preloadmc.judgement.joint_events import JudgedEvent
from preloadmc.judgement.wording import probability_words, share_text
from preloadmc.questions.run import JOINT_QUANTILES, JointResult, LotShares
from preloadmc.report.text.blocks import Block, Paragraph, Points, Section, Table, folded
from preloadmc.report.text.judgement import doubted_words, verdict_words
from preloadmc.told import and_words
from preloadmc.units import FORCE, format_number, to_unit

# Rows of the table of fasteners that fit beside all else; of more, those with least are shown.
_MOST_ROWS = 24
_SHOWN = (0.01, 0.5, 0.99)


def joint_sections(case: Case, result: JointResult | None, system: str) -> tuple[Section, ...]:
    """Return the sections of the joint as a whole; none where the case is of one fastener."""
    if result is None:
        return ()
    return (
        Section("The whole joint", (_probabilities(result), Paragraph(meanings(case)))),
        *folded((Section("How those of the joint were estimated", tuple(_estimates(result))),)),
        Section("What its fasteners have in common", tuple(_common(case, result))),
        Section("Its fasteners", tuple(_fasteners(case, result, system))),
        *_order_section(case, result),
        *_lot_section(case, result.lots),
    )


def meanings(case: Case) -> str:
    """Return what the events of a joint are, for those that need more than their name."""
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    words = [f"any: one or more of the {group.n} fasteners"]
    if group.at_least is not None:
        words.append(
            f"too few that hold: fewer than {group.at_least} fasteners keep enough preload"
        )
    if case.may_slip:
        words.append("first slip: the parts slip at one fastener, by its own share of the load")
        words.append(
            "slip of the whole joint: the load is more than all fasteners hold together"
            + (
                ", turning about the instantaneous centre"
                if "group.torsional_moment" in case.laws
                else ""
            )
        )
    told = "; ".join(words)
    return f"{told[0].upper()}{told[1:]}."


def group_rows(case: Case) -> Iterator[tuple[str, str]]:
    """Yield the facts of a joint of several fasteners."""
    group = case.group
    if group is None:
        return
    yield "fasteners", str(group.n)
    if group.facts.interacts:
        passes = ", ".join(
            pass_name(group.facts, place) for place in range(len(group.facts.passes))
        )
        yield "order and passes", f"{group.facts.order_name}; {passes}"


def _probabilities(result: JointResult) -> Table:
    return Table(
        ("joint", "probability (95 % interval)", "verdict"),
        tuple(
            (each.judged.label, doubted_words(each.judged), verdict_words(each.judged))
            for each in result.judged.events
        ),
    )


def _estimates(result: JointResult) -> Iterator[Block]:
    for each in result.judged.events:
        yield Paragraph(_estimated(each), hangs=True)


def _estimated(each: JudgedEvent) -> str:
    """Return how a probability was obtained and checked, and what is doubted."""
    probability = each.judged.probability
    method = GROUP_METHODS[probability.method]
    words = (
        f"{each.judged.label}: {method}, {probability.samples:,} samples, "
        f"{probability.model_calls:,} model calls"
    )
    if each.check is not None and each.judged.probability.method != "plain":
        words += f"; check by {GROUP_METHODS[each.check.method]}: {probability_words(each.check)}"
    if probability.note:
        words += f"; {probability.note}"
    return words + ("." if probability.reliable else ". NOT RELIABLE.")


def _common(case: Case, result: JointResult) -> Iterator[Block]:
    rows = tuple(
        (
            each.judged.label,
            _share(each.independent),
            doubted_words(each.judged).partition(" (")[0],
            _share(each.all_common),
        )
        for each in result.judged.events
    )
    yield Table(("probability", "all independent", "as stated", "all common"), rows)
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    by_level: dict[str, list[str]] = {}
    for name, fraction in group.fractions.items():
        if fraction > 0.0:
            words = input_label(name)
            if fraction < 1.0:
                words += f" ({100 * fraction:.3g} %)"
            by_level.setdefault(group.levels[name], []).append(words)
    told = "; ".join(f"by {level}: {and_words(names)}" for level, names in by_level.items())
    yield Paragraph(
        "All independent: no scatter in common, each fastener for itself; all common: all scatter "
        f"that of the joint. In common as stated or assumed{f', {told}' if told else ': nothing'}."
        " The answer rests on these shares as much as the three figures differ."
    )


def _share(value: float | None) -> str:
    return "-" if value is None else share_text(value)


def _fasteners(case: Case, result: JointResult, system: str) -> Iterator[Block]:
    """Yield the table of fasteners, those with least preload where there are many."""
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    unit = FORCE.unit(system)
    middle = result.residual[JOINT_QUANTILES.index(0.5)]
    order = np.arange(group.n) if group.n <= _MOST_ROWS else np.argsort(middle)[:_MOST_ROWS]
    of_each = {
        each.event.name: each.by_fastener
        for each in result.judged.events
        if each.event.name in ("any_under", "any_over")
    }
    rows = []
    for fastener in np.sort(order).tolist():
        row = [f"{fastener + 1}"]
        row += [
            format_number(
                to_unit(float(result.residual[JOINT_QUANTILES.index(p), fastener]), unit, FORCE), 3
            )
            for p in _SHOWN
        ]
        for name in ("any_under", "any_over"):
            single = of_each[name]
            row.append(_share(None if single is None else single[fastener].value))
        rows.append(tuple(row))
    yield Table(
        ("fastener", f"1 % [{unit}]", "50 %", "99 %", "too little", "too much"), tuple(rows)
    )
    words = "Residual preload of each fastener in place, and its probabilities"
    if group.n > _MOST_ROWS:
        words += f"; the {_MOST_ROWS} with least of {group.n} fasteners (the others in report.json)"
    words += f". Least is left in fastener {result.weakest_place + 1}."
    yield Paragraph(words)


def _order_section(case: Case, result: JointResult) -> Iterator[Section]:
    """Yield the section of passes and orders, where fasteners interact."""
    if not result.orders:
        return
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    passes = tuple(
        (pass_name(group.facts, place), _percent(float(middle)), _percent(float(high)))
        for place, (middle, high) in enumerate(result.spreads)
    )
    tools = f" with {group.facts.tools} tools at once" if group.facts.tools > 1 else ""
    orders = tuple(
        (
            each.words + (" (as stated)" if each.stated else ""),
            _percent(each.least_left),
            _percent(each.spread),
            "more than 50" if each.passes_until_even is None else str(each.passes_until_even),
        )
        for each in result.orders
    )
    yield Section(
        "Passes and orders of tightening",
        (
            Table(("after pass", "spread, median", "95 %"), passes),
            Paragraph(
                "Spread: largest less smallest preload of a joint over their mean, all scatter "
                "included."
            ),
            Table(
                ("order", "least left", "spread", f"passes to {_percent(group.spread)}"),
                orders,
            ),
            Paragraph(
                f"Orders{tools} in the passes of the case, nominally: the least that a fastener is "
                "left with, over what it was tightened to; and full passes, one after another in "
                "that order, until preloads are even within the spread asked for. Interaction: "
                f"{group.facts.interaction_source}."
            ),
            *_sequences(result),
        ),
    )


def _sequences(result: JointResult) -> Iterator[Block]:
    """Yield the fasteners in each order; a last round goes by number."""
    told: dict[str, str] = {}
    for each in result.orders:
        told.setdefault(each.order, each.numbers)
    yield Points(tuple(f"{name}: {numbers}" for name, numbers in told.items()))
    if any(each.last_round for each in result.orders):
        yield Paragraph("A last round (final_round = true) goes by number, from fastener 1 on.")


def pass_name(facts: FastenerGroup, place: int) -> str:
    """Return what a pass is called: its share, or that it is the last round."""
    again = place > 0 and facts.passes[place - 1][0] == facts.passes[place][0] == 1.0
    return "last round" if again else f"{100 * facts.passes[place][0]:g} %"


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %" if math.isfinite(share) else "-"


def _lot_section(case: Case, lots: LotShares | None) -> Iterator[Section]:
    if lots is None:
        return
    low, middle, high = lots.quantiles
    names = and_words([input_label(name) for name in lots.differ_by])
    yield Section(
        "From lot to lot",
        (
            Paragraph(
                f"In {share_text(lots.share_of_lots)} of lots more than {share_text(lots.asked)} "
                f"of joints miss ({EVENT_WORDS[lots.event]}). Joints that miss: "
                f"{share_text(middle)} in the median lot, at most {share_text(low)} in the best "
                f"twentieth of lots, at least {share_text(high)} in the worst. Lots and tools "
                f"differ by {names}. An approximation: the governing fastener stands for all in "
                "each lot."
            ),
        ),
    )


EVENT_WORDS = {
    "any_under": "any fastener with too little preload",
    "any_over": "any fastener with too much preload",
    "any_outside": "any fastener outside the window",
    "least_clamp": "too small a clamp force at any fastener",
    "first_slip": "slip at any fastener",
}
