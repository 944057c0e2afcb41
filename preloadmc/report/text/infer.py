"""The report of an investigation: a page that can be handed on."""

from __future__ import annotations

import numpy as np

from preloadmc.estimates.model_odds import bayes_factor_words
from preloadmc.inputs import input_label
from preloadmc.questions.infer import (
    FACTOR,
    RARE,
    SIMULATED,
    InferResult,
    Verdict,
    chance_words,
    factor_words,
    infer_answer,
)
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Points,
    Report,
    Section,
    Table,
    render_text,
)
from preloadmc.report.text.case import assumption_section, caution_section
from preloadmc.report.text.findings import (
    candidate_place,
    candidate_words,
    check_words,
    found_words,
    predicted_words,
    where_words,
)
from preloadmc.report.text.laws import value_words
from preloadmc.units import time_words

INVESTIGATION_CAUTIONS = (
    "Probabilities are shares among the suspects named: a cause that nobody named gets none, and "
    "the line on other causes tells only how likely one has been left out.",
    "Findings alter joints: a fastener that was turned has no preload left to measure and no mark "
    "left to read. Read marks first, then preload, then torque, and take the load off before.",
    "All fasteners are taken to be of one joint, one lot and one tool.",
)


# Between the names of two causes at once; those less probable than this are left out of tables.
PLUS = " + "
_COMBINED_SHOWN = 0.01


def infer_text(result: InferResult, system: str = "metric") -> str:
    """Return the report as text."""
    return render_text(infer_report(result, system))


def infer_report(result: InferResult, system: str = "metric") -> Report:
    """Return the report: the answer first, then evidence, odds, fit and what to measure next."""
    sections = (
        _evidence_section(result, system),
        odds_section(result),
        factor_section(result),
        other_section(result),
        *(
            section
            for verdict in result.leading
            for section in (_fit_section(verdict, system), _input_section(verdict, system))
        ),
        _measurement_section(result, system),
        assumption_section(result.assumptions, system),
        Section("Method", (Paragraph(method_words(result)),)),
        Section("Cautions of an investigation:", (Points(INVESTIGATION_CAUTIONS),), titled=True),
        caution_section(),
    )
    return Report(
        result.case.title, sections, answer=infer_answer(result), warnings=result.warnings
    )


def told_verdicts(result: InferResult) -> tuple[Verdict, ...]:
    """Return the verdicts of tables and figures: pairs of causes only where they matter."""
    return tuple(
        verdict
        for verdict in result.suspects
        if PLUS not in verdict.suspect.name or verdict.probability >= _COMBINED_SHOWN
    )


def _evidence_section(result: InferResult, system: str) -> Section:
    evidence = result.evidence
    usual = "all" if evidence.is_whole_lot else "random"
    rows = [
        (
            where_words(finding, system),
            found_words(finding, system),
            "because loose" if finding.fastener in evidence.selected else usual,
        )
        for finding in evidence.findings
    ]
    rows += [(where_words(c, system), found_words(c, system), usual) for c in evidence.counts]
    if evidence.service_time is not None:
        rows.append(("time in service", time_words(evidence.service_time), ""))
    return Section("Evidence", (Table(("evidence", "found", "selection"), tuple(rows)),))


def odds_section(result: InferResult) -> Section:
    """Return the probability of each suspect, before and after, and how far the prior moves it."""
    sensitivity, told = result.sensitivity, told_verdicts(result)
    rows = tuple(
        (
            verdict.suspect.name,
            chance_words(verdict.prior),
            chance_words(verdict.probability, verdict.error),
            _range(float(sensitivity.low[i]), float(sensitivity.high[i])),
            "-" if np.isnan(sensitivity.even[i]) else chance_words(float(sensitivity.even[i])),
        )
        for i, verdict in enumerate(result.suspects)
        if verdict in told
    )
    header = ("suspect", "prior", "after", f"prior / {FACTOR:g} to x {FACTOR:g}", "even priors")
    words = (
        "After: probability among the suspects named, with the standard error of sampling. The "
        f"last columns: with the suspect's own prior weight divided and multiplied by {FACTOR:g}, "
        "and with even priors."
    )
    if any(PLUS in verdict.suspect.name for verdict in result.suspects):
        words += (
            " Two at once: their prior weight is shared out by the product of the two weights; "
            "those that override the same value, or are far behind, are left out."
        )
    return Section("Suspects", (Table(header, rows), Paragraph(words)))


def factor_section(result: InferResult) -> Section:
    """Return what the findings say of each suspect against the joint as designed."""
    rows = tuple(
        (
            verdict.suspect.name,
            factor_words(verdict.log_bayes_factor),
            bayes_factor_words(verdict.log_bayes_factor),
        )
        for verdict in told_verdicts(result)
        if verdict.suspect is not result.case_as_designed
    )
    blocks: tuple[Block, ...] = (
        Table(("against the joint as designed", "Bayes factor", "in words"), rows),
        Paragraph(
            "Above 1 the findings speak for the suspect, below 1 (as 1/4) against it, whatever was "
            "thought beforehand. Words of Bayes factors after R. E. Kass and A. E. Raftery, "
            "J. Am. Statist. Assoc. 90 (1995) 773."
        ),
    )
    return Section("What the evidence says by itself", blocks if rows else ())


