"""Rows of findings that exclude each other, or stand twice."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import chain, combinations

from preloadmc.case_file.problems import Problems
from preloadmc.evidence import ABOVE, BELOW, COUNT, MEASURED, Count, Finding, Observation, Reading

# Readings further apart than so many of their errors are of two fasteners, or one is wrong: no
# re-check differs by as much.
_FAR_APART = 6.0


def check_contradictions(
    findings: Mapping[str, Finding],
    counts: Mapping[str, Count],
    instruments: Mapping[str, float],
    problems: Problems,
) -> None:
    """Note every pair of rows of which only one can be so, and rows that stand twice.

    Parameters
    ----------
    findings, counts : mapping
        By the path of their row.
    instruments : mapping of str to float
        Standard deviation of each instrument's own error, as a share.
    problems : Problems
        Takes what is wrong, at the later row.
    """
    alike: dict[tuple[str, str, str, float | None], list[tuple[str, Finding]]] = {}
    for path, finding in findings.items():
        # A fastener may have lost preload, or turned, between one time and another.
        key = finding.kind, finding.fastener, finding.input, finding.after
        alike.setdefault(key, []).append((path, finding))
    pairs = chain.from_iterable(combinations(rows, 2) for rows in alike.values())
    for (first, a), (later, b) in pairs:
        if _is_same(a, b):
            problems.add(later, b.words, f"the same row once: it stands at {first} too")
        elif _exclude(a, b, instruments):
            problems.add(
                later,
                b.words,
                f"{b.kind} of fastener {b.fastener} as at {first}, which says '{a.words}': the two "
                "exclude each other",
            )
    for (first, one), (later, other) in combinations(counts.items(), 2):
        if (one.words, one.limit) == (other.words, other.limit) or (
            one.words == other.words and math.isnan(one.limit) and math.isnan(other.limit)
        ):
            words = f"the same {COUNT} once: it stands at {first} too; two samples are one count"
            problems.add(later, other.words, words)


def _is_same(a: Finding, b: Finding) -> bool:
    if isinstance(a, Reading) and isinstance(b, Reading):
        same = (a.sense, a.instrument) == (b.sense, b.instrument)
        return same and math.isclose(a.value, b.value, rel_tol=1e-9)
    return (
        isinstance(a, Observation)
        and isinstance(b, Observation)
        and ((a.seen, a.grade) == (b.seen, b.grade))
    )


def _exclude(a: Finding, b: Finding, instruments: Mapping[str, float]) -> bool:
    """Return whether only one of two findings of one kind on one fastener can be so."""
    if not isinstance(a, Reading) or not isinstance(b, Reading):
        return True
    own = [] if a.instrument == b.instrument else [a, b]
    errors = [instruments.get(each.instrument, 0.0) * each.value for each in own]
    apart = (b.value - a.value) / math.hypot(a.error, b.error, *errors)
    higher = a.sense in (MEASURED, BELOW) and b.sense in (MEASURED, ABOVE)
    lower = a.sense in (MEASURED, ABOVE) and b.sense in (MEASURED, BELOW)
    return (higher and apart > _FAR_APART) or (lower and apart < -_FAR_APART)
