"""The answer of a comparison in three lines: how likely, what decides, what to do."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.wording import difference_words, estimate_words, quoted, round_to_interval
from preloadmc.limits import LOOSENING
from preloadmc.questions.compare.records import Alternative, Amount
from preloadmc.questions.control import ControlResult, control_words
from preloadmc.units import format_number

# What securing elements do under vibration is not for a calculation to promise.
QUALIFIED = "what it holds under vibration, a standard test decides (DIN 25201-4, ISO 16130)"


def compare_answer(
    found: Sequence[Alternative],
    best: int,
    alike: Sequence[int],
    controls: Mapping[str, ControlResult],
) -> tuple[str, str, str]:
    """Return the three lines; `controls` holds the worth of control by name of alternative."""
    return (
        f"How likely: {_how_likely(found)}",
        f"What decides: {_what_decides(found, best)}",
        f"What to do: {_what_to_do(found, best, alike, controls)}",
    )


def _how_likely(found: Sequence[Alternative]) -> str:
    words = ", ".join(
        f"{quoted(each.name)} {estimate_words(each.outcomes[2].probability)}" for each in found
    )
    return f"given these laws, of joints end outside the preload window: {words}."


def _what_decides(found: Sequence[Alternative], best: int) -> str:
    first = found[0]
    if best == 0:
        others = found[1:]
        worse = [quoted(each.name) for each in others if each.differences[OUTSIDE].low > 0.0]
        if len(worse) == len(others):
            return (
                "more joints end outside the window with each alternative than with "
                f"{quoted(first.name)}."
            )
        unresolved = [
            quoted(each.name) for each in others if not each.differences[OUTSIDE].resolved
        ]
        if unresolved:
            return (
                f"nothing that the samples resolve: outside the window, {' and '.join(unresolved)} "
                f"cannot be told from {quoted(first.name)}."
            )
        return f"{_deciding(first)}; no alternative does better on both."
    chosen = found[best]
    words = f"{quoted(chosen.name)} against {quoted(first.name)}, outside the window: "
    words += difference_words(chosen.differences[OUTSIDE])
    words += narrowing_words(chosen.narrowing[OUTSIDE])
    if chosen.cost_difference is not None and chosen.case.cost is not None:
        words += (
            f"; expected cost a joint: {amount_words(chosen.cost_difference)} "
            f"{chosen.case.cost.currency}".rstrip()
        )
    loosening = chosen.differences.get(LOOSENING.name)
    if loosening is not None and loosening.resolved:
        words += f"; loosening by transverse slip: {difference_words(loosening)}"
    return f"{words}."


def _deciding(first: Alternative) -> str:
    return "what is allowed and what it costs" if first.case.cost else "what is allowed"


def _what_to_do(
    found: Sequence[Alternative],
    best: int,
    alike: Sequence[int],
    controls: Mapping[str, ControlResult],
) -> str:
    chosen = found[best]
    action = f"{'keep' if best == 0 else 'choose'} {quoted(chosen.name)}"
    reason = {
        "meets": "it meets what is allowed",
        "misses": "yet no alternative meets what is allowed",
        "not resolved": "whether it meets what is allowed is not resolved by these samples",
        "no target": "no probability is asked for, so none is met or missed",
    }[chosen.verdict]
    words = f"{action}: {reason}"
    if chosen.verdict in ("meets", "no target"):
        words += ", at the lowest expected cost" if chosen.expected_cost else ""
    if alike:
        names = " and ".join(quoted(found[place].name) for place in alike)
        words += f"; {names} cannot be told from it by these samples: decide on other grounds"
    dropped = [quoted(each.name) for each in found if each.dominated_by]
    if dropped:
        words += f"; {' and '.join(dropped)} can be dropped (dominated)"
    loosening = chosen.securing.get(LOOSENING.name)
    if loosening is not None:
        words += f"; by its rule, transverse slip loosens {estimate_words(loosening)} of its joints"
    if chosen.case.joint.securing is not None:
        words += f", but {QUALIFIED}"
    # What is chosen and not enough needs more; what is enough is explained by where it came from.
    explained = found[0] if chosen.verdict in ("meets", "no target") else chosen
    control = controls.get(explained.name)
    second = "" if control is None else control_words(explained.outcomes, control)
    return f"{words}. With {quoted(explained.name)}, {second}." if second else f"{words}."


def narrowing_words(narrowing: float) -> str:
    """Return how much narrower the interval is than between separate draws; maybe nothing."""
    if math.isinf(narrowing) or narrowing < 1.5:
        return ""
    return f", {narrowing:.2g} times narrower than from separate runs"


def amount_words(amount: Amount) -> str:
    """Return a cost with its interval, unless that is too narrow to matter.

    Examples
    --------
    >>> from preloadmc.questions.compare.question import Amount
    >>> amount_words(Amount(3.73, 3.64, 3.82)), amount_words(Amount(1.55002, 1.55001, 1.55003))
    ('3.73 (3.64 to 3.82)', '1.55')
    """
    if amount.high - amount.low < 1e-3 * abs(amount.value):
        return format_number(amount.value)
    value, low, high = round_to_interval(amount.value, amount.low, amount.high)
    return f"{value} ({low} to {high})"
