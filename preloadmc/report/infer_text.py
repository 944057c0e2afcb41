"""The text report of an investigation: a page that can be handed on."""

from __future__ import annotations

from preloadmc.estimates.model_odds import bayes_factor_words
from preloadmc.inputs import input_label
from preloadmc.questions.infer import InferResult, Verdict
from preloadmc.questions.infer_answer import chance_words, factor_words, infer_answer
from preloadmc.questions.prior_sensitivity import FACTOR
from preloadmc.report.case_text import caution_lines, warning_lines
from preloadmc.report.finding_words import (
    candidate_place,
    candidate_words,
    found_words,
    predicted_words,
    where_words,
)
from preloadmc.report.laws import value_words
from preloadmc.report.tables import aligned, listed, paragraph
from preloadmc.units import TIME, format_quantity

INVESTIGATION_CAUTIONS = (
    "Probabilities are shares among the suspects named: a cause that nobody named gets none.",
    "Findings alter joints: a nut that was turned has no preload left to measure and no mark left "
    "to read. Read marks first, then preload, then torque, and take the load off before.",
    "All fasteners are taken to be of one joint, one lot and one tool.",
)


def infer_text(result: InferResult, system: str = "metric") -> str:
    """Return the report as text: the answer first, then evidence, odds, fit and what next."""
    lines = [
        *(line for words in infer_answer(result) for line in paragraph(words, "  ")),
        "",
        *paragraph(result.case.title),
        "",
        *warning_lines(result.warnings),
        *_evidence_lines(result, system),
        "",
        *_odds_lines(result),
        "",
        *(line for verdict in result.leading for line in _verdict_lines(verdict, system)),
        *_measurement_lines(result, system),
        "",
        *_assumption_lines(result),
        "",
        *_method_lines(result),
        "",
        "Cautions of an investigation:",
        *listed(INVESTIGATION_CAUTIONS),
        *caution_lines(),
    ]
    return "\n".join(lines) + "\n"


def _evidence_lines(result: InferResult, system: str) -> list[str]:
    evidence = result.evidence
    rows = [
        (
            where_words(finding, system),
            found_words(finding, system),
            "because loose" if finding.fastener in evidence.selected else "random",
        )
        for finding in evidence.findings
    ]
    rows += [(where_words(c, system), found_words(c, system), "random") for c in evidence.counts]
    if evidence.service_time is not None:
        rows.append(("time in service", format_quantity(evidence.service_time, TIME), ""))
    return aligned(("evidence", "found", "selection"), rows)


def _odds_lines(result: InferResult) -> list[str]:
    sensitivity = result.sensitivity
    rows = [
        (
            verdict.suspect.name,
            chance_words(verdict.prior),
            chance_words(verdict.probability, verdict.error),
            _range(sensitivity.low[i], sensitivity.high[i]),
            chance_words(sensitivity.even[i]),
        )
        for i, verdict in enumerate(result.verdicts)
    ]
    header = ("suspect", "prior", "after", f"prior / {FACTOR:g} to x {FACTOR:g}", "even priors")
    lines = aligned(header, rows)
    factors = [
        (
            verdict.suspect.name,
            factor_words(verdict.log_factor),
            bayes_factor_words(verdict.log_factor),
        )
        for verdict in result.verdicts
        if verdict.suspect is not result.case_as_designed
    ]
    lines += ["", *aligned(("against the joint as designed", "Bayes factor", "in words"), factors)]
    lines += paragraph(
        "After: probability among the suspects named, with the standard error of sampling. Words "
        "of Bayes factors after Kass and Raftery, J. Am. Statist. Assoc. 90 (1995) 773."
    )
    if result.pairs:
        lines += paragraph(
            "Pairs: the prior odds of two suspects at once are the product of their odds; pairs "
            "that override the same value are left out."
        )
    return lines


def _range(low: float, high: float) -> str:
    if high < 1e-3:
        return "below 0.1 %"
    if low > 0.999:
        return "above 99.9 %"
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def _verdict_lines(verdict: Verdict, system: str) -> list[str]:
    suspect = verdict.suspect
    fit = "explains every finding" if verdict.explained else "DOES NOT EXPLAIN EVERY FINDING"
    head = f"{suspect.name} ({chance_words(verdict.probability, verdict.error)}): {fit}."
    if suspect.note:
        head += f" {suspect.note[0].upper()}{suspect.note[1:]}."
    rows = [
        (
            where_words(each.finding, system),
            found_words(each.finding, system),
            predicted_words(each, system),
            _rarity(min(each.position, each.prior_position)),
        )
        for each in verdict.fits
    ]
    lines = paragraph(f"{head} [{suspect.source}]", "  ")
    lines += aligned(("finding", "found", "predicted", "how rare"), rows)
    inputs = [
        (
            input_label(each.name),
            value_words(each.name, each.law.mean, system),
            value_words(each.name, each.median, system),
            f"{value_words(each.name, each.low, system)} to "
            f"{value_words(each.name, each.high, system)}",
        )
        for each in verdict.inputs
    ]
    if inputs:
        header = ("input of this lot", "law's mean", "median after", "5 to 95 % after")
        lines += ["", *aligned(header, inputs)]
    return [*lines, ""]


def _rarity(position: float) -> str:
    return f"{100 * position:.0f} %" if position >= 0.1 else f"{100 * position:.2g} %"


def _measurement_lines(result: InferResult, system: str) -> list[str]:
    if not result.measurements:
        return ["No further measurement could tell: one suspect is left."]
    rows = [
        (
            each.kind,
            candidate_place(each),
            candidate_words(each, system),
            f"{each.bits:.2f} +- {max(each.error, 0.005):.2f}",
            f"{100 * each.share:.0f} %",
        )
        for each in result.measurements
    ]
    header = ("what to measure next", "on", "accuracy", "bits", "of what is open")
    lines = aligned(header, rows, words=2)
    return lines + paragraph(
        "Bits: expected information about which suspect is true (Lindley, 1956), from readings "
        "simulated under every suspect. Accuracy is that of the evidence, or engineering judgement."
    )


def _assumption_lines(result: InferResult) -> list[str]:
    paths: dict[tuple[str, str], list[str]] = {}
    for item in result.assumptions:
        paths.setdefault((item.value, item.source), []).append(item.path)
    items = [f"{', '.join(named)}: {value} [{source}]" for (value, source), named in paths.items()]
    return ["Assumed, with source:", *listed(items)]


def _method_lines(result: InferResult) -> list[str]:
    first = result.verdicts[0]
    return paragraph(
        "How rare: the share of such fasteners whose finding would lie as far out, by the "
        "evidence or by the suspect's own laws, whichever is less; below 1 % over the number of "
        "findings, a suspect does not explain it. Predicted: 5 to 95 % of another fastener of the "
        "lot. Inputs of this lot: likewise. Method: tempered particles in standard normal space, "
        f"{result.runs} runs of {result.particles}, fewer where a suspect is far behind; seed "
        f"{result.seed}; effective sample size of the first suspect {first.effective:.0f}."
    )
