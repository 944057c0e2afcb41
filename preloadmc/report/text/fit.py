"""The text report of a fit: laws, limits, what is odd, and the lines for a case."""

from __future__ import annotations

import numpy as np

from preloadmc.chance.fitting import OF_LOGARITHMS
from preloadmc.chance.oddities import FAR_SHARES
from preloadmc.judgement.wording import round_to_interval
from preloadmc.questions.fit import (
    AICC_APART,
    FEWEST_TO_TELL,
    ODD,
    POOR_FIT,
    ClaimPlan,
    FitResult,
    QuantityFit,
    case_lines,
    far_words,
    p_words,
    plan_answer,
    share,
    share_below,
)
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Points,
    Report,
    Section,
    Table,
    Verbatim,
    render_text,
)
from preloadmc.report.text.cautions import CAUTIONS
from preloadmc.units import format_number

_WHAT_THEY_MEAN = (
    "p of a law: how often tests of that law lie as far from it, by Anderson and Darling's "
    f"distance A² over 999 drawn series, each fitted anew. A law with p below {POOR_FIT:g}, or "
    f"more than {AICC_APART:g} behind the best in AICc, is called unlikely, from {FEWEST_TO_TELL} "
    "tests on. A law that is possible is not shown: its far quantiles rest on its form. p of lots, "
    f"drift and a far value: how often chance alone does as much; below {ODD:g} it is called odd. "
    "Limits by law are exact for a normal or lognormal law, simulated for others; those whatever "
    "the law are values of the tests themselves.",
    "Intervals and limits say what this number of tests leaves open, if the tests are a random "
    "sample of what will be used. They say nothing of lots, sizes or lubricants that were not "
    "tested.",
)


def fit_text(result: FitResult) -> str:
    """Return the report of a fit as text: the answer first, then each quantity."""
    return render_text(fit_report(result))


def fit_report(result: FitResult) -> Report:
    """Return the report of a fit as blocks."""
    return Report(
        fit_title(result),
        (
            *(section for each in result.quantities for section in _sections(result, each)),
            *_paired(result),
            *_not_fitted(result),
            Section("What these numbers mean", tuple(map(Paragraph, _WHAT_THEY_MEAN))),
            Section("Cautions:", (Points(CAUTIONS),), titled=True),
        ),
        answer=result.answer,
        warnings=result.warnings,
    )


def plan_text(plan: ClaimPlan) -> str:
    """Return how many tests a claim takes, whatever the law and by a normal law."""
    counts = [(f"{misses}", f"{tests:,}") for misses, tests in plan.by_count.items()]
    rows = [
        (format_number(distance), "none shows it" if tests is None else f"{tests:,}")
        for distance, tests in plan.by_law.items()
    ]
    words = (
        "If the values follow a normal law, or their logarithms do, fewer tests may show it: mean "
        "and s.d. then say where the limit lies. An even chance, since further tests scatter too."
    )
    header = ("limit from the mean [s.d.]", "tests by a normal law")
    sections = (
        Section("By count", (Table(("misses among the tests", "tests"), tuple(counts)),)),
        Section("By law", (Table(header, tuple(rows)), Paragraph(words, hangs=True))),
        Section("Cautions:", (Points(CAUTIONS),), titled=True),
    )
    return render_text(Report("", sections, answer=plan_answer(plan)))


def fit_title(result: FitResult) -> str:
    """Return the file with the rows taken from it."""
    where = ", ".join(f"{key} = {value}" for key, value in result.question.where.items())
    return f"{result.file.name}{f', {where}' if where else ''}"


def _sections(result: FitResult, fit: QuantityFit) -> tuple[Section, ...]:
    """Return what the tests say of one quantity."""
    name = fit.measured.name
    odd: list[Block] = [_lot_table(fit)] if fit.table is not None else []
    points = _odd_points(fit)
    odd += [Points(points)] if points else []
    return (
        Section(name, (_moments(fit), *_source(fit))),
        Section(f"Laws of {name}", (_laws(fit),)),
        Section(f"Limits of {name}", (_limits(fit), *_claims(fit))),
        Section(f"Lots and oddities of {name}", tuple(odd)),
        Section(f"For a case file, {name}:", (Verbatim(case_lines(result, fit)),), titled=True),
    )


def _unit(fit: QuantityFit) -> str:
    unit = fit.measured.unit
    return f" [{unit}]" if unit else ""


def _moments(fit: QuantityFit) -> Table:
    measured, moments = fit.measured, fit.moments
    rows: list[tuple[str, ...]] = []
    means = (moments.mean, moments.mean_low, moments.mean_high)
    sds = (moments.sd, moments.sd_low, moments.sd_high)
    rows.append(("mean", *round_to_interval(*map(measured.number, means))))
    rows.append(("s.d.", *(format_number(measured.width(each), 3) for each in sds)))
    header = (
        f"{measured.name}{_unit(fit)}, {measured.n} tests",
        "found",
        f"{share(moments.confidence)} from",
        "to",
    )
    if fit.capability is not None:
        c = fit.capability
        rows.append(("Cm within the tolerance", *round_to_interval(c.cm, c.cm_low, c.cm_high)))
        rows.append(("Cmk within the tolerance", *round_to_interval(c.cmk, c.cmk_low, c.cmk_high)))
    return Table(header, tuple(rows))


def _source(fit: QuantityFit) -> tuple[Block, ...]:
    source = fit.measured.source
    return (Paragraph(f"{source[:1].upper()}{source[1:]}.", hangs=True),) if source else ()


