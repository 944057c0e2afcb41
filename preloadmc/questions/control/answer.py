"""What control is worth, in words that a manager can act on and the samples support."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.engine import OUTSIDE
from preloadmc.inputs import input_group
from preloadmc.judgement.outcomes import Outcome
from preloadmc.judgement.wording import estimate_words
from preloadmc.questions.control.question import Changed, ControlResult, Source

# Control helps that takes away at least half of the misses, and does not that takes a fifth at
# most; both ends of the paired interval must say so (engineering judgement).
HELPS, HELPS_NOT = 0.5, 0.2


def control_words(outcomes: tuple[Outcome, ...], control: ControlResult) -> str:
    """Return a sentence on what control helps and what does not; empty where nothing is missed.

    Probabilities after a change are scaled to that of the run: both come from common draws.
    """
    before, now = control.as_is[OUTSIDE], outcomes[2].probability
    if before.value == 0.0 or now.value == 0.0:
        return ""
    whole = sorted(
        (source for source in control.sources if source.kind),
        key=lambda source: source.removed.differences[OUTSIDE].value,
    )
    if not whole:
        return ""
    best, *rest = whole
    scale = now.value / before.value
    start, remedy = estimate_words(now), input_group(best.kind).remedy
    if best.removed.left[OUTSIDE].high <= 1.0 - HELPS:
        halved, removed = (_after(changed, scale) for changed in (best.halved, best.removed))
        meets = ", which meets what is allowed" if _meets(outcomes, best.halved) else ""
        words = (
            f"{remedy} will help (outside the window {start} -> {halved} with half "
            f"the scatter{meets}; {removed} with none)"
        )
    elif best.removed.left[OUTSIDE].high < 1.0:
        words = (
            f"no single source of scatter makes half of the misses: the most is worth "
            f"{remedy} (outside the window {start} -> {_after(best.removed, scale)} "
            "with no scatter)"
        )
    else:
        return "the samples do not show that control of any one source of scatter would help"
    other = _other_source(rest)
    if other is None:
        return words
    least = other.removed.left[OUTSIDE].low
    if least >= 1.0 - HELPS_NOT:
        verb = "will not"
    elif least > best.removed.left[OUTSIDE].high:
        verb = "helps less"
    else:
        return words
    left = _after(other.removed, scale)
    return f"{words}; {input_group(other.kind).remedy} {verb} (-> {left} even with no scatter)"


def bias_words(outcomes: tuple[Outcome, ...], control: ControlResult) -> str:
    """Return what correcting the tool's bias does, where it takes half of the misses away."""
    before, now = control.as_is[OUTSIDE], outcomes[2].probability
    corrected = control.bias_corrected
    if corrected is None or before.value == 0.0 or now.value == 0.0:
        return ""
    if corrected.left[OUTSIDE].high > 1.0 - HELPS:
        return ""
    return f"correct the tool's bias (-> {_after(corrected, now.value / before.value)})"


def _other_source(rest: list[Source]) -> Source | None:
    """Return the tool, which is what money is spent on first, else the weakest other source."""
    tools = [source for source in rest if source.kind == "tool"]
    return next(iter([*tools, *rest[::-1]]), None)


def _after(changed: Changed, scale: float) -> str:
    found = changed.probabilities[OUTSIDE]
    low, value, high = (min(scale * x, 1.0) for x in (found.low, found.value, found.high))
    return estimate_words(replace(found, low=low, value=value, high=high))


def _meets(outcomes: tuple[Outcome, ...], changed: Changed) -> bool:
    """Return whether a change makes both sides meet what is allowed, and one did not before."""
    sides = [outcome for outcome in outcomes if outcome.allowed is not None]
    return any(outcome.verdict == "misses" for outcome in sides) and all(
        replace(outcome, probability=changed.probabilities[outcome.name]).verdict == "meets"
        for outcome in sides
    )
