"""What dominates, in plain words: the variance, being too loose, being too tight."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.estimates.shapley import ShapleyShares
from preloadmc.judgement.misses import MissRanking, Unranked
from preloadmc.units import Array

SIDE_WORDS = {"under_preload": "being too loose", "over_preload": "being too tight"}
# What a reader can act on (engineering judgement): the leading inputs are named until they make
# this much together, and no more than so many.
ENOUGH_TOGETHER = 0.75
MOST_NAMED = 3
# Shares that differ by less are alike for a reader, whatever their intervals.
WORTH_SAYING = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class SharedOut:
    """One of the rankings side by side: what is shared out, and the shares with intervals."""

    words: str
    names: tuple[str, ...]
    share: Array
    low: Array
    high: Array
    order: tuple[int, ...]


def shared_out(
    shapley: ShapleyShares, misses: Mapping[str, MissRanking | Unranked]
) -> tuple[SharedOut, ...]:
    """Return the rankings that there are: of the variance, of being under, of being over."""
    variance = SharedOut(
        "the variance",
        shapley.names,
        shapley.share,
        shapley.low,
        shapley.high,
        shapley.ordering.places,
    )
    ranked = [found for found in misses.values() if isinstance(found, MissRanking)]
    return variance, *(_of_misses(found) for found in ranked)


def _of_misses(found: MissRanking) -> SharedOut:
    shares = found.shares
    return SharedOut(
        SIDE_WORDS[found.outcome],
        shares.names,
        shares.share,
        shares.share_low,
        shares.share_high,
        found.order,
    )


def misses_words(misses: Mapping[str, MissRanking | Unranked]) -> str:
    """Return what dominates being too loose and being too tight, as one sentence."""
    reasons = {found.reason if isinstance(found, Unranked) else "" for found in misses.values()}
    if len(reasons) == 1 and all(reasons):
        return f"{reasons.pop()}."
    parts = []
    for outcome, found in misses.items():
        if isinstance(found, Unranked):
            parts.append(f"{SIDE_WORDS[outcome]}: {found.reason}")
        else:
            parts.append(f"{SIDE_WORDS[outcome]}: {_leading_words(_of_misses(found), figures=1)}")
    return f"{'; '.join(parts)}."


def rank_answer(
    quantity: str, shapley: ShapleyShares, misses: Mapping[str, MissRanking | Unranked]
) -> tuple[str, str, str]:
    """Return what dominates the variance, the misses, and where that differs: three lines."""
    rankings = shared_out(shapley, misses)
    return (
        f"What dominates the variance of the {quantity}: {_leading_words(rankings[0], figures=2)}.",
        f"What dominates the misses: {misses_words(misses)}",
        f"Where they differ: {differences_words(rankings)}",
    )


def _leading_words(ranking: SharedOut, figures: int) -> str:
    """Return the leading inputs, the first ``figures`` of them with their shares."""
    words: list[str] = []
    together = 0.0
    for place in ranking.order[:MOST_NAMED]:
        if words and (together >= ENOUGH_TOGETHER or ranking.share[place] < WORTH_SAYING):
            break
        together += float(ranking.share[place])
        told = f" {100 * ranking.share[place]:.0f} %" if len(words) < figures else ""
        words.append(f"{ranking.names[place]}{told}")
    return ", then ".join(words)


def differences_words(rankings: Sequence[SharedOut]) -> str:
    """Return of which input the rankings differ most, beyond what sampling explains."""
    if len(rankings) == 1:
        return "there is one ranking only."
    gaps = sorted(_resolved_gaps(rankings), reverse=True)
    if not gaps:
        return (
            f"nowhere by more than sampling error and {100 * WORTH_SAYING:.0f} points; "
            "the rankings agree."
        )
    _, place = gaps[0]
    by_share = sorted(rankings, key=lambda each: -float(each.share[place]))
    most, least = (
        f"{100 * each.share[place]:.0f} % of {each.words}" for each in (by_share[0], by_share[-1])
    )
    return f"{rankings[0].names[place]} makes {most}, but {least}."


def _resolved_gaps(rankings: Sequence[SharedOut]) -> Iterator[tuple[float, int]]:
    """Yield how far apart the shares of an input are, and its place, where that is resolved."""
    for place in range(len(rankings[0].names)):
        shares = [float(ranking.share[place]) for ranking in rankings]
        most, least = rankings[int(np.argmax(shares))], rankings[int(np.argmin(shares))]
        gap = max(shares) - min(shares)
        if gap >= WORTH_SAYING and most.low[place] > least.high[place]:
            yield gap, place
