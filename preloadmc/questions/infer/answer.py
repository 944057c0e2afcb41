"""The answer of an investigation in three plain lines: likely cause, how sure, what next."""

from __future__ import annotations

import math

from preloadmc.estimates.model_odds import bayes_factor_words
from preloadmc.inputs import input_kind, input_label
from preloadmc.questions.infer.question import LEADING
from preloadmc.questions.infer.records import InferResult, InputPosterior, Verdict
from preloadmc.told import and_words
from preloadmc.units import format_number, format_quantity

# A measurement that is expected to tell less of what is open is not worth the work.
WORTH_MEASURING = 0.01
# The first is called likely from this probability on, and so many times that of the next.
LIKELY = 0.5
CLEAR_LEAD = 2.0
# Inputs that one line can tell of.
_MOST_TOLD = 1


def infer_answer(result: InferResult) -> tuple[str, str, str]:
    """Return the three lines."""
    return (
        f"Likely cause: {_cause(result)}",
        f"How sure: {_sureness(result)}",
        f"What next: {_next(result)}",
    )


def chance_words(probability: float, error: float = 0.0) -> str:
    """Return a probability in per cent with its standard error, as exact as the error allows.

    Examples
    --------
    >>> chance_words(0.7096, 0.022), chance_words(0.99999, 1e-6), chance_words(2e-9, 1e-10)
    ('71 ± 2 %', 'above 99.9 %', 'below 0.1 %')
    """
    if probability < 1e-3:
        return "below 0.1 %"
    if probability > 0.999:
        return "above 99.9 %"
    percent, doubt = 100.0 * probability, 100.0 * error
    digits = 0 if doubt >= 0.5 or 10.0 <= percent <= 90.0 else 1
    words = f"{percent:.{digits}f}"
    return f"{words} ± {max(doubt, 10.0**-digits):.{digits}f} %" if error else f"{words} %"


def factor_words(log_factor: float) -> str:
    """Return a Bayes factor as a number: 12, 1/4, 3 x 10^10.

    Examples
    --------
    >>> factor_words(math.log(12.0)), factor_words(-math.log(4.0)), factor_words(24.0)
    ('12', '1/4.0', '3 x 10^10')
    """
    size = abs(log_factor) / math.log(10.0)
    if not math.isfinite(size):
        words = "beyond number"
    elif size < 4.0:
        factor = 10.0**size
        words = f"{factor:.0f}" if factor >= 10.0 else f"{factor:.1f}"
    else:
        exponent = math.floor(size)
        digit = round(10.0 ** (size - exponent))
        words = f"{digit} x 10^{exponent}" if digit < 10 else f"1 x 10^{exponent + 1}"
    return words if log_factor >= 0.0 else f"1/{words}"


def _cause(result: InferResult) -> str:
    first, *others = result.suspects
    if not any(verdict.explains_the_evidence for verdict in result.leading):
        words = (
            f"NO SUSPECT NAMED EXPLAINS WHAT WAS FOUND (least bad: {_chance_of(first)})"
            if result.other_cause.as_well
            else f"NO SUSPECT EXPLAINS WHAT WAS FOUND (least bad: {_chance_of(first)}): look for a "
            "cause that is not on the list, or for an error in the findings"
        )
        return f"{words}{_also(result)}."
    if not others:
        learned = _learned(first, result.case.unit_system)
        return f"none is weighed, since no suspect is named; {learned}{_also(result)}."
    near = [verdict for verdict in others if verdict.probability >= LEADING][:1]
    listed = "; ".join(_chance_of(verdict) for verdict in near)
    if not is_likely(result):
        return f"not told apart: {_chance_of(first)}; {listed} (among those named){_also(result)}."
    words = _chance_of(first) + (f"; then {listed}" if near else "")
    return f"{words} (among the suspects named){_also(result)}."


