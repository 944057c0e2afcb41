"""What control is worth, in words that a manager can act on and the samples support."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.engine import OUTSIDE
from preloadmc.inputs import input_group, input_label
from preloadmc.judgement.verdicts import MEETS, MISSES, Judgement
from preloadmc.judgement.wording import estimate_words
from preloadmc.questions.control.question import Changed, ControlResult, Lever, Source

# Control helps that takes away at least half of the misses, and does not that takes a fifth at
# most; both ends of the paired interval must say so (engineering judgement).
HELPS, HELPS_NOT, HELPS_BARELY = 0.5, 0.2, 0.05
NO_HELP = "the samples do not show that control of any one source of scatter would help"


def control_words(
    judged: Judgement, control: ControlResult, *, confirmed: bool = False, figures: bool = True
) -> str:
    """Return a sentence on what control helps and what does not; empty where nothing is missed.

    Half of a loss comes first, where it is worth more than half of any scatter. Probabilities after
    a change are scaled to that of the run: both come from common draws.

    Parameters
    ----------
    judged : Judgement
        Of the case as it is.
    control : ControlResult
        What controlling each source of scatter is worth.
    confirmed : bool
        Whether halving the scatter of the `leading_source` was judged anew and meets every limit.
    figures : bool
        Whether to say the probability before and after, of what helps most.
    """
    before, now = control.as_is[OUTSIDE], judged.outside.probability
    if before.value == 0.0 or now.value == 0.0 or not (before.reliable and now.reliable):
        return ""
    scale, start = now.value / before.value, estimate_words(now)
    of = "fasteners " if judged.of_joint else ""
    parts = []
    lever = _leading_lever(control)
    if lever is not None:
        told = (
            f" ({of}outside the window {start} -> {_after(lever.halved, scale)})" if figures else ""
        )
        parts.append(f"halving the {lever.loss} is worth more than halving any one scatter{told}")
    shown = f"{of}outside the window {start}" if figures and lever is None else ""
    parts.append(_scatter_words(control, scale, shown, confirmed))
    return "; ".join(part for part in parts if part)


def _leading_lever(control: ControlResult) -> Lever | None:
    """Return the loss whose half takes half of the misses, and more than half of any scatter does.

    The intervals must say both; None where no loss is such.
    """
    scatter = [source.halved.misses_left[OUTSIDE].low for source in control.sources]
    levers = [
        lever
        for lever in control.losses
        if lever.halved.probabilities[OUTSIDE].reliable
        and lever.halved.misses_left[OUTSIDE].high <= 1.0 - HELPS
        and lever.halved.misses_left[OUTSIDE].high < min(scatter)
    ]
    return min(levers, key=lambda lever: lever.halved.misses_left[OUTSIDE].value, default=None)


def _scatter_words(control: ControlResult, scale: float, start: str, confirmed: bool) -> str:
    """Return what control of a source of scatter helps; empty where there is no whole source.

    ``start`` tells the probability as it is; empty where no figures are to be told.
    """
    whole = _whole_sources(control)
    if not whole:
        return ""
    best, *rest = whole
    remedy = remedy_words(best)
    if best.removed.misses_left[OUTSIDE].high <= 1.0 - HELPS:
        told = f"{start} -> {_after(best.halved, scale)} " if start else ""
        meets = ", which meets what is allowed" if confirmed else ""
        words = f"{remedy} will help"
        if told or meets:
            words += f" ({told}with half the scatter{meets})"
    elif best.removed.misses_left[OUTSIDE].high < 1.0 - HELPS_BARELY:
        words = f"no single source of scatter makes half of the misses: {remedy} is worth most"
        if start:
            after = _after(best.removed, scale)
            words += f" ({start} -> {after} with no scatter)"
    else:
        return NO_HELP
    other = _other_source(rest)
    if other is None:
        return words
    least = other.removed.misses_left[OUTSIDE].low
    if least >= 1.0 - HELPS_NOT:
        verb = "will not"
    elif least > best.removed.misses_left[OUTSIDE].high:
        verb = "helps less"
    else:
        return words
    return f"{words}; {remedy_words(other)} {verb}"


def leading_source(judged: Judgement, control: ControlResult) -> Source | None:
    """Return the source whose halved scatter may be all that a case lacks; None where none is.

    That is where a side of the window is missed, and with half the scatter of the source neither
    is any more. The limits beside the window are still to be judged.
    """
    whole = _whole_sources(control)
    if not whole or MISSES not in {side.verdict for side in judged.sides}:
        return None
    changed = whole[0].halved.probabilities
    if not all(changed[side.name].reliable for side in judged.sides):
        return None
    after = [
        replace(side, probability=changed[side.name], plain=changed[side.name])
        for side in judged.sides
    ]
    return whole[0] if all(side.verdict == MEETS for side in after) else None


def bias_words(judged: Judgement, control: ControlResult) -> str:
    """Return what correcting the tool's bias does, where it takes half of the misses away."""
    before, now = control.as_is[OUTSIDE], judged.outside.probability
    corrected = control.bias_corrected
    if corrected is None or before.value == 0.0 or now.value == 0.0:
        return ""
    if not (before.reliable and now.reliable and corrected.probabilities[OUTSIDE].reliable):
        return ""
    if corrected.misses_left[OUTSIDE].high > 1.0 - HELPS:
        return ""
    left = _after(corrected, now.value / before.value)
    return (
        f"correct the tool's bias: every limit is then within what is allowed (outside the window "
        f"{estimate_words(now)} -> {left})"
    )


def remedy_words(source: Source) -> str:
    """Return what is done about a source, as the subject of a sentence: the input itself by name.

    Several inputs of one group are reached by what is done about the group.
    """
    group = input_group(source.kind)
    if len(source.inputs) > 1:
        return group.remedy
    return group.remedy_of_one.format(input_label(source.inputs[0]))


def _whole_sources(control: ControlResult) -> list[Source]:
    """Return the sources that are whole groups, those first whose removal is worth most.

    An estimate in doubt ranks nowhere.
    """
    return sorted(
        (
            source
            for source in control.sources
            if source.kind
            and source.removed.probabilities[OUTSIDE].reliable
            and source.halved.probabilities[OUTSIDE].reliable
        ),
        key=lambda source: source.removed.differences[OUTSIDE].value,
    )


def _other_source(rest: list[Source]) -> Source | None:
    """Return the tool, which is what money is spent on first, else the weakest other source."""
    tools = [source for source in rest if source.kind == "tool"]
    return next(iter([*tools, *rest[::-1]]), None)


def _after(changed: Changed, scale: float) -> str:
    found = changed.probabilities[OUTSIDE]
    low, value, high = (min(scale * x, 1.0) for x in (found.low, found.value, found.high))
    return estimate_words(replace(found, low=low, value=value, high=high))
