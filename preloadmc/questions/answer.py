"""The answer in three lines that a manager can read: how likely, what dominates, what to do."""

from __future__ import annotations

from preloadmc.questions.control import Control
from preloadmc.questions.outcomes import Outcome
from preloadmc.questions.rank import RankResult
from preloadmc.questions.wording import probability_words, share_words


def answer(
    outcomes: tuple[Outcome, ...], ranking: RankResult | None, control: Control | None
) -> tuple[str, str, str]:
    """Return the three lines."""
    return (
        f"How likely: {_how_likely(outcomes)}",
        f"What dominates: {_what_dominates(ranking)}",
        f"What to do: {_what_to_do(outcomes, ranking, control)}",
    )


def _how_likely(outcomes: tuple[Outcome, ...]) -> str:
    under, over, outside = (probability_words(outcome.probability) for outcome in outcomes)
    return (
        f"given these laws, {outside} of joints end outside the preload window; "
        f"too little preload: {under}, too much: {over}."
    )


def _what_dominates(ranking: RankResult | None) -> str:
    if ranking is None:
        return "nothing: the residual preload comes out alike in every joint."
    words = []
    for place in ranking.order[:2]:
        indices = ranking.indices
        share = share_words(
            indices.first[place], indices.first_low[place], indices.first_high[place]
        )
        words.append(f"{indices.names[place]} {share}")
    return f"{'; then '.join(words)} of the variance of the residual preload."


def _what_to_do(
    outcomes: tuple[Outcome, ...], ranking: RankResult | None, control: Control | None
) -> str:
    under, over, _ = outcomes
    verdicts = {under.verdict, over.verdict}
    if verdicts == {"meets"}:
        return "nothing need change: both probabilities are within what is allowed."
    if verdicts <= {"meets", "no target", "not resolved"} and "not resolved" in verdicts:
        side = "too little" if under.verdict == "not resolved" else "too much"
        return (
            f"sample more: whether the probability of {side} preload is within what is allowed is "
            "not resolved."
        )
    words = []
    if "misses" in verdicts:
        if under.verdict == over.verdict:
            words.append("no change of the setting alone will do: both sides of the window miss")
        elif under.verdict == "misses":
            words.append("aim higher, or allow a lower preload: too many joints end too loose")
        else:
            words.append("aim lower, or use a stronger fastener: too many joints end too tight")
    if ranking is not None and control is not None:
        name = ranking.indices.names[ranking.order[0]]
        words.append(
            f"without the scatter of {name}, {probability_words(control.probability)} of joints "
            "would end outside the window"
        )
    if not words:
        return "no probability is asked for; state allowed_under and allowed_over to judge it."
    return f"{'; '.join(words)}."
