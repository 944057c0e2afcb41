"""The answer of a comparison in three lines: how likely, what decides, what to do."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from preloadmc.case import Case
from preloadmc.engine import OUTSIDE
from preloadmc.inputs import input_kind, input_label
from preloadmc.judgement.acceptance import rejects_words
from preloadmc.judgement.headline import headline
from preloadmc.judgement.verdicts import (
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    UNSURE_STRENGTH,
    few,
    state_words,
)
from preloadmc.judgement.wording import (
    difference_words,
    estimate_words,
    quoted,
    round_to_interval,
)
from preloadmc.limits import LOOSENING
from preloadmc.questions.compare.records import Alternative, Amount, Choice
from preloadmc.questions.control import ControlResult, control_words
from preloadmc.told import and_words
from preloadmc.units import format_number, format_quantity

# Costs that one line can tell: of the cheapest and the next.
_COSTS_TOLD = 2
# Shares of what is allowed that one line can tell, and the least that is worth a figure.
_SHARES_TOLD = 2
_LEAST_SHARE = 0.01
# What securing elements do under vibration is not for a calculation to promise.
QUALIFIED = (
    "a standard test decides what a securing element holds under vibration (DIN 25201-4, ISO 16130)"
)


def compare_answer(
    found: Sequence[Alternative], choice: Choice, controls: Mapping[str, ControlResult]
) -> tuple[str, str, str]:
    """Return the three lines; `controls` holds the worth of control by name of alternative."""
    return (
        f"How likely: {_how_likely(found, choice)}",
        f"What decides: {_what_decides(found, choice)}",
        f"What to do: {_what_to_do(found, choice, controls)}",
    )


def _how_likely(found: Sequence[Alternative], choice: Choice) -> str:
    """Return the share of misses of the first alternative and of the one that matters most."""
    leader = choice.nearest if choice.best is None else choice.best
    told = [found[0], found[leader] if leader else found[min(1, len(found) - 1)]]
    told = list({each.name: each for each in told}.values())
    given = max((each.case.given_words for each in found), key=len)
    of_joint = found[0].judged.of_joint
    name, words = OUTSIDE, "share of fasteners outside the preload window"
    if of_joint:
        worst = headline(found[0].judged)
        if worst in of_joint:
            name, words = worst.name, f"share of joints with {worst.subject}"
    shares = ", ".join(
        f"{quoted(each.name)} {named.words}"
        for each in told
        if (named := each.judged.find(name)) is not None
    )
    return f"{given}, {words}: {shares}."


def _what_decides(found: Sequence[Alternative], choice: Choice) -> str:
    best = choice.best
    if best is None and all(each.verdict == NOT_JUDGED for each in found):
        return "nothing is held against an allowed probability."
    parts: list[str] = []
    if best is not None and best > 0:
        parts += _against_first(found[0], found[best])
    excluded = [each for each in found if each.verdict != MEETS]
    alike: dict[str, list[str]] = {}
    for each in excluded:
        alike.setdefault(fails_words(each), []).append(quoted(each.name))
    parts += [
        f"{and_words(names)} {words if len(names) == 1 else _of_several(words)}"
        for words, names in alike.items()
    ]
    if best is None and choice.meeting:
        parts += _within_words([found[place] for place in choice.meeting])
    if best == 0 and not excluded:
        parts.append(_costs_words(found, choice))
    return f"{'; '.join(parts)}."


def _against_first(first: Alternative, chosen: Alternative) -> Iterator[str]:
    """Yield what sets the chosen one apart from the first, as far as the draws tell."""
    parts = []
    if OUTSIDE in chosen.difference_to_first:
        parts.append(
            f"outside the window: {_shortly(difference_words(chosen.difference_to_first[OUTSIDE]))}"
        )
    if chosen.cost_difference_to_first is not None and chosen.case.cost is not None:
        parts.append(
            f"expected cost a fastener: {_shortly(signed_words(chosen.cost_difference_to_first))} "
            f"{chosen.case.cost.currency}".rstrip()
        )
    loosening = chosen.difference_to_first.get(LOOSENING.name)
    if loosening is not None and loosening.resolved:
        less = "less" if loosening.value < 0.0 else "more"
        parts.append(f"{less} loosening by transverse slip")
    if parts:
        yield f"{quoted(chosen.name)} against {quoted(first.name)}, {'; '.join(parts)}"


def _shortly(words: str) -> str:
    """Return an estimate in words without its interval."""
    return re.sub(r" \([^)]*\)", "", words)


def fails_words(each: Alternative) -> str:
    """Return what an alternative misses, and what is not resolved of it."""
    parts = []
    for verdict, words in (
        (MISSES, "fails on {}"),
        (NOT_RESOLVED, "is not resolved on {}"),
    ):
        names = [limit.subject for limit in each.judged.with_verdict(verdict)]
        if names:
            parts.append(words.format(and_words(names)))
    return " and ".join(parts) or "is held against no allowed probability"


def _of_several(words: str) -> str:
    """Return what `fails_words` says of one alternative as said of several."""
    for one, several in (("fails on", "fail on"), ("is not", "are not"), ("is held", "are held")):
        words = words.replace(one, several)
    return words


def _within_words(found: Sequence[Alternative]) -> Iterator[str]:
    """Yield how near alternatives come to what is allowed, each share and limit told once.

    Of more than two shares of one limit the largest and the smallest are told.
    """
    alike: dict[tuple[str, str], list[str]] = {}
    for each in found:
        share, subject = _nearest_limit(each)
        words = f"at most {format_number(share, 2)}"
        if share < _LEAST_SHARE:
            words = f"less than {_LEAST_SHARE:g}"
        alike.setdefault((words, subject), []).append(quoted(each.name))
    told = [
        f"{and_words(names)} {'reaches' if len(names) == 1 else 'reach'} {share}"
        f" of what is allowed ({subject})"
        for (share, subject), names in alike.items()
    ]
    if len(alike) <= _SHARES_TOLD or len({subject for _, subject in alike}) > 1:
        yield from told
        return
    ends = [pick(found, key=lambda each: _nearest_limit(each)[0]) for pick in (max, min)]
    yield from _within_words(ends)
    yield "the others lie between"


def _nearest_limit(each: Alternative) -> tuple[float, str]:
    """Return the share of what is allowed that an answer opens with, and of what it is."""
    worst = headline(each.judged)
    return worst.upper / (worst.allowed or 1.0), worst.subject


def _costs_words(found: Sequence[Alternative], choice: Choice) -> str:
    """Return the costs that decide between alternatives that all meet every limit."""
    words = "all meet every limit judged"
    if any(each.expected_cost is None for each in found):
        return words
    first = found[0].case.cost
    currency = "" if first is None else f" {first.currency}".rstrip()
    cheapest = sorted(found, key=lambda each: each.expected_cost.value if each.expected_cost else 0)
    costs = ", ".join(
        f"{quoted(each.name)} {_shortly(amount_words(each.expected_cost))}"
        for each in cheapest[:_COSTS_TOLD]
        if each.expected_cost is not None
    )
    return f"{words}; expected cost a fastener{currency and f' in{currency}'}: {costs}"


def _what_to_do(
    found: Sequence[Alternative], choice: Choice, controls: Mapping[str, ControlResult]
) -> str:
    words = decision_words(found, choice)
    at_best = any(each.setting.best for each in found)
    advice = _advice(found, choice, controls, figures=not at_best)
    return f"{words} {advice[0].upper()}{advice[1:]}." if advice else words


def decision_words(found: Sequence[Alternative], choice: Choice) -> str:
    """Return what to choose, and that a standard test has the last word on securing elements."""
    untested = untested_words(found)
    # A guess that looks narrow dominates tests that are honest about what they leave open.
    words = f"{_decision(found, choice, tells_dominated=not untested)}."
    if untested:
        words += f" {untested[0].upper()}{untested[1:]}."
    if any(each.case.joint.securing is not None for each in found):
        words += f" {QUALIFIED[0].upper()}{QUALIFIED[1:]}."
    return words


def untested_words(found: Sequence[Alternative]) -> str:
    """Return whose law of an input has no tests behind it where another's has; else empty."""
    parts = []
    names = dict.fromkeys(name for each in found for name in each.case.tested)
    for name in names:
        without = [
            quoted(each.name)
            for each in found
            if name in each.case.uncertain and name not in each.case.tested
        ]
        if without:
            parts.append(f"{input_label(name)} of {and_words(without)}")
    if not parts:
        return ""
    return (
        f"no tests stand behind {and_words(parts)}, where they do behind the others: that favours "
        "what was not tested (as_good_as says how many tests a judgement is worth)"
    )


