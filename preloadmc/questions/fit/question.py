"""What laws do test records follow, how sure is that, and what do they show?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
from scipy.special import ndtri

from preloadmc.case import Case
from preloadmc.case_file import RecordFile
from preloadmc.chance.capability import capability
from preloadmc.chance.fitting import (
    FITTED_KINDS,
    OF_LOGARITHMS,
    anderson_darling,
    fit_p_value,
    fitted,
    moments_with_intervals,
)
from preloadmc.chance.limits_by_law import limits_by_law
from preloadmc.chance.oddities import LotDifference, drift, farthest_value
from preloadmc.chance.streams import named_rng
from preloadmc.chance.tolerance_limits import distribution_free
from preloadmc.chance.variance_components import VarianceComponents, variance_components
from preloadmc.errors import UsageError
from preloadmc.questions.fit.answer import fit_answer, fit_warnings
from preloadmc.questions.fit.claims import shown_claims
from preloadmc.questions.fit.columns import found_in, groups_of
from preloadmc.questions.fit.derived import TOOL_ERROR
from preloadmc.questions.fit.records import (
    AICC_APART,
    FEWEST_TO_TELL,
    POOR_FIT,
    Candidate,
    FitQuestion,
    FitResult,
    Group,
    Measured,
    PairedFrictions,
    QuantityFit,
)
from preloadmc.units import RATIO, Array

USUAL_SEED = 1
_NEARLY_ONE = 1.0 - 1e-12


def fit(
    file: RecordFile,
    question: FitQuestion | None = None,
    *,
    case: Case | None = None,
    seed: int | None = None,
) -> FitResult:
    """Fit laws to test records and say what they show.

    Parameters
    ----------
    file : RecordFile
        As `preloadmc.load_records` reads it.
    question : FitQuestion, optional
        Column, law, filter, lots, contents and limits; all columns of numbers unless given.
    case : Case, optional
        Gives thread and bearing diameter, with which frictions follow from torque and preload.
    seed : int, optional
        Of goodness of fit and simulated limits; that of the case, or 1, unless given.

    Returns
    -------
    FitResult

    Raises
    ------
    CaseError
        With every problem of the file at once.
    UsageError
        If the question does not go with the file.
    """
    question = FitQuestion() if question is None else question
    if seed is None:
        seed = USUAL_SEED if case is None else case.sampling.seed
    found = found_in(file, question, case)
    limited = question.at_least is not None or question.at_most is not None
    if limited and len(found.measured) > 1:
        names = ", ".join(each.name for each in found.measured)
        raise UsageError(f"a limit is for one column: name it by --column, one of {names}")
    groups = groups_of(file, question, found.lot)
    fits = tuple(_fit_one(each, file, question, groups, seed) for each in found.measured)
    wants_case = case is None and found.is_rig and question.column is None
    return FitResult(
        file,
        case,
        question,
        seed,
        fits,
        found.passed_over,
        found.lot,
        wants_case,
        _paired(fits, question.confidence),
        fit_answer(fits, found.lot, wants_case),
        fit_warnings(fits),
    )


def _fit_one(
    measured: Measured, file: RecordFile, question: FitQuestion, groups: Sequence[str], seed: int
) -> QuantityFit:
    values = measured.values
    candidates = _candidates(measured, seed)
    chosen = _chosen(measured, candidates, question.law)
    kind, content, confidence = chosen.law, question.content, question.confidence
    possible = tuple(each.law for each in candidates if not each.unlikely and each is not chosen)
    rng = named_rng(seed, f"tolerance limits, {measured.name}")
    table = _table(kind, values, measured.lots)
    many = measured.n > 2
    within = None
    if question.tolerance is not None and measured.name == TOOL_ERROR:
        within = capability(values, -question.tolerance, question.tolerance, confidence)
    return QuantityFit(
        measured,
        moments_with_intervals(values, confidence),
        candidates,
        chosen,
        limits_by_law(kind, values, content, confidence, rng),
        distribution_free(values, content, confidence),
        None if table is None else LotDifference.of(table),
        table,
        drift(values) if many else None,
        farthest_value(kind, values) if many else None,
        _groups(groups, measured, file, kind),
        shown_claims(measured, kind, possible, question, rng),
        within,
    )


def _candidates(measured: Measured, seed: int) -> tuple[Candidate, ...]:
    """Return every law that can be fitted, the best first."""
    values = measured.values
    fits = []
    for kind in FITTED_KINDS:
        try:
            fits.append(fitted(kind, values))
        except ValueError:  # values that this law cannot have
            continue
    best = min(each.aicc for each in fits)
    found = []
    for each in fits:
        rng = named_rng(seed, f"goodness of fit, {measured.name}, {each.kind}")
        p_value = fit_p_value(each.kind, values, rng)
        behind = each.aicc - best if math.isfinite(best) else 0.0
        is_apart = measured.n >= FEWEST_TO_TELL and (p_value < POOR_FIT or behind > AICC_APART)
        found.append(Candidate(each, anderson_darling(values, each.law), p_value, is_apart))
    return tuple(sorted(found, key=lambda each: -each.fit.log_likelihood))


def _chosen(measured: Measured, candidates: Sequence[Candidate], law: str | None) -> Candidate:
    """Return the law asked for, else the usual one unless the tests speak against it."""
    by_kind = {each.law: each for each in candidates}
    if law is not None:
        if law not in by_kind:
            raise UsageError(
                f"--law {law}: values above 0 only, and {measured.name} goes down to "
                f"{measured.words(float(measured.values.min()))}"
            )
        return by_kind[law]
    # Logarithms of values that barely differ may be equal, which leaves no lognormal law.
    usual = by_kind.get(usual_law(measured), by_kind["normal"])
    if not usual.unlikely:
        return usual
    return next((each for each in candidates if not each.unlikely), candidates[0])


def usual_law(measured: Measured) -> str:
    """Return the law that is taken unless the tests speak against it.

    What is a ratio above 0, as frictions and nut factors are, is taken as lognormal; all else as
    normal: common practice, no published source.
    """
    is_ratio = measured.dimension.exponents == RATIO.exponents
    return "lognormal" if is_ratio and measured.values.min() > 0.0 else "normal"


def _scaled(kind: str, values: Array) -> Array:
    """Return values on the scale on which lots are compared."""
    scaled: Array = np.log(values) if kind in OF_LOGARITHMS else values
    return scaled


def _table(kind: str, values: Array, lots: tuple[str, ...] | None) -> VarianceComponents | None:
    """Return the table of lots; None where there is none, or nothing to compare."""
    if lots is None:
        return None
    try:
        return variance_components(_scaled(kind, values), lots)
    except ValueError:  # one lot, or one test of each
        return None


def _groups(
    columns: Sequence[str], measured: Measured, file: RecordFile, kind: str
) -> tuple[Group, ...]:
    """Return the tests by the words of each column that has several for these tests."""
    found = []
    for name in columns:
        words = file.records.words_at(name, measured.lines)
        counts = dict(Counter(words))
        if len(counts) > 1:
            table = _table(kind, measured.values, words)
            found.append(Group(name, counts, None if table is None else LotDifference.of(table)))
    return tuple(found)


def _paired(fits: Sequence[QuantityFit], confidence: float) -> PairedFrictions | None:
    """Return the correlation of thread and bearing friction, where the same tests gave both.

    Its interval by Fisher's z: R. A. Fisher, Metron 1 (1921) 3 (from memory).
    """
    by_key = {each.measured.input.name: each.measured for each in fits if each.measured.input}
    pair = [by_key.get("friction.thread"), by_key.get("friction.bearing")]
    thread, bearing = pair
    if thread is None or bearing is None or thread.lines != bearing.lines or thread.n < 4:
        return None
    value = float(np.corrcoef(np.log(thread.values), np.log(bearing.values))[0, 1])
    half = float(ndtri(0.5 * (1.0 + confidence))) / math.sqrt(thread.n - 3)
    middle = math.atanh(min(max(value, -_NEARLY_ONE), _NEARLY_ONE))
    low, high = math.tanh(middle - half), math.tanh(middle + half)
    return PairedFrictions(thread.n, value, low, high, confidence)
