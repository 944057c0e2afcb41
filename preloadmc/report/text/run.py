"""The text report of a run."""

from __future__ import annotations

import math

from preloadmc.engine import OUTSIDE
from preloadmc.estimates.probability import METHODS, Probability, reliability_index
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.verdicts import Judged
from preloadmc.judgement.wording import probability_words
from preloadmc.questions.run import RunResult
from preloadmc.report.text.acceptance import acceptance_sections
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Report,
    Section,
    Table,
    folded,
    render_text,
)
from preloadmc.report.text.bounds import bounds_sections
from preloadmc.report.text.budget import budget_section
from preloadmc.report.text.case import (
    assumption_section,
    caution_section,
    input_section,
    nominal_section,
)
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.control import control_sections
from preloadmc.report.text.derive import derivation_sections
from preloadmc.report.text.fatigue import fatigue_sections
from preloadmc.report.text.joint import joint_sections
from preloadmc.report.text.judgement import doubted_words, limit_blocks, unit_of
from preloadmc.report.text.knowledge import knowledge_sections
from preloadmc.report.text.life import life_sections
from preloadmc.report.text.likeliest import likeliest_words
from preloadmc.report.text.preloads import preload_table
from preloadmc.report.text.rank import miss_sections, ranking_sections
from preloadmc.units import format_number


def run_text(result: RunResult, system: str = "metric", *, derived: bool = False) -> str:
    """Return the report of a run as text: the answer first, then the tables.

    With ``derived``, the derivation at nominal values comes before the cautions.
    """
    report = run_report(result, system)
    if derived:
        report = report.before_cautions(*derivation_sections(result.derivation, system))
    return render_text(report)


def run_report(result: RunResult, system: str = "metric") -> Report:
    """Return the report of a run as blocks; the cautions are its last section."""
    misses = miss_sections(
        (result.estimates[side].dominates for side in RANKED_SIDES), result.case, system
    )
    ranking = () if result.ranking is None else ranking_sections(result.ranking)
    worth = () if result.control is None else control_sections(result.control, "Value of control")
    return Report(
        result.case.title,
        (
            *joint_sections(result.case, result.group, system),
            Section(
                _of_one("Probabilities", result),
                (_outcome_table(result.outcomes),),
                titled=result.case.group is not None,
            ),
            *knowledge_sections(result.case, result.judgement, result.tests_worth_doing),
            *folded((Section("How they were estimated", _estimates(result)),)),
            Section("The likeliest misses", _likeliest(result, system), drawn=True),
            Section("Preload over the joint's life", (_preload_table(result, system),)),
            *life_sections(result, system),
            budget_section(result.loss_budget, system),
            _limit_section(result),
            *fatigue_sections(result.fatigue_by_preload),
            *acceptance_sections(result.judgement.screening, system),
            *bounds_sections(result.deterministic.found, system, result.deterministic),
            *folded(misses),
            *worth,
            *folded(ranking),
            *folded((nominal_section(result.checked, system),)),
            input_section(result.case, system),
            assumption_section(result.case.assumptions, system),
            Section("Method and accuracy", (_method(result),)),
            caution_section(),
        ),
        answer=result.answer,
        warnings=result.warnings,
    )


def _of_one(title: str, result: RunResult) -> str:
    """Return a title; of a joint with several fasteners, that it is of one."""
    group = result.case.group
    if group is None:
        return title
    return f"{title} of one fastener, where least is left ({group.place})"


def _outcome_table(outcomes: tuple[Judged, ...]) -> Table:
    rows = tuple(
        (
            outcome.label,
            doubted_words(outcome, unit_of(outcomes)),
            _per_million(outcome.probability),
            _beta(outcome.probability),
            "-" if outcome.name == OUTSIDE else outcome.verdict_words,
        )
        for outcome in outcomes
    )
    header = ("outcome", "probability (95 % interval)", "per million", "beta", "verdict")
    return Table(header, rows)


def _per_million(probability: Probability) -> str:
    if probability.bound == "upper":
        return f"< {format_number(1e6 * probability.high, 3)}"
    return format_number(probability.per_million, 3)


