"""Findings and predictions in the words and units of a reader."""

from __future__ import annotations

from preloadmc.evidence import (
    COUNT,
    MEASURED,
    OBSERVATIONS,
    READINGS,
    TOOL,
    Count,
    Finding,
    Reading,
)
from preloadmc.questions.infer import (
    MEAN,
    SPREAD,
    Candidate,
    FindingFit,
    FitCheck,
    Oddity,
)
from preloadmc.units import (
    FORCE,
    format_number,
    format_quantity,
    time_words,
)

# Figures that have the unit of their kind.
_OF_THE_KIND = (MEAN, SPREAD)


def found_words(finding: Finding | Count, system: str) -> str:
    """Return what was found: a value with its error, a limit, a word or a count."""
    if isinstance(finding, Count):
        return finding.words
    if not isinstance(finding, Reading):
        return finding.words
    value = format_quantity(finding.value, READINGS[finding.kind].dimension, system, 3)
    if finding.sense != MEASURED:
        return f"{finding.sense} {value}"
    return f"{value} ± {error_words(finding.kind, finding.error, system)}"


def error_words(kind: str, error: float, system: str) -> str:
    """Return a measuring error in the unit of its kind."""
    return format_quantity(error, READINGS[kind].dimension.of_difference, system, 2)


def predicted_words(fit: FindingFit, system: str) -> str:
    """Return what was predicted: 5 to 95 % of a value, or the chance of what was found."""
    if fit.is_chance:
        return f"with {100 * fit.p50:.0f} %"
    if isinstance(fit.finding, Count):
        return f"{fit.p05:.0f} to {fit.p95:.0f} of {fit.finding.inspected}"
    assert isinstance(fit.finding, Reading), "a value is predicted for readings alone"
    dimension = READINGS[fit.finding.kind].dimension
    low = format_quantity(fit.p05, dimension, system, 3).split(" ")[0]
    return f"{low} to {format_quantity(fit.p95, dimension, system, 3)}"


def where_words(finding: Finding | Count, system: str) -> str:
    """Return what was looked at: the kind and the fastener, or the limit of a count."""
    if isinstance(finding, Count):
        return f"{COUNT}, below {format_quantity(finding.limit, FORCE, system, 3)}"
    if finding.fastener == TOOL:
        return f"{finding.kind}{after_words(finding)}"
    return f"{finding.kind}, fastener {finding.fastener}{after_words(finding)}"


def after_words(finding: Finding) -> str:
    """Return the time of a finding that has one of its own, to stand after what it is about."""
    return "" if finding.after is None else f" after {time_words(finding.after)}"


def check_words(check: FitCheck, system: str) -> str:
    """Return whether a suspect explains the findings, and what is oddest about them."""
    share = (
        f"{100 * check.chance_of_such_findings:.2g} % of such inspections under it would be as odd"
    )
    if check.explains:
        return f"explains what was found ({share})"
    oddest = oddest_words(check.oddest, system)
    return f"DOES NOT EXPLAIN WHAT WAS FOUND (only {share}; oddest: {oddest})"


def oddest_words(oddest: Oddity, system: str) -> str:
    """Return the figure of the findings that lies farthest out, beside what a suspect makes."""
    if not oddest.kind:
        return oddest.figure
    if oddest.kind not in READINGS or oddest.figure not in _OF_THE_KIND:
        # A number of fasteners, beside how many the suspect makes.
        counted = f"{oddest.value:g} where it makes {oddest.p05:g} to {oddest.p95:g}"
        if oddest.kind == COUNT:
            return f"{oddest.kind}, {counted}"
        seen = OBSERVATIONS.get(oddest.kind)
        return f"{oddest.kind} {oddest.figure if seen is None else repr(seen.seen)} on {counted}"
    dimension = READINGS[oddest.kind].dimension
    if oddest.figure == SPREAD:
        dimension = dimension.of_difference
    found, low, high = (
        format_quantity(each, dimension, system, 3)
        for each in (oddest.value, oddest.p05, oddest.p95)
    )
    words = f"{oddest.figure} of the {oddest.kind}"
    return f"{words}, {found} where it makes {low.split(' ')[0]} to {high}"


def candidate_words(candidate: Candidate, system: str) -> str:
    """Return how well a measurement to come is taken to be made."""
    if candidate.kind == COUNT:
        return "-"
    if candidate.kind in READINGS:
        return f"± {error_words(candidate.kind, candidate.accuracy, system)}"
    return f"wrong in {format_number(100 * candidate.accuracy, 2)} %"


def candidate_place(candidate: Candidate) -> str:
    """Return on what a measurement to come would be made."""
    name = candidate.fastener
    return name if " " in name else f"fastener {name}"
