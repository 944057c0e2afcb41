"""The answer in three lines that a manager can read: how likely, what dominates, what to do."""

from __future__ import annotations

from collections.abc import Mapping

from preloadmc.estimates.probability import Probability
from preloadmc.judgement.dominates import misses_words
from preloadmc.judgement.misses import MissRanking, Unranked
from preloadmc.judgement.outcomes import Outcome
from preloadmc.judgement.wording import probability_words
from preloadmc.questions.control import ControlResult, bias_words, control_words
from preloadmc.units import format_number

# Where half of the joints with too little preload have broken, breaking is what there is to say; a
# limit beside the window is spoken of where more than one joint in a thousand misses it.
MOST_BREAK = 0.5
WORTH_SAYING = 1e-3


def answer(
    outcomes: tuple[Outcome, ...],
    misses: Mapping[str, MissRanking | Unranked],
    control: ControlResult | None,
    *,
    upper_limit: str,
    breaking: float,
    besides: Mapping[str, Probability],
) -> tuple[str, str, str]:
    """Return the three lines.

    Parameters
    ----------
    outcomes : tuple of Outcome
        Under, over, outside.
    misses : mapping of str to MissRanking or Unranked
        What dominates each side.
    control : ControlResult or None
        What controlling each source of scatter is worth.
    upper_limit : str
        The limit that too much preload is judged by, in the reader's words.
    breaking : float
        Probability that the fastener breaks in tightening.
    besides : mapping of str to Probability
        Of a miss of each limit that is not part of the preload window.

    Returns
    -------
    tuple of str
        How likely, what dominates, what to do.
    """
    missed = {name: found for name, found in besides.items() if found.value > WORTH_SAYING}
    to_do = _what_to_do(outcomes, control, breaking)
    if missed:
        to_do = f"see to {' and '.join(missed)} first; for the preload window, {to_do}"
    return (
        f"How likely: {_how_likely(outcomes, upper_limit, breaking, missed)}",
        f"What dominates: {misses_words(misses)}",
        f"What to do: {to_do}",
    )


def _how_likely(
    outcomes: tuple[Outcome, ...],
    upper_limit: str,
    breaking: float,
    missed: Mapping[str, Probability],
) -> str:
    under, over, outside = (probability_words(outcome.probability) for outcome in outcomes)
    if breaking > MOST_BREAK * outcomes[0].probability.value:
        under += ", most of them broken in tightening"
    words = (
        f"given these laws, {outside} of joints end outside the preload window; "
        f"too little preload: {under}, too much (above {upper_limit}): {over}"
    )
    if missed:
        listed = (f"{name} {probability_words(found)}" for name, found in missed.items())
        words += f"; besides the window, limits missed: {', '.join(listed)}"
    return f"{words}."


def _what_to_do(
    outcomes: tuple[Outcome, ...], control: ControlResult | None, breaking: float
) -> str:
    if breaking > MOST_BREAK * outcomes[0].probability.value and breaking > WORTH_SAYING:
        share = format_number(100 * breaking, 2)
        return (
            f"aim lower: of the joints, {share} % break in tightening and hold no preload "
            "(`preloadmc aim` finds the setting)."
        )
    first = _setting_words(outcomes, control)
    second = "" if control is None else control_words(outcomes, control)
    if second and {outcome.verdict for outcome in outcomes[:2]} == {"meets"}:
        second = f"should misses be rarer still, {second}"
    return f"{first}. {second[0].upper()}{second[1:]}." if second else f"{first}."


def _setting_words(outcomes: tuple[Outcome, ...], control: ControlResult | None) -> str:
    under, over, _ = outcomes
    verdicts = {under.verdict, over.verdict}
    if verdicts == {"meets"}:
        return "nothing need change: both probabilities are within what is allowed"
    if verdicts <= {"meets", "no target", "not resolved"} and "not resolved" in verdicts:
        side = "too little" if under.verdict == "not resolved" else "too much"
        unresolved = under if under.verdict == "not resolved" else over
        # A table's limit is in the note of the estimate: more samples would not lift it.
        more = "test more joints" if "a table of" in unresolved.probability.note else "sample more"
        return (
            f"{more}: whether the probability of {side} preload is within what is allowed is "
            "not resolved"
        )
    bias = "" if control is None else bias_words(outcomes, control)
    if bias:
        return bias
    if "misses" not in verdicts:
        return "no probability is asked for; state allowed_under and allowed_over to judge it"
    if under.verdict == over.verdict:
        return (
            "both sides of the window miss: control what scatters, unless another setting serves "
            "both (`preloadmc aim` tells)"
        )
    if under.verdict == "misses":
        return "aim higher, or allow a lower preload: too many joints end too loose"
    return "aim lower, or use a stronger fastener: too many joints end too tight"
