"""The text report of a run."""

from __future__ import annotations

import math

from preloadmc.estimates.probability import Probability, reliability_index
from preloadmc.inputs import input_label
from preloadmc.questions.bounds import bounds
from preloadmc.questions.derive import derive
from preloadmc.questions.misses import RANKED_SIDES
from preloadmc.questions.outcomes import Outcome
from preloadmc.questions.run import RunResult, Stage
from preloadmc.questions.wording import probability_words
from preloadmc.report.blocks import section_lines
from preloadmc.report.bounds_text import bounds_lines
from preloadmc.report.case_text import (
    assumption_lines,
    caution_lines,
    input_lines,
    nominal_lines,
    warning_lines,
)
from preloadmc.report.cautions import INTERVALS
from preloadmc.report.control_text import control_sections
from preloadmc.report.derive_text import derivation_lines
from preloadmc.report.laws import value_words
from preloadmc.report.rank_text import misses_lines, ranking_lines
from preloadmc.report.tables import aligned, paragraph
from preloadmc.units import FORCE, format_number, to_unit

# An input that is less than this many s.d. off is not worth naming at the likeliest miss.
WORTH_NAMING = 0.2


def run_text(result: RunResult, system: str = "metric", *, derived: bool = False) -> str:
    """Return the report of a run as text: the answer first, then the tables.

    With ``derived``, the derivation at nominal values comes before the cautions.
    """
    lines = [
        *result.answer,
        "",
        *paragraph(result.case.title),
        "",
        *warning_lines(result.warnings),
        *_outcome_lines(result.outcomes),
        "",
        *_estimate_lines(result),
        "",
        *_likeliest_lines(result, system),
        *_preload_lines(result, system),
        "",
        *_limit_lines(result),
        "",
        *bounds_lines(bounds(result.case), system, result.samples.kept),
        "",
        *misses_lines(
            (result.estimates[side].dominates for side in RANKED_SIDES), result.case, system
        ),
        *(
            [*section_lines(control_sections(result.control, "Value of control")), ""]
            if result.control is not None
            else ()
        ),
        *([*ranking_lines(result.ranking), ""] if result.ranking is not None else ()),
        *nominal_lines(result.checked, system),
        "",
        *input_lines(result.case, system),
        "",
        *assumption_lines(result.case),
        "",
        *_method_lines(result),
        "",
        *([*derivation_lines(derive(result.case), system), ""] if derived else ()),
        *caution_lines(),
    ]
    return "\n".join(lines) + "\n"


def _outcome_lines(outcomes: tuple[Outcome, ...]) -> list[str]:
    rows = [
        (
            outcome.label,
            probability_words(outcome.probability),
            _per_million(outcome.probability),
            _beta(outcome.probability),
            _verdict(outcome),
        )
        for outcome in outcomes
    ]
    header = ("outcome", "probability (95 % interval)", "per million", "beta", "verdict")
    return aligned(header, rows)


def _verdict(outcome: Outcome) -> str:
    return outcome.verdict if outcome.allowed is None else f"{outcome.verdict} {outcome.allowed:g}"


def _per_million(probability: Probability) -> str:
    if probability.bound == "upper":
        return f"< {1e6 * probability.high:.3g}"
    return f"{probability.per_million:.3g}"


def _beta(probability: Probability) -> str:
    if probability.bound == "upper":
        return f"> {reliability_index(probability.high):.2f}"
    return f"{probability.beta:.2f}"


def _estimate_lines(result: RunResult) -> list[str]:
    """Return how each probability was obtained, how it was checked, and what is doubted."""
    lines = []
    for outcome in result.outcomes:
        estimate = result.estimates[outcome.name]
        probability = estimate.probability
        words = (
            f"{outcome.label}: {_METHODS[probability.method]}, {probability.samples:,} samples, "
            f"{probability.model_calls:,} model calls"
        )
        if estimate.check is not None:
            check = estimate.check
            words += (
                f"; check by {_METHODS[check.method]}: {probability_words(check)}, "
                f"{estimate.check_calls:,} calls"
            )
        if probability.note:
            words += f"; {probability.note}"
        if not probability.reliable:
            words += ". NOT RELIABLE"
        lines += paragraph(words + ".", "  ")
    return lines


_METHODS = {
    "plain": "plain sampling",
    "importance": "importance sampling",
    "subset": "subset simulation",
}


def _likeliest_lines(result: RunResult, system: str) -> list[str]:
    """Return the likeliest way to miss each side of the window, in physical terms."""
    lines = []
    for outcome in result.outcomes:
        miss = result.estimates[outcome.name].likeliest
        if outcome.name == "outside_window" or miss is None:
            continue
        inputs = [
            f"{input_label(item.name)} {value_words(item.name, item.value, system)} "
            f"({item.z:+.1f} s.d.)"
            for item in miss.inputs
            if abs(item.z) >= WORTH_NAMING
        ]
        lines += paragraph(
            f"The likeliest way to {outcome.label} ({miss.limit}, {miss.state}; beta "
            f"{miss.beta:.2f}): {', '.join(inputs)}.",
            "  ",
        )
    return [*lines, *([""] if lines else [])]


def _preload_lines(result: RunResult, system: str) -> list[str]:
    unit = FORCE.unit(system)
    rows = [
        (stage.name, *(format_number(to_unit(value, unit, FORCE)) for value in _summary(stage)))
        for stage in result.stages
    ]
    return aligned((f"preload [{unit}]", "mean", "s.d.", "1 %", "50 %", "99 %"), rows)


def _summary(stage: Stage) -> tuple[float, ...]:
    return (stage.mean, stage.sd, *(stage.quantile(p) for p in (0.01, 0.5, 0.99)))


def _limit_lines(result: RunResult) -> list[str]:
    rows = [
        (
            limit.name,
            limit.state,
            probability_words(limit.probability),
            "-" if math.isinf(limit.median_share) else f"{100 * limit.median_share:.3g} %",
        )
        for limit in result.limits
    ]
    header = ("limit", "governing state", "probability of a miss", "median margin")
    lines = aligned(header, rows, words=2)
    words = "; ".join(f"{side} {value:.2f}" for side, value in result.capability.items())
    lines += paragraph(
        "The median margin is a share of what is allowed or can be carried. Capability of the "
        f"window (mean margin over 3 s.d.): {words}."
    )
    return lines


def _method_lines(result: RunResult) -> list[str]:
    samples = result.samples
    kept = len(samples.kept.z)
    text = (
        f"Method: plain sampling, {samples.n:,} samples, seed {result.seed}; stopped at "
        f"{samples.stopped}. Probabilities: exact binomial intervals (Clopper-Pearson, 95 %). "
        f"Quantiles and medians: the first {kept:,} samples. {INTERVALS}"
    )
    return paragraph(text)
