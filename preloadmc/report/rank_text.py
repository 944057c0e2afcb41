"""The text report of a ranking."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from preloadmc.case import Case
from preloadmc.estimates.order import Order
from preloadmc.estimates.sobol import SobolIndices
from preloadmc.questions.dominates import SIDE_WORDS
from preloadmc.questions.misses import MissRanking, Unranked
from preloadmc.questions.rank import RankResult
from preloadmc.questions.wording import round_to_interval, share_words
from preloadmc.report.case_text import caution_lines
from preloadmc.report.cautions import INTERVALS
from preloadmc.report.laws import value_words
from preloadmc.report.tables import aligned, paragraph

# A miss that moves an input by less, in its s.d., is not worth naming.
WORTH_NAMING = 0.2
# Inputs with smaller shares than this are in no order that matters.
SMALL = 0.01
TENFOLD = 10.0
MISSES_EXPLAINED = (
    "Share: divergence of an input's law given such a miss from its own law, as a part of the sum. "
    "Shift and width: mean and s.d. of the input's normal in such a miss, 0 and 1 without. Cosine: "
    "of the likeliest miss with the input's normal."
)


def rank_text(result: RankResult, system: str = "metric", seconds: float | None = None) -> str:
    """Return the report of a ranking as text: the answer first, then the tables."""
    lines = [
        *result.answer,
        "",
        *paragraph(result.case.title),
        "",
        *ranking_lines(result),
        "",
        *misses_lines(result.misses.values(), result.case, system),
        *(_convergence_lines(result.convergence) if result.convergence else ()),
        *_cost_lines(result, seconds),
        "",
        *paragraph(INTERVALS),
        "",
        *caution_lines(),
    ]
    return "\n".join(lines) + "\n"


def ranking_lines(result: RankResult) -> list[str]:
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
    lines = aligned(header, rows)
    if len(result.members) < len(result.ranked):
        lines += paragraph(
            "Correlated inputs have one index together, since a part of the variance belongs to "
            "none of them alone; the Shapley share divides it, the same for any order.",
            "  ",
        )
    lines += paragraph(
        f"Sobol' indices: {indices.base_samples:,} base samples, {_designs(indices.replicates)}, "
        f"{indices.model_calls:,} model calls. Shapley shares: {shapley.samples:,} random orders "
        f"and their reverses, {shapley.model_calls:,} model calls. 95 % intervals, seed "
        f"{result.seed}.",
        "  ",
    )
    lines += paragraph(_settled_words(indices), "  ")
    if indices.pairs:
        lines += ["", *_pair_lines(indices)]
    return lines


def _designs(count: int) -> str:
    return "1 design" if count == 1 else f"{count} designs"


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
    """
    words, *_ = round_to_interval(value, value - half, value + half)
    digits = len(words.partition(".")[2])
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
    return (
        f"NOT SETTLED after {_designs(indices.replicates)}: the order of "
        f"{' and that of '.join(words)}."
    )


def _points(order: Order, a: int, b: int) -> str:
    gap = 100.0 * float(order.values[a] - order.values[b])
    return f"{plus_minus(gap, 100.0 * order.half_width(a, b))} points"


def _pair_lines(indices: SobolIndices) -> list[str]:
    pairs = sorted(indices.pairs, key=lambda pair: -pair.value)
    resolved = [pair for pair in pairs if pair.low > 0.0]
    rows = [
        (f"{pair.names[0]} and {pair.names[1]}", share_words(pair.value, pair.low, pair.high))
        for pair in resolved
    ]
    lines = aligned(("acting together", "second index"), rows) if rows else []
    rest = len(pairs) - len(resolved)
    if rest:
        lines += paragraph(f"{rest} of {len(pairs)} pairs: no effect together that is told from 0.")
    return lines


def misses_lines(rankings: Iterable[MissRanking | Unranked], case: Case, system: str) -> list[str]:
    """Return what dominates the misses, side by side, and what the numbers mean."""
    rankings = list(rankings)
    lines = []
    for found in rankings:
        lines += [*_miss_lines(found, case, system), ""]
    if any(isinstance(found, MissRanking) for found in rankings):
        words = MISSES_EXPLAINED
        if case.correlations:
            words += " What a miss says of an input it says of those correlated with it too."
        lines += [*paragraph(words), ""]
    return lines


def _miss_lines(found: MissRanking | Unranked, case: Case, system: str) -> list[str]:
    """Return what dominates the misses of one side as a table."""
    words = SIDE_WORDS[found.outcome]
    if isinstance(found, Unranked):
        return paragraph(f"{words}: {found.reason}.")
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
    lines = aligned((words, "share [%]", "shift [s.d.]", "width [s.d.]", "cosine"), rows)
    typical = [
        f"{shares.names[place]} {_typical(case, found, place, system)}"
        for place in found.order
        if len(found.ranked[place].members) == 1 and abs(shares.mean[place]) >= WORTH_NAMING
    ]
    if typical:
        lines += paragraph(f"A typical such joint: {', '.join(typical)}.", "  ")
    lines += paragraph(f"From {shares.effective_size:,.0f} effective misses.", "  ")
    return lines


def _typical(case: Case, found: MissRanking, place: int, system: str) -> str:
    """Return the value of an input where its normal has its mean given a miss."""
    (name,) = found.ranked[place].members
    value = case.laws[name].from_normal(found.shares.mean[place : place + 1])
    return value_words(name, float(value[0]), system)


def _convergence_lines(parts: Sequence[SobolIndices]) -> list[str]:
    """Return the total indices of the leading inputs as the design grows."""
    last = parts[-1]
    leading = last.ordering.places[:3]
    rows = [
        (
            f"{part.base_samples:,}",
            *(_percent(part.total[place], part.total_high[place]) for place in leading),
        )
        for part in parts
    ]
    header = ("base samples", *(_short(last.names[place]) for place in leading))
    return ["Total index [%] as one design grows:", *aligned(header, rows), ""]


def _short(name: str) -> str:
    return name if len(name) <= 20 else f"{name[:19]}…"


def _cost_lines(result: RankResult, seconds: float | None) -> list[str]:
    """Return what the ranking cost and what ten times as much would settle."""
    cost = f"Cost: {result.model_calls:,} model calls"
    if seconds is not None:
        cost += f", {seconds:.1f} s"
    now, later = [], []
    for words, names, order in _orders(result):
        open_now = _worth(order, order.unsettled())
        open_later = _worth(order, order.unsettled(effort=TENFOLD))
        later += [f"{names[a]} and {names[b]} ({words})" for a, b in open_later]
        now += [
            f"{names[a]} and {names[b]} ({words})" for a, b in open_now if (a, b) not in open_later
        ]
    text = f"{cost}. Tenfold would narrow each interval to about a third"
    if not now and not later:
        return paragraph(f"{text}; every order that matters is settled already.")
    text += ". If the estimates stayed, it would "
    text += f"settle the order of {'; '.join(now)}" if now else "settle no order that is open now"
    if later:
        text += f"; still open would be {'; '.join(later)}"
    return paragraph(f"{text}.")


def _orders(result: RankResult) -> list[tuple[str, tuple[str, ...], Order]]:
    found = [("variance", result.shapley.names, result.shapley.ordering)]
    for outcome, ranking in result.misses.items():
        if isinstance(ranking, MissRanking):
            found.append((SIDE_WORDS[outcome], ranking.shares.names, ranking.shares.ordering))
    return found


def _worth(order: Order, pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the pairs of which the larger is not small."""
    return [(a, b) for a, b in pairs if math.isfinite(order.values[a]) and order.values[a] > SMALL]