def _decision(found: Sequence[Alternative], choice: Choice, *, tells_dominated: bool) -> str:
    if choice.best is not None:
        words = _chosen_words(found, choice.best, choice)
    elif choice.meeting:
        names = and_words(
            [f"{quoted(found[place].name)}{_set_to(found[place])}" for place in choice.meeting]
        )
        words = (
            f"each of these meets every limit judged{_unknown(found, choice.meeting)}: {names}; "
            f"{_without_costs(found, choice.meeting)}"
        )
    elif found[choice.nearest].verdict == NOT_JUDGED:
        words = f"choose none: {state_words(found[choice.nearest].judged)}"
    else:
        sure = "meets" if all(each.verdict == MISSES for each in found) else "is sure to meet"
        words = (
            f"choose none: no alternative {sure} every limit; {quoted(found[choice.nearest].name)} "
            "comes nearest"
        )
        if not all(each.setting.best for each in found) and all(
            each.case.uncertain for each in found
        ):
            words += "; compare them each at its own best setting (--aim)"
    dropped = [quoted(each.name) for each in found if each.dominated_by]
    if dropped and choice.meeting and tells_dominated:
        words += f"; {and_words(dropped)} can be dropped (dominated)"
    return words


def _without_costs(found: Sequence[Alternative], meeting: Sequence[int]) -> str:
    """Return what else is to decide between those that meet every limit."""
    if any(found[place].case.cost is None for place in meeting):
        return "pick the simplest or the cheapest ([cost] of the case tells which)"
    open_names = [quoted(found[place].name) for place in meeting
                  if found[place].expected_cost is None]  # fmt: skip
    return f"the expected cost of {and_words(open_names)} is not known: choose on other criteria"