def _laws(fit: QuantityFit) -> Table:
    measured = fit.measured
    best = fit.laws[0].fit.aicc
    rows = []
    for each in fit.laws:
        low, high = (measured.words(each.fit.law.quantile(p)) for p in FAR_SHARES)
        behind = each.fit.aicc - best
        rows.append(
            (
                f"{each.law}{', taken' if each is fit.chosen else ''}",
                "unlikely" if each.unlikely else "possible",
                f"{each.distance:.2f}",
                f"{each.p_value:.3f}",
                f"{behind:.1f}" if np.isfinite(behind) else "",
                low,
                high,
            )
        )
    header = (f"law of {measured.name}", "", "A²", "p", "AICc behind", *map(share, FAR_SHARES))
    return Table(header, tuple(rows), words=2)


def _limits(fit: QuantityFit) -> Table:
    measured, limits, free = fit.measured, fit.limits, fit.limits_by_count
    both = " to ".join(measured.words(each) for each in limits.two_sided)
    one = f"takes {free.tests_one_sided:,} tests"
    free_both = (
        f"takes {free.tests_two_sided:,}"
        if free.two_sided is None
        else " to ".join(measured.words(each) for each in free.two_sided)
    )
    rows = (
        (
            f"if the {fit.chosen.law} law holds",
            measured.words(limits.lower),
            measured.words(limits.upper),
            both,
        ),
        (
            "whatever the law",
            one if free.lower is None else measured.words(free.lower),
            "" if free.upper is None else measured.words(free.upper),
            free_both,
        ),
    )
    what = f"{share(limits.content)} of all, {share(limits.confidence)} confidence"
    return Table((what, "above", "below", "within"), rows)


def _claims(fit: QuantityFit) -> tuple[Block, ...]:
    found = []
    for claim in fit.claims:
        side = "At least" if claim.is_least else "At most"
        laws = {fit.chosen.law: claim.by_law, **claim.by_other_laws}
        shown = ", ".join(f"{share_below(each)} if {kind}" for kind, each in laws.items())
        found.append(
            Paragraph(
                f"{side} {fit.measured.words(claim.limit, 4)}: {claim.misses} of "
                f"{fit.measured.n} tests miss it. They show with {share(claim.confidence)} "
                f"confidence that it holds for {share_below(claim.by_count)} of all whatever the "
                f"law; {shown}.",
                hangs=True,
            )
        )
    return tuple(found)


def _lot_table(fit: QuantityFit) -> Table:
    measured, table = fit.measured, fit.table
    assert table is not None
    lots = np.array(measured.lots)
    rows = []
    for lot, size in zip(table.lots, table.sizes, strict=True):
        values = measured.values[lots == lot]
        spread = format_number(measured.width(float(values.std(ddof=1))), 3) if size > 1 else ""
        rows.append((lot, str(size), measured.words(float(values.mean()), 4), spread))
    return Table(("lot", "tests", f"mean{_unit(fit)}", f"s.d.{_unit(fit)}"), tuple(rows))


def _odd_points(fit: QuantityFit) -> tuple[str, ...]:
    measured = fit.measured
    points = []
    if fit.lots is not None and fit.table is not None:
        of_logs = fit.chosen.law in OF_LOGARITHMS
        between, within = (
            f"{100.0 * sd:.2g} %" if of_logs else format_number(measured.width(sd), 2)
            for sd in (fit.lots.sd_between, fit.lots.sd_within)
        )
        unit = "" if of_logs or not measured.unit else f" {measured.unit}"
        points.append(
            f"{_odd(fit.lots.p_value)}Lots: s.d. {between}{unit} between and {within}{unit} within "
            f"{len(fit.table.lots)} lots ({p_words(fit.lots.p_value)} for lots that are alike)."
        )
    for group in fit.groups:
        parts = ", ".join(f"{word} {count}" for word, count in group.counts.items())
        words = f"Groups by {group.column}: {parts}"
        if group.difference is None:
            points.append(f"{words}.")
        else:
            p_value = group.difference.p_value
            points.append(f"{_odd(p_value)}{words} ({p_words(p_value)} for groups that are alike).")
    if fit.drift is not None:
        points.append(
            f"{_odd(fit.drift.p_value)}Drift over the order of the tests: rank correlation "
            f"{fit.drift.rank_correlation:+.2f} ({p_words(fit.drift.p_value)})."
        )
    if fit.farthest is not None:
        points.append(f"{_odd(fit.farthest.p_value)}{far_words(fit)}")
    return tuple(points)


def _odd(p_value: float) -> str:
    return "Odd. " if p_value < ODD else ""


def _paired(result: FitResult) -> tuple[Section, ...]:
    """Return the correlation of both frictions, with its line for a case."""
    paired = result.friction_correlation
    if paired is None:
        return ()
    value, low, high = round_to_interval(paired.value, paired.low, paired.high)
    words = (
        f"Thread and bearing friction of the same {paired.n} tests: correlation {value} ({low} to "
        f"{high}) of their logarithms. Thread and bearing go into a case together; total friction "
        "or nut factor stand in place of both."
    )
    line = Verbatim(f"correlation = {value}" if paired.low > 0.0 or paired.high < 0.0 else "")
    blocks: tuple[Block, ...] = (Paragraph(words), line) if line.text else (Paragraph(words),)
    return (Section("Thread and bearing friction together", blocks),)


def _not_fitted(result: FitResult) -> tuple[Section, ...]:
    points = [f"Not fitted: {name}: {why}." for name, why in result.not_fitted]
    return (Section("Not fitted", (Points(tuple(points)),)),) if points else ()
