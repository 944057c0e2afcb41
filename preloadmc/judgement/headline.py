"""What an answer says of a judgement: the event that matters most, and what else is not met."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from preloadmc.judgement.verdicts import (
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    Judged,
    Judgement,
)
from preloadmc.told import and_words

_TOLD = {
    MISSES: "more often than allowed",
    NOT_RESOLVED: "not resolved",
    NOT_JUDGED: "often, with nothing allowed of it",
}


def telling(found: Sequence[Judged]) -> Sequence[Judged]:
    """Return those that say how near a miss is: without what was never missed and is met.

    Its upper limit says how much was sampled. Where nothing else is known, all are returned.
    """
    return [each for each in found if each.verdict != MEETS or each.known.value > 0.0] or found


def headline(judged: Judgement) -> Judged:
    """Return what comes nearest to what is allowed of it, or passes it most.

    Of a joint of several fasteners that is an event of the joint, else a side of the window or a
    limit beside it. Where every event of the joint is met and a fastener's limit is not, it is that
    limit. What was never missed and is met counts only where nothing else is known. Where nothing
    is allowed of anything it is the likelier side.
    """
    of_joint = [each for each in judged.of_joint if each.allowed is not None]
    found = of_joint or [each for each in judged if each.allowed is not None]
    if not found:
        return max(judged.sides, key=lambda side: side.known.value)
    if all(each.verdict == MEETS for each in found):
        found = list(judged.with_verdict(MISSES)) or found
    return max(telling(found), key=lambda each: each.upper / (each.allowed or 1.0))


def headline_words(judged: Judgement) -> str:
    """Return one probability with its upper limit, and what else is not met: "slip: 2 % (...)"."""
    worst = headline(judged)
    return event_words(judged, worst) + unmet_words(judged, but=(worst.name,))


def event_words(judged: Judgement, told: Judged) -> str:
    """Return the probability of one event or limit with its upper limit: "slip: 2 % (...)"."""
    words = f"{told.subject}: {told.words}{told.limit_words}"
    return f"of joints, {words}" if told in judged.of_joint else words


def unmet_words(judged: Judgement, but: Collection[str] = ()) -> str:
    """Return what is not met, by name, to be added to a sentence; empty where all is.

    ``but`` are those that the sentence tells of already.
    """
    words = ""
    for verdict, told in _TOLD.items():
        names = [
            each.subject
            for each in judged
            if each.verdict == verdict and each.is_worth_saying and each.name not in but
        ]
        if names:
            words += f"; {told}: {and_words(names)}"
    return words
