"""The answer of a fit in three lines: which law, how sure, what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scipy.special import ndtri

from preloadmc.chance.oddities import FAR_SHARES
from preloadmc.chance.tolerance_limits import one_sided_factor
from preloadmc.questions.fit.claims import ClaimPlan
from preloadmc.questions.fit.records import (
    ODD,
    Group,
    Measured,
    QuantityFit,
    ShownClaim,
)
from preloadmc.told import and_words
from preloadmc.units import TEMPERATURE, format_number

# Quantities that a line of the answer names.
_NAMED = 4
# Things to do that one line can tell.
_TO_DO = 2
# Fewer lots say little of how lots differ: with five the 95 % upper limit of the s.d. between them
# is 2.9 times the estimate, with three 6.3 times (chi-square of n - 1 degrees). Judgement.
FEW_LOTS = 5
# What a series of tests is usually made of where few were made before.
_ENOUGH_TESTS = 25


def fit_answer(
    fits: Sequence[QuantityFit], lot: str | None, wants_case: bool
) -> tuple[str, str, str]:
    """Return which law, how sure, and what to do, each in a line."""
    if len(fits) == 1:
        law, sure = _law_words(fits[0]), _sure_words(fits[0])
    else:
        law, sure = _joined(map(_short_law, fits)), _sure_of_many(fits)
    return (
        f"Which law: {law}.",
        f"How sure: {sure}.",
        f"What to do: {_to_do(fits, lot, wants_case)}.",
    )


def plan_answer(plan: ClaimPlan) -> tuple[str, str, str]:
    """Return how many tests a claim takes, for what that holds, and what to do."""
    missing = "without a miss" if plan.misses == 0 else f"with at most {plan.misses} missing"
    return (
        f"How many: {plan.tests} tests {missing} show that {share(plan.content)} of all meet a "
        "limit.",
        f"How sure: with {share(plan.confidence)} confidence, whatever the law, if the tests are "
        "drawn at random from all.",
        "What to do: state the limit and the number of tests beforehand, and count every miss. "
        "Take the tests from several lots: they show nothing of lots that are not among them.",
    )


def fit_warnings(fits: Sequence[QuantityFit]) -> tuple[str, ...]:
    """Return what a reader must not miss."""
    found: dict[str, None] = {}
    for each in fits:
        measured = each.measured
        for group in each.groups:
            parts = ", ".join(f"{word} {count}" for word, count in group.counts.items())
            found[f"Tests of several groups are fitted as one: {group.column} ({parts})."] = None
        if measured.left_out:
            tests = "1 test has" if measured.left_out == 1 else f"{measured.left_out} tests have"
            found[
                f"{tests} no value of {measured.name} and are left out. Why they have none may "
                "matter: tests that broke or went off the scale are the far ones."
            ] = None
        if each.nothing_fits:
            found[
                f"No law fits {measured.name}: every p-value is below {ODD:g}; limits by law "
                "are not to be relied on."
            ] = None
        if each.lots is not None and each.lots.p_value < ODD:
            found[
                f"Lots differ in {measured.name}: limits and intervals count each test as "
                "independent of the others, and are too narrow."
            ] = None
        if each.chosen.unlikely and not each.nothing_fits:
            found[f"The tests speak against a {each.chosen.law} law of {measured.name}."] = None
    return tuple(found)


def share(value: float) -> str:
    """Return a share in per cent.

    Examples
    --------
    >>> share(0.99), share(0.99999)
    ('99 %', '99.999 %')
    """
    return f"{100.0 * value:.10g} %"


def share_below(value: float) -> str:
    """Return a share in per cent, cut off so that it claims no more.

    Examples
    --------
    >>> share_below(0.98999), share_below(0.999996)
    ('98.9 %', '99.9996 %')
    """
    left = 1.0 - value
    digits = 1
    while digits < 9 and left < 10.0 ** -(digits + 1):
        digits += 1
    scale = 10.0**digits
    return f"{int(100.0 * value * scale + 1e-9) / scale:.10g} %"


def p_words(p_value: float) -> str:
    """Return a p-value.

    Examples
    --------
    >>> p_words(0.0321), p_words(0.0)
    ('p = 0.032', 'p < 0.001')
    """
    return "p < 0.001" if p_value < 0.001 else f"p = {format_number(p_value, 2)}"


def has_cov(measured: Measured) -> bool:
    """Return whether a scatter is told as a share of the mean."""
    return (
        measured.dimension is not TEMPERATURE
        and measured.unit != "%"
        and float(measured.values.mean()) > 0.0
    )


def spread_of(measured: Measured, mean: float, sd: float) -> str:
    """Return the scatter of a law: as a share of the mean, or as an s.d. with its unit."""
    if has_cov(measured):
        return f"cov {format_number(100.0 * sd / mean, 3)} %"
    unit = measured.unit.replace("deg", "°") if measured.dimension is TEMPERATURE else measured.unit
    return f"s.d. {format_number(measured.width(sd), 3)} {unit}".rstrip()


def _joined(parts: Iterable[str]) -> str:
    words = list(parts)
    more = f"; and {len(words) - _NAMED} more" if len(words) > _NAMED else ""
    return f"{'; '.join(words[:_NAMED])}{more}"


def _short_law(fit: QuantityFit) -> str:
    measured, law = fit.measured, fit.chosen.fit.law
    doubt = " (no law fits)" if fit.nothing_fits else ""
    return f"{measured.name} {law.kind}{doubt}"


def _sure_of_many(fits: Sequence[QuantityFit]) -> str:
    """Return how many tests stand behind the laws, and where their limits are."""
    fewest, most = min(each.measured.n for each in fits), max(each.measured.n for each in fits)
    tests = f"{most} tests" if fewest == most else f"{fewest} to {most} tests"
    return f"{tests} of each; the limits of each hold if its law does"


def _law_words(fit: QuantityFit) -> str:
    measured, law = fit.measured, fit.chosen.fit.law
    words = (
        f"{measured.name} {law.kind}, mean {measured.words(law.mean, 4)}, "
        f"{spread_of(measured, law.mean, law.sd)}"
    )
    if not fit.tells_laws:
        return f"{words} (too few tests to tell laws apart)"
    if fit.nothing_fits:
        return f"{words} (no law fits)"
    if fit.chosen.unlikely:
        return f"{words} (the tests speak against it)"
    if fit.alike:
        return f"{words} ({and_words(fit.alike)} not ruled out)"
    return f"{words} (the tests speak against the others)"


def _sure_words(fit: QuantityFit) -> str:
    if fit.claims:
        return "; ".join(claim_words(fit, claim) for claim in fit.claims)
    measured, limits = fit.measured, fit.limits
    low, high = (measured.words(each) for each in (limits.lower, limits.upper))
    return (
        f"hardly a value lies below {low} or above {high}, with confidence, if the law of "
        f"{measured.name} holds"
    )


def claim_words(fit: QuantityFit, claim: ShownClaim) -> str:
    """Return whether the tests show a claim, by law and whatever the law."""
    side = "at least" if claim.is_least else "at most"
    what = f"that {share(claim.content)} are {side} {fit.measured.words(claim.limit, 4)}"
    by_law = f"by the {fit.chosen.law} law"
    by_count = "whatever the law"
    if claim.shown_by_law and claim.shown_by_count:
        return f"{what} is shown {by_law} and {by_count}"
    if claim.shown_by_law:
        others = [f"by {and_words(claim.not_by)}, possible too,"] if claim.not_by else []
        return f"{what} is shown {by_law}, but not {' or '.join([*others, by_count])}"
    if claim.shown_by_count:
        return f"{what} is shown {by_count}, but not {by_law}"
    return f"{what} is not shown, neither {by_law} nor {by_count}"


def _to_do(fits: Sequence[QuantityFit], lot: str | None, wants_case: bool) -> str:
    """Return the first things to do, the most urgent first."""
    found: dict[str, None] = {}
    if wants_case:
        found["give thread and bearing diameter by --case CASE, for frictions and nut factor"] = (
            None
        )
    for each in fits:
        for claim in each.claims:
            found[_claim_to_do(each, claim)] = None
    for look in (_mixed, _misfit, _drifting, _far_out, _few):
        found |= dict.fromkeys(filter(None, map(look, fits)))
    if lot is None:
        found["say by a column for --lot which lot each test is of; one lot tells of no other"] = (
            None
        )
    else:
        found |= dict.fromkeys(filter(None, map(_lots, fits)))
    if not found:
        found["take this law, as the lines for a case file give it"] = None
    return "; ".join(list(found)[:_TO_DO])


def _claim_to_do(fit: QuantityFit, claim: ShownClaim) -> str:
    if claim.shown_by_count:
        return "the claim may be made for the lots that these tests are drawn from"
    further = " without a further miss" if claim.misses else " without a miss"
    by_count = f"{claim.required_by_count - fit.measured.n} more tests{further}"
    if claim.shown_by_law:
        doubt = "the claim rests on the law"
        if claim.not_by:
            doubt = f"make no claim: {and_words(claim.not_by)} is possible too and does not show it"
        return f"{doubt}; {by_count} would show it whatever the law"
    if claim.required_by_law is not None:
        return (
            f"test {claim.required_by_law - fit.measured.n} more, which show it by the law if they "
            f"come out like these (an even chance); {by_count} would show it whatever the law"
        )
    if claim.distance is None:
        return f"{by_count} would show it whatever the law"
    return (
        f"change process or limit: no number of tests shows it by the law, as the limit lies "
        f"{claim.distance:.2g} s.d. from the mean and {share(claim.content)} asks for more than "
        f"{float(ndtri(claim.content)):.3g}"
    )


def differs(group: Group) -> bool:
    """Return whether the tests of groups differ more than chance lets them."""
    return group.difference is not None and group.difference.p_value < ODD


def _mixed(fit: QuantityFit) -> str:
    for group in fit.groups:
        if differs(group) and group.difference is not None:
            first = next(iter(group.counts))
            return (
                f"fit each {group.column} by itself, as --where '{group.column}={first}': they "
                "differ"
            )
    return ""


def _misfit(fit: QuantityFit) -> str:
    if not fit.nothing_fits:
        return ""
    return f"look at the plot of {fit.measured.name}: no law fits, so the tests may be a mixture"


def _drifting(fit: QuantityFit) -> str:
    if fit.drift is None or fit.drift.p_value >= ODD:
        return ""
    way = "rises" if fit.drift.rank_correlation > 0.0 else "falls"
    return f"find out why {fit.measured.name} {way} from test to test"


def _far_out(fit: QuantityFit) -> str:
    far = fit.farthest
    if far is None or far.p_value >= ODD:
        return ""
    measured = fit.measured
    return (
        f"check the test in line {measured.lines[far.index]} ({measured.name} "
        f"{measured.words(far.value)}); leave it out only for a reason found"
    )


def _few(fit: QuantityFit) -> str:
    n, limits = fit.measured.n, fit.limits
    if fit.tells_laws:
        return ""
    now, then = (
        one_sided_factor(count, limits.content, limits.confidence) for count in (n, _ENOUGH_TESTS)
    )
    return (
        f"test more: with {n} tests a normal limit lies {now / then:.2g} times as far from the "
        f"mean as with {_ENOUGH_TESTS}"
    )


def _lots(fit: QuantityFit) -> str:
    count = len(set(fit.measured.lots or ()))
    lots = "1 lot says" if count == 1 else f"{count} lots say"
    few = f"{lots} little of how far lots differ" if count < FEW_LOTS else ""
    if fit.lots is not None and fit.lots.p_value < ODD:
        words = f"test more lots: they differ in {fit.measured.name}"
        return f"{words}, and {few}" if few else words
    return f"test more lots: {few}" if few else ""


def far_words(fit: QuantityFit) -> str:
    """Return what the farthest value decides, of three tests or more."""
    measured, far = fit.measured, fit.farthest
    assert far is not None, "there are three tests or more"
    quantiles = " and ".join(
        f"{share(p)} from {measured.words(with_it)} to {measured.words(without)}"
        for p, with_it, without in zip(
            FAR_SHARES, far.quantiles, far.quantiles_without, strict=True
        )
    )
    return (
        f"Farthest: line {measured.lines[far.index]}, {measured.words(far.value)} "
        f"({p_words(far.p_value)}); without it the quantiles move: {quantiles}."
    )