def _beta(probability: Probability) -> str:
    if probability.bound == "upper":
        return f"> {reliability_index(probability.high):.2f}"
    return f"{probability.beta:.2f}" if math.isfinite(probability.beta) else "-"


def _estimates(result: RunResult) -> tuple[Block, ...]:
    """Return how each probability was obtained, how it was checked, and what is doubted."""
    found = []
    for outcome in result.outcomes:
        estimate = result.estimates[outcome.name]
        probability = estimate.probability
        words = (
            f"{outcome.label}: {METHODS[probability.method]}, {probability.samples:,} samples, "
            f"{probability.model_calls:,} model calls"
        )
        if estimate.check is not None:
            check = estimate.check
            words += (
                f"; check by {METHODS[check.method]}: {probability_words(check)}, "
                f"{f'{estimate.check_calls:,}' if estimate.check_calls else 'no further'} calls"
            )
        if probability.note:
            words += f"; {probability.note}"
        if not probability.reliable:
            words += ". NOT RELIABLE"
        found.append(Paragraph(words + ".", hangs=True))
    return (Paragraph(_BETA), *found)


_BETA = (
    "beta: reliability index, P = Phi(-beta); of a way to miss, its distance from the median joint "
    "in standard deviations."
)


def _likeliest(result: RunResult, system: str) -> tuple[Block, ...]:
    """Return the likeliest way to miss each side of the window, in physical terms."""
    found = []
    for outcome in result.outcomes:
        miss = result.estimates[outcome.name].likeliest_miss
        if outcome.name == "outside_window" or miss is None:
            continue
        found.append(Paragraph(likeliest_words(miss, system), hangs=True))
    return tuple(found)


def _preload_table(result: RunResult, system: str) -> Table:
    return preload_table(
        "preload",
        ((stage.name, stage.mean, stage.sd, stage.quantiles) for stage in result.preload),
        system,
    )


def _limit_section(result: RunResult) -> Section:
    words = "; ".join(f"{side} {_ratio(value)}" for side, value in result.capability.items())
    capability = Paragraph(f"Capability of the window (mean margin over 3 s.d.): {words}.")
    return Section("Every limit", (*limit_blocks(result.judgement), capability))


def _ratio(capability: float) -> str:
    """Return a capability, which a margin without scatter has none of."""
    if math.isfinite(capability):
        return f"{capability:.2f}"
    return f"{'met' if capability > 0.0 else 'missed'}, without scatter"


_INTERVALS_OF = {
    "plain": "exact binomial (Clopper-Pearson)",
    "importance": "Student's, of the logarithm, from 16 independent batches",
    "subset": "Student's, of the logarithm, from ten independent runs",
}


def _method(result: RunResult) -> Paragraph:
    samples = result.samples
    kept = len(samples.kept.z)
    used = {each.probability.method for each in (*result.outcomes, *result.limits)}
    intervals = "; ".join(
        f"{METHODS[method]}: {words}" for method, words in _INTERVALS_OF.items() if method in used
    )
    return Paragraph(
        f"Method: plain sampling, {samples.n:,} samples, seed {result.seed}; "
        f"{samples.stopped}. 95 % intervals of probabilities, by {intervals}. The interval of "
        "outside the window is never narrower than those of the two sides, unless all three are "
        f"counted on the same samples. Model calls for the outcomes: {result.model_calls:,}, "
        "including checks and the misses that are ranked. Quantiles and medians: the first "
        f"{kept:,} samples; ± is the wider half of the 95 % interval from order statistics. "
        f"{_neighbours(result)}{INTERVALS}"
    )


def _neighbours(result: RunResult) -> str:
    """Return what stands for the neighbours of the one fastener; empty where it has none."""
    group = result.case.group
    if group is None or not group.facts.interacts:
        return ""
    return (
        "What the neighbours of the one fastener take is what is likely given its own preload; "
        "the joint and its table of fasteners count the scatter of each neighbour too. "
    )