def _learned(verdict: Verdict, system: str) -> str:
    """Return what findings tell of the inputs of the joint as designed."""
    moved = [each for each in verdict.inputs if each.after.moved][:_MOST_TOLD]
    if not moved:
        return "the findings move no input by much"
    words = (
        f"{input_label(each.name)} {_value(each, each.p50, system)} (before, "
        f"{_value(each, each.law.quantile(0.5), system)})"
        for each in moved
    )
    return f"in the lot that was found: {'; '.join(words)}"


def _value(each: InputPosterior, value: float, system: str) -> str:
    kind = input_kind(each.name)
    if kind.about or kind.name == "tightening.bias":
        return f"{format_number(100.0 * (value - kind.about), 2)} %"
    return format_quantity(value, kind.dimension, system, 3)


def is_likely(result: InferResult) -> bool:
    """Return whether the leader may be called the likely cause among the suspects named."""
    first, *others = result.suspects
    second = others[0].probability if others else 0.0
    return first.probability >= max(LIKELY, CLEAR_LEAD * second)


def _chance_of(verdict: Verdict) -> str:
    return f"{verdict.suspect.name} {chance_words(verdict.probability)}"


def _also(result: InferResult) -> str:
    """Return the unnamed suspects that fit as well, as the end of a sentence."""
    names = [f"'{each.suspect.name}'" for each in result.other_cause.as_well]
    if not names:
        return ""
    return f"; {and_words(names)}, not named, would fit as well"


def _sureness(result: InferResult) -> str:
    first = result.suspects[0]
    if len(result.suspects) == 1:
        if not first.explains_the_evidence:
            return "the joint as designed does not make such findings."
        return "the joint as designed explains what was found; name suspects to weigh against it."
    second = result.suspects[1]
    against = first.log_evidence - second.log_evidence
    words = (
        f"for {first.suspect.name} against {second.suspect.name}, the findings are "
        f"{bayes_factor_words(against)} (Bayes factor {factor_words(against)})"
    )
    return f"{words}; {'; '.join(_reserves(result))}."


def _reserves(result: InferResult) -> list[str]:
    """Return what the answer hangs on: priors, the fit of the leader, causes left out."""
    first, other = result.suspects[0], result.other_cause
    lead = result.sensitivity.prior_factor_to_lose_lead
    found = []
    if lead < 1000.0:
        found.append(f"it stays first until its prior weight falls to 1/{lead:.2g}")
    elif result.is_sure:
        found.append("no plausible prior changes that")
    if first.explains_the_evidence:
        found.append("it explains what was found")
    else:
        found.append("it does not explain what was found")
    if other.as_well:
        found.append("this holds among those named alone")
    elif other.fits_better_than_all_named:
        found.append("laws wide enough for nearly anything fit better: a cause may be missing")
    return found


def _next(result: InferResult) -> str:
    useful = [
        each for each in result.next_measurements if each.share_of_what_is_open >= WORTH_MEASURING
    ]
    if useful:
        words = [
            f"{each.kind} on {_place(each.fastener)} "
            f"({100 * each.share_of_what_is_open:.0f} % of the remaining uncertainty)"
            for each in useful[:2]
        ]
        return f"{'; then '.join(words)}."
    if len(result.suspects) == 1:
        return (
            "`preloadmc run` on the as_found.toml of a report folder (--out) gives the "
            "probabilities with the laws after the findings; or name suspects."
        )
    first = result.suspects[0]
    if result.other_cause.as_well:
        unnamed = result.other_cause.as_well[0].suspect
        return (
            f"no finding of these kinds tells {first.suspect.name} from {unnamed.name}; look for "
            f"what one of them alone leaves ({first.suspect.note}; or {unnamed.note})."
        )
    if not result.is_sure:
        return (
            "no finding of these kinds tells those named apart any further; look for a cause that "
            "is not on the list."
        )
    return "no further finding of these kinds would change the odds much."


def _place(fastener: str) -> str:
    return fastener if " " in fastener else f"fastener {fastener}"
