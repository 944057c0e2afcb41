"""The text report of a ranking."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from preloadmc.case import Case
from preloadmc.estimates.order import Order
from preloadmc.estimates.sobol import SobolIndices
from preloadmc.judgement.dominates import SIDE_WORDS
from preloadmc.judgement.misses import MissRanking, Unranked
from preloadmc.judgement.wording import round_to_interval, share_words
from preloadmc.questions.rank import RankResult
from preloadmc.report.text.blocks import Block, Paragraph, Report, Section, Table, render_text
from preloadmc.report.text.case import caution_section
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.laws import value_words
from preloadmc.report.text.likeliest import WORTH_NAMING

# Inputs with smaller shares than this are in no order that matters.
SMALL = 0.01
TENFOLD = 10.0
# What comes out below is the noise of rounding; further decimals tell nobody anything.
MOST_DECIMALS = 4
LEAST_PRINTED = 0.5 * 10.0**-MOST_DECIMALS
MISSES_EXPLAINED = (
    "Share: divergence of an input's law given such a miss from its own law, as a part of the sum. "
    "Shift and width: mean and s.d. of the input's normal in such a miss, 0 and 1 without. Cosine: "
    "of the angle between the way to the likeliest miss and the input's own normal. Effective "
    "misses: effective sample size of the misses."
)

_RESIDUAL = {
    "residual preload": ("Residual preload: what is left in the state that leaves least.",)
}


def rank_text(result: RankResult, system: str = "metric", seconds: float | None = None) -> str:
    """Return the report of a ranking as text: the answer first, then the tables."""
    return render_text(rank_report(result, system, seconds))


def rank_report(result: RankResult, system: str = "metric", seconds: float | None = None) -> Report:
    """Return the report of a ranking as blocks; ``seconds`` is what it took, if shown."""
    return Report(
        result.case.title,
        (
            *ranking_sections(result),
            *miss_sections(result.misses.values(), result.case, system),
            *_convergence(result.convergence),
            Section("Cost", (Paragraph(_cost_words(result, seconds)),)),
            Section("Accuracy", (Paragraph(INTERVALS),)),
            caution_section(),
        ),
        answer=result.answer,
        warnings=result.warnings,
    )


def ranking_sections(result: RankResult) -> tuple[Section, ...]:
    """Return the shares of the variance, and what is not settled of their order."""
    indices, shapley = result.indices, result.shapley
    alone = {each.members: place for place, each in enumerate(result.ranked)}
    rows = []
    for place in result.order:
        members = result.members[place]
        at = alone.get(members)
        first = _percent(indices.first[place], indices.first_high[place])
        total = _percent(indices.total[place], indices.total_high[place])
        rows.append((indices.names[place], first, total, "" if at is None else _share(result, at)))
        if at is None:
            rows += [
                (f"- {shapley.names[inside]}", "", "", _share(result, inside))
                for inside in shapley.ordering.places
                if set(result.ranked[inside].members) <= set(members)
            ]
    header = (f"variance of the {result.quantity}", "first [%]", "total [%]", "Shapley share [%]")
    notes = [
        *_RESIDUAL.get(result.quantity, ()),
        f"Sobol' indices: {_designs(indices)}, {indices.model_calls:,} model calls. Shapley "
        f"shares: {shapley.samples:,} random orders and their reverses, {shapley.model_calls:,} "
        "model calls. 95 % intervals from the scatter between independent designs, seed "
        f"{result.seed}.",
        _settled_words(indices),
    ]
    if len(result.members) < len(result.ranked):
        notes.insert(
            0,
            "Correlated inputs have one index together, since a part of the variance belongs to "
            "none of them alone; the Shapley share divides it, the same for any order.",
        )
    shares = Section(
        "What dominates the variance",
        (Table(header, tuple(rows)), *(Paragraph(note, hangs=True) for note in notes if note)),
    )
    return (shares, Section("Inputs acting together", _pairs(indices)))


def _designs(indices: SobolIndices) -> str:
    return f"{indices.replicates} designs of {indices.base_samples:,} base samples"


def _share(result: RankResult, place: int) -> str:
    return _percent(result.shapley.share[place], result.shapley.high[place])


def _percent(value: float, high: float) -> str:
    return plus_minus(100.0 * float(value), 100.0 * float(high - value))


def plus_minus(value: float, half: float, sign: str = "") -> str:
    """Return a value with the half width of its interval, in the digits that this supports.

    Examples
    --------
    >>> plus_minus(48.93, 0.82), plus_minus(1.838, 0.0163, "+"), plus_minus(97.0, 12.0)
    ('48.9 ± 0.8', '+1.838 ± 0.016', '97 ± 12')
    >>> plus_minus(3e-19, 2e-19)
    '0 ± 0'
    """
    if max(abs(value), half) < LEAST_PRINTED:
        return "0 ± 0"
    words, *_ = round_to_interval(value, value - half, value + half)
    digits = min(len(words.partition(".")[2]), MOST_DECIMALS)
    plus = sign if float(words) > 0.0 else ""
    return f"{plus}{float(words) + 0.0:.{digits}f} ± {half:.{digits}f}"


def _settled_words(indices: SobolIndices) -> str:
    order = indices.ordering
    leading = order.unsettled(leading=3)
    if not leading:
        names = [indices.names[place] for place in order.places[:3]]
        return f"The order is settled: {', then '.join(names)}." if len(names) > 1 else ""
    words = [
        f"{indices.names[a]} and {indices.names[b]} (their total indices differ by "
        f"{_points(order, a, b)})"
        for a, b in leading
    ]
    return f"NOT SETTLED after {_designs(indices)}: the order of {' and that of '.join(words)}."


def _points(order: Order, a: int, b: int) -> str:
    gap = 100.0 * float(order.values[a] - order.values[b])
    return f"{plus_minus(gap, 100.0 * order.half_width(a, b))} points"


def _pairs(indices: SobolIndices) -> tuple[Block, ...]:
    pairs = sorted(indices.pairs, key=lambda pair: -pair.second)
    resolved = [pair for pair in pairs if pair.low > 0.0]
    rows = tuple(
        (f"{pair.names[0]} and {pair.names[1]}", share_words(pair.second, pair.low, pair.high))
        for pair in resolved
    )
    table = (Table(("acting together", "second index"), rows),) if rows else ()
    rest = len(pairs) - len(resolved)
    if not rest:
        return table
    words = f"{rest} of {len(pairs)} pairs: no effect together that is told from 0."
    return (*table, Paragraph(words))


def miss_sections(
    rankings: Iterable[MissRanking | Unranked], case: Case, system: str
) -> tuple[Section, ...]:
    """Return what dominates the misses, side by side, and what the numbers mean."""
    rankings = list(rankings)
    found = [_misses(ranking, case, system) for ranking in rankings]
    if not any(isinstance(ranking, MissRanking) for ranking in rankings):
        return tuple(found)
    words = MISSES_EXPLAINED
    if case.correlations:
        words += " Correlated inputs share this effect."
    return (*found, Section("What these numbers mean", (Paragraph(words),)))


def _misses(found: MissRanking | Unranked, case: Case, system: str) -> Section:
    """Return what dominates the misses of one side as a table."""
    words = SIDE_WORDS[found.outcome]
    title = f"What dominates {words}"
    if isinstance(found, Unranked):
        return Section(title, (Paragraph(f"{words}: {found.reason}."),))
    shares = found.shares
    rows = []
    for place in found.order:
        cosine = found.cosines[place]
        mean, sd = float(shares.mean[place]), float(shares.sd[place])
        alone = len(found.ranked[place].members) == 1
        half = 100.0 * found.shares.ordering.half(place)
        rows.append(
            (
                shares.names[place],
                plus_minus(100.0 * float(shares.share[place]), half),
                plus_minus(mean, float(shares.mean_high[place]) - mean, "+") if alone else "",
                plus_minus(sd, float(shares.sd_high[place]) - sd) if alone else "",
                "" if cosine is None else f"{cosine:+.2f}",
            )
        )
    header = (words, "share [%]", "shift [s.d.]", "width [s.d.]", "cosine")
    notes = [f"From {shares.effective_size:,.0f} effective misses."]
    typical = [
        f"{shares.names[place]} {_typical(case, found, place, system)}"
        for place in found.order
        if len(found.ranked[place].members) == 1 and abs(shares.mean[place]) >= WORTH_NAMING
    ]
    if typical:
        notes.insert(0, f"A typical such joint: {', '.join(typical)}.")
    hanging = (Paragraph(note, hangs=True) for note in notes)
    return Section(title, (Table(header, tuple(rows)), *hanging))


def _typical(case: Case, found: MissRanking, place: int, system: str) -> str:
    """Return the value of an input where its normal has its mean given a miss."""
    (name,) = found.ranked[place].members
    value = case.laws[name].from_normal(found.shares.mean[place : place + 1])
    return value_words(name, float(value[0]), system)


def _convergence(parts: Sequence[SobolIndices]) -> tuple[Section, ...]:
    """Return the total indices of the leading inputs as the designs grow, where asked for."""
    if not parts:
        return ()
    last = parts[-1]
    leading = last.ordering.places[:3]
    rows = tuple(
        (
            f"{part.base_samples:,}",
            *(_percent(part.total[place], part.total_high[place]) for place in leading),
        )
        for part in parts
    )
    header = ("base samples", *(_short(last.names[place]) for place in leading))
    return (Section("Total index [%] as the designs grow:", (Table(header, rows),), titled=True),)


def _short(name: str) -> str:
    return name if len(name) <= 20 else f"{name[:19]}…"


def _cost_words(result: RankResult, seconds: float | None) -> str:
    """Return what the ranking cost and what ten times as much would settle."""
    cost = f"Cost: {result.all_model_calls:,} model calls"
    if seconds is not None:
        cost += f", {seconds:.1f} s"
    now, later = [], []
    for words, names, order in _orders(result):
        open_now = _worth_settling(order, order.unsettled())
        open_later = _worth_settling(order, order.unsettled(effort=TENFOLD))
        later += [f"{names[a]} and {names[b]} ({words})" for a, b in open_later]
        now += [
            f"{names[a]} and {names[b]} ({words})" for a, b in open_now if (a, b) not in open_later
        ]
    text = f"{cost}. Tenfold would narrow each interval to about a third"
    if not now and not later:
        return f"{text}; the ranking is already resolved."
    text += ". If the estimates stayed, it would "
    text += f"settle the order of {'; '.join(now)}" if now else "settle no order that is open now"
    if later:
        text += f"; these would stay unresolved: {'; '.join(later)}"
    return f"{text}."


def _orders(result: RankResult) -> list[tuple[str, tuple[str, ...], Order]]:
    found = [("variance", result.shapley.names, result.shapley.ordering)]
    for outcome, ranking in result.misses.items():
        if isinstance(ranking, MissRanking):
            found.append((SIDE_WORDS[outcome], ranking.shares.names, ranking.shares.ordering))
    return found


def _worth_settling(order: Order, pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the pairs of which the larger is not small."""
    return [(a, b) for a, b in pairs if math.isfinite(order.values[a]) and order.values[a] > SMALL]