def other_section(result: InferResult) -> Section:
    """Return what a cause that nobody named could do."""
    other = result.other_cause
    rows = tuple(
        (
            each.suspect.name,
            factor_words(each.log_bayes_factor_against_best_named),
            f"{100 * each.fit_check.chance_of_such_findings:.2g} %",
            "fits as well" if each.fits_as_well else "fits worse",
        )
        for each in other.unnamed_suspects
    )
    if other.log_bayes_factor_of_wide_laws is None:
        words = "Other cause: how well the best named could be beaten was not looked at."
    else:
        factor = factor_words(other.log_bayes_factor_of_wide_laws)
        better = (
            "fit better: a cause may be missing"
            if other.fits_better_than_all_named
            else "fit no better"
        )
        words = (
            f"Other cause: laws so wide that few causes lie outside {better} (Bayes factor "
            f"{factor} against the best named; being wide costs them some)."
        )
    blocks: tuple[Block, ...] = (Paragraph(words),)
    if rows:
        header = ("shipped, not named", "against the best named", "as odd or odder", "")
        words = (
            "Against the best named: above 1 the findings speak for the one not named. As odd or "
            f"odder: share of its own inspections; below {100 * RARE:g} % it does not explain them."
        )
        blocks = (*blocks, Table(header, rows), Paragraph(words))
    else:
        blocks = (*blocks, Paragraph("No shipped suspect that was not named comes near."))
    return Section("A cause that nobody named", blocks)


def _range(low: float, high: float) -> str:
    """Return the ends of a range of probabilities; one alone where both read alike.

    Examples
    --------
    >>> _range(0.09, 0.47), _range(0.996, 0.9995), _range(0.5, 0.504), _range(2e-4, 0.02)
    ('9 to 47 %', '99.6 to above 99.9 %', '50 %', 'below 0.1 to 2 %')
    """
    first, last = _end(low), _end(high)
    return f"{last} %" if first == last else f"{first} to {last} %"


def _end(probability: float) -> str:
    if probability < 1e-3:
        return "below 0.1"
    if probability > 0.999:
        return "above 99.9"
    digits = 0 if 0.01 <= probability <= 0.99 else 1
    return f"{100 * probability:.{digits}f}"


def _fit_section(verdict: Verdict, system: str) -> Section:
    suspect = verdict.suspect
    assert verdict.fit_check is not None, "those shown in full are checked"
    fit = check_words(verdict.fit_check, system)
    head = f"{suspect.name} ({chance_words(verdict.probability, verdict.error)}): {fit}."
    if suspect.note:
        head += f" {suspect.note[0].upper()}{suspect.note[1:]}."
    rows = tuple(
        (
            where_words(each.finding, system),
            found_words(each.finding, system),
            predicted_words(each, system),
            _rarity(min(each.position, each.prior_position)),
        )
        for each in verdict.fit
    )
    blocks: tuple[Block, ...] = (
        Paragraph(f"{head} [{suspect.source}]", hangs=True),
        Table(("finding", "found", "predicted", "how rare"), rows),
    )
    if any(not each.is_chance and each.p05 < 0.0 for each in verdict.fit):
        words = "Predicted are readings, measuring error included: that is why some are below zero."
        blocks = (*blocks, Paragraph(words))
    return Section(f"Does it fit: {suspect.name}", blocks)


def _input_section(verdict: Verdict, system: str) -> Section:
    rows = tuple(
        (
            input_label(each.name),
            value_words(each.name, each.law.mean, system),
            value_words(each.name, each.p50, system),
            f"{value_words(each.name, each.p05, system)} to "
            f"{value_words(each.name, each.p95, system)}",
        )
        for each in verdict.inputs
    )
    header = ("input of this lot", "law's mean", "median after", "5 to 95 % after")
    title = f"Inputs if it was: {verdict.suspect.name}"
    return Section(title, (Table(header, rows),) if rows else ())


def _rarity(position: float) -> str:
    return f"{100 * position:.0f} %" if position >= 0.1 else f"{100 * position:.2g} %"


def _measurement_section(result: InferResult, system: str) -> Section:
    title = "What to measure next"
    if not result.next_measurements:
        words = "No further measurement could tell among these: one suspect is left."
        return Section(title, (Paragraph(words),))
    rows = tuple(
        (
            each.kind,
            candidate_place(each),
            candidate_words(each, system),
            f"{each.bits:.2f} ± {max(each.bits_error, 0.005):.2f}",
            f"{100 * each.share_of_what_is_open:.0f} %",
        )
        for each in result.next_measurements
    )
    header = ("what to measure next", "on", "accuracy", "bits", "of what is open")
    words = (
        "Bits: expected information about which suspect is true (D. V. Lindley, 1956), from "
        "readings simulated under every suspect. Accuracy is that of the evidence, or engineering "
        "judgement."
    )
    return Section(title, (Table(header, rows, words=2), Paragraph(words)))


def method_words(result: InferResult) -> str:
    """Return how the numbers came about."""
    first = result.suspects[0]
    return (
        "How rare: the share of such fasteners whose finding would lie as far out, by the "
        "evidence or by the suspect's own laws, whichever is less. Predicted: 5 to 95 % of another "
        "fastener of the lot, and inputs of this lot likewise. Explains: the same fasteners "
        f"inspected in the same ways, simulated {SIMULATED} times by the suspect's own laws; a "
        f"suspect does not explain the findings where less than {100 * RARE:g} % of these are as "
        "odd in any of their figures. Method: tempered particles in standard normal "
        f"space, {result.runs} runs of {result.particles}, fewer where a suspect is far behind; "
        f"seed {result.seed}; effective sample size of the first suspect "
        f"{first.effective_sample_size:.0f}."
    )
