"""The answer of an investigation in three plain lines: likely cause, how sure, what next."""

from __future__ import annotations

import math

from preloadmc.estimates.model_odds import bayes_factor_words
from preloadmc.questions.infer.question import InferResult, Verdict

# A measurement that is expected to tell less of what is open is not worth the work.
WORTH_MEASURING = 0.01


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
    ('71 +- 2 %', 'above 99.9 %', 'below 0.1 %')
    """
    if probability < 1e-3:
        return "below 0.1 %"
    if probability > 0.999:
        return "above 99.9 %"
    percent, doubt = 100.0 * probability, 100.0 * error
    digits = 0 if doubt >= 0.5 or 10.0 <= percent <= 90.0 else 1
    words = f"{percent:.{digits}f}"
    return f"{words} +- {max(doubt, 10.0**-digits):.{digits}f} %" if error else f"{words} %"


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
    first, *others = result.verdicts
    words = f"{first.suspect.name}, {chance_words(first.probability, first.error)}"
    others = [verdict for verdict in others if verdict.probability >= 0.05][:2]
    if others:
        listed = "; ".join(
            f"{verdict.suspect.name} {chance_words(verdict.probability, verdict.error)}"
            for verdict in others
        )
        words += f"; then {listed}"
    if not any(verdict.explained for verdict in result.leading):
        words += "; but NO SUSPECT EXPLAINS WHAT WAS FOUND"
    return f"{words} (among the suspects named)."


def _sureness(result: InferResult) -> str:
    first = result.verdicts[0]
    if len(result.verdicts) == 1:
        return "it has no rival; name suspects to weigh against each other."
    second = result.verdicts[1]
    against = first.log_evidence - second.log_evidence
    words = (
        f"against {second.suspect.name}, the findings are "
        f"{bayes_factor_words(against)} (Bayes factor {factor_words(against)})"
    )
    lead = result.sensitivity.to_lose_lead
    if lead < 1000.0:
        words += f"; it stays first until its prior weight falls to 1/{lead:.2g}"
    else:
        words += "; no plausible prior changes that"
    return f"{words}; {_fit(first)}."


def _fit(first: Verdict) -> str:
    return "it explains every finding" if first.explained else "it does not explain every finding"


def _next(result: InferResult) -> str:
    useful = [each for each in result.measurements if each.share >= WORTH_MEASURING]
    if len(result.verdicts) == 1:
        return "name suspects."
    if not useful:
        return "no further finding of these kinds would change the odds much."
    words = [
        f"{each.kind} on {each.fastener if ' ' in each.fastener else f'fastener {each.fastener}'} "
        f"({100 * each.share:.0f} % of the remaining uncertainty)"
        for each in useful[:2]
    ]
    return f"{'; then '.join(words)}."