def _is_same_joint(one: Case, other: Case) -> bool:
    """Return whether two alternatives differ in nothing, as they may at their best settings."""
    return all(
        getattr(one, fact) == getattr(other, fact)
        for fact in ("joint", "laws", "correlations", "requirement", "cost")
    )


def _chosen_words(found: Sequence[Alternative], best: int, choice: Choice) -> str:
    chosen = found[best]
    alone = len(choice.meeting) == 1
    words = (
        f"{'keep' if best == 0 else 'choose'} {quoted(chosen.name)}{_set_to(chosen)}: it "
        f"{'alone ' if alone else ''}meets every limit judged"
    )
    if not alone:
        words += ", at the lowest expected cost of those that do"
    words += _unknown(found, (best,))
    words += rejects_words(chosen.judged.screening)
    if not all(each.setting.best for each in found) and alone and len(found) > 1:
        words += "; others may do as well at a setting of their own (--aim)"
    same = [
        place
        for place in choice.not_told_from_best
        if _is_same_joint(found[place].case, chosen.case)
    ]
    if same:
        names = and_words([quoted(found[place].name) for place in same])
        words += f"; {names} {'is' if len(same) == 1 else 'are'} the same joint at that setting"
    alike = [quoted(found[place].name) for place in choice.not_told_from_best if place not in same]
    if alike:
        words += f"; the difference to {and_words(alike)} is not resolved: choose on other criteria"
    loosening = chosen.securing.get(LOOSENING.name)
    if loosening is not None and loosening.reliable and chosen.case.joint.securing is not None:
        words += (
            "; the rule for this element predicts loosening by slip in "
            f"{estimate_words(loosening)} of fasteners"
        )
    return words


def _set_to(each: Alternative) -> str:
    """Return at which setting to use an alternative; empty where that is the one stated."""
    setting = each.setting
    if not setting.best:
        return ""
    dimension = input_kind(setting.input).dimension
    value = format_quantity(setting.value, dimension, each.case.unit_system)
    return f" at a {input_label(setting.input)} of {value}"


def _unknown(found: Sequence[Alternative], places: Sequence[int]) -> str:
    """Return which limits were not judged of the alternatives at some places, in brackets."""
    each_of = {found[place].name: list(found[place].judged.unknown) for place in places}
    common = [
        name
        for name in each_of[found[places[0]].name]
        if all(name in unknown for unknown in each_of.values())
    ]
    parts = [and_words(few(common))] if common else []
    for of, unknown in each_of.items():
        more = [name for name in unknown if name not in common]
        if more:
            parts.append(f"of {quoted(of)} {and_words(few(more))}")
    words = [f"not judged: {'; '.join(parts)}"] if parts else []
    unsure = list(
        dict.fromkeys(name for place in places for name in found[place].judged.unsure_strength)
    )
    if unsure:
        words.append(f"{UNSURE_STRENGTH}: {and_words(few(unsure))}")
    return f" ({'; '.join(words)})" if words else ""


def _advice(
    found: Sequence[Alternative],
    choice: Choice,
    controls: Mapping[str, ControlResult],
    *,
    figures: bool,
) -> str:
    """Return what would help what fails; empty where nothing is to be said."""
    # What is chosen and enough is explained by where it came from.
    explained = found[0] if choice.meeting else found[choice.nearest]
    control = controls.get(explained.name)
    # What control is worth is told for the window alone.
    judged = explained.judged
    silent = judged.verdict == NOT_JUDGED or judged.outside.is_limited
    if control is None or silent or all(side.verdict == MEETS for side in judged.sides):
        return ""
    words = control_words(explained.judged, control, figures=figures)
    return f"with {quoted(explained.name)}, {words}" if words else ""


def signed_words(amount: Amount) -> str:
    """Return a difference of costs with its sign and interval."""
    return f"+{amount_words(amount)}" if amount.value > 0.0 else amount_words(amount)


def amount_words(amount: Amount) -> str:
    """Return a cost with its interval, unless that is too narrow to matter.

    Examples
    --------
    >>> from preloadmc.questions.compare.records import Amount
    >>> amount_words(Amount(3.73, 3.64, 3.82)), amount_words(Amount(1.55002, 1.55001, 1.55003))
    ('3.73 (3.64 to 3.82)', '1.55')
    """
    if amount.high - amount.low < 1e-3 * abs(amount.value):
        return format_number(amount.value)
    value, low, high = round_to_interval(amount.value, amount.low, amount.high)
    return f"{value} ({low} to {high})"
