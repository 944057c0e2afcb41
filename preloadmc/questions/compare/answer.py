"""The answer of a comparison in three lines: how likely, what decides, what to do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from preloadmc.case import Case
from preloadmc.engine import OUTSIDE
from preloadmc.inputs import input_kind, input_label
from preloadmc.judgement.acceptance import rejects_words
from preloadmc.judgement.verdicts import (
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    and_words,
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
from preloadmc.units import format_number, format_quantity

# What securing elements do under vibration is not for a calculation to promise.
QUALIFIED = (
    "a standard test decides what a securing element holds under vibration (DIN 25201-4, ISO 16130)"
)


def compare_answer(
    found: Sequence[Alternative], choice: Choice, controls: Mapping[str, ControlResult]
) -> tuple[str, str, str]:
    """Return the three lines; `controls` holds the worth of control by name of alternative."""
    return (
        f"How likely: {_how_likely(found)}",
        f"What decides: {_what_decides(found, choice)}",
        f"What to do: {_what_to_do(found, choice, controls)}",
    )


def _how_likely(found: Sequence[Alternative]) -> str:
    shares = ", ".join(
        f"{quoted(each.name)} {each.judged.outside.words(interval=False)}" for each in found
    )
    given = max((each.case.given_words for each in found), key=len)
    words = f"{given}, share of fasteners outside the preload window: {shares}"
    missed = [
        f"{quoted(each.name)} "
        + ", ".join(f"{limit.name} {limit.words(interval=False)}" for limit in limits)
        for each in found
        if (limits := [limit for limit in each.judged.beside if limit.verdict == MISSES])
    ]
    if missed:
        words += f"; limits missed besides the window: {'; '.join(missed)}"
    return f"{_of_joints(found)}{words}."


def _of_joints(found: Sequence[Alternative]) -> str:
    """Return the event of the joint that comes nearest to what is allowed, or passes it most."""
    judged = [each for each in found[0].judged.of_joint if each.allowed is not None]
    if not judged:
        return ""
    worst = max(judged, key=lambda each: each.known.value / (each.allowed or 1.0))
    shares = ", ".join(
        f"{quoted(each.name)} {each.judged.named(worst.name).words(interval=False)}"
        for each in found
        if worst.name in {event.name for event in each.judged.of_joint}
    )
    return f"share of joints with {worst.subject}: {shares}; "


def _what_decides(found: Sequence[Alternative], choice: Choice) -> str:
    best = choice.best
    if best is None and all(each.verdict == NOT_JUDGED for each in found):
        return "nothing is held against an allowed probability."
    parts: list[str] = []
    if best is not None and best > 0:
        parts += _against_first(found[0], found[best])
    excluded = [each for each in found if each.verdict != MEETS]
    parts += [f"{quoted(each.name)} {fails_words(each)}" for each in excluded]
    if best is None and choice.meeting:
        parts += [f"{quoted(found[place].name)} {within_words(found[place])}"
                  for place in choice.meeting]  # fmt: skip
    if best == 0 and not excluded:
        parts.append(_costs_words(found, choice))
    return f"{'; '.join(parts)}."


def _against_first(first: Alternative, chosen: Alternative) -> Iterator[str]:
    """Yield what sets the chosen one apart from the first, as far as the draws tell."""
    parts = []
    if OUTSIDE in chosen.differences:
        parts.append(
            f"outside the window: {difference_words(chosen.differences[OUTSIDE])}"
            f"{narrowing_words(chosen.narrowing[OUTSIDE])}"
        )
    if chosen.cost_difference is not None and chosen.case.cost is not None:
        parts.append(
            f"expected cost a fastener: {signed_words(chosen.cost_difference)} "
            f"{chosen.case.cost.currency}".rstrip()
        )
    loosening = chosen.differences.get(LOOSENING.name)
    if loosening is not None and loosening.resolved:
        parts.append(f"loosening by transverse slip: {difference_words(loosening)}")
    if parts:
        yield f"{quoted(chosen.name)} against {quoted(first.name)}, {'; '.join(parts)}"


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


def within_words(each: Alternative) -> str:
    """Return how near an alternative comes to what is allowed."""
    share, subject = each.share_of_allowed
    return f"reaches at most {format_number(share, 2)} of what is allowed ({subject})"


def _costs_words(found: Sequence[Alternative], choice: Choice) -> str:
    """Return the costs that decide between alternatives that all meet every limit."""
    words = "all meet every limit judged"
    if any(each.expected_cost is None for each in found):
        return words
    first = found[0].case.cost
    currency = "" if first is None else f" {first.currency}".rstrip()
    costs = ", ".join(
        f"{quoted(each.name)} {amount_words(each.expected_cost)}"
        for each in found
        if each.expected_cost is not None
    )
    return f"{words}; expected cost a fastener{currency and f' in{currency}'}: {costs}"


def _what_to_do(
    found: Sequence[Alternative], choice: Choice, controls: Mapping[str, ControlResult]
) -> str:
    advice = _advice(found, choice, controls)
    words = decision_words(found, choice)
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
        if not all(each.setting.is_best for each in found) and all(
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
    if not all(each.setting.is_best for each in found) and alone and len(found) > 1:
        words += "; others may do as well at a setting of their own (--aim)"
    same = [place for place in choice.alike if _is_same_joint(found[place].case, chosen.case)]
    if same:
        names = and_words([quoted(found[place].name) for place in same])
        words += f"; {names} {'is' if len(same) == 1 else 'are'} the same joint at that setting"
    alike = [quoted(found[place].name) for place in choice.alike if place not in same]
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
    if not setting.is_best:
        return ""
    value, typed = (
        format_quantity(amount, input_kind(setting.name).dimension, each.case.unit_system)
        for amount in (setting.value, setting.typed)
    )
    words = f" at a {input_label(setting.name)} of {value}"
    return words if value == typed else f"{words} instead of {typed}"


def _unknown(found: Sequence[Alternative], places: Sequence[int]) -> str:
    """Return which limits were not judged of the alternatives at some places, in brackets."""
    each_of = {found[place].name: list(found[place].judged.unknown) for place in places}
    common = [
        name
        for name in each_of[found[places[0]].name]
        if all(name in unknown for unknown in each_of.values())
    ]
    parts = [and_words(common)] if common else []
    for of, unknown in each_of.items():
        more = [name for name in unknown if name not in common]
        if more:
            parts.append(f"of {quoted(of)} {and_words(more)}")
    return f" (not judged: {'; '.join(parts)})" if parts else ""


def _advice(
    found: Sequence[Alternative], choice: Choice, controls: Mapping[str, ControlResult]
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
    words = control_words(explained.judged, control)
    return f"with {quoted(explained.name)}, {words}" if words else ""


def narrowing_words(narrowing: float) -> str:
    """Return how much narrower the interval is than between separate draws; maybe nothing."""
    if math.isinf(narrowing) or narrowing < 1.5:
        return ""
    return f", {narrowing:.2g} times narrower than from separate runs"


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
