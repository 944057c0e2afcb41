"""Judgements made by hand: sides of the window and limits with a probability each."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.limits import BREAKING, LIMITS, OVER, UNDER, Limit

# Of 100,000 samples, against an allowed probability of one in a hundred.
ALLOWED = 0.01
MEETS, MISSES, UNSURE = (from_counts(misses, 100_000) for misses in (10, 5_000, 1_000))
KINDS = {kind.name: kind for kind in LIMITS}


def doubted(probability):
    """The same estimate, in doubt."""
    return replace(probability, reliable=False)


def limit(name, probability, *, sides=(), allowed=ALLOWED, kind=None, plain=None, share=0.3):
    """A limit as it is judged, of the kind of that name unless another is given."""
    found = Limit(KINDS[kind or name], name, "settled", tuple(sides))
    return Judged(name, found.sides, probability, plain or probability, allowed, found, share)


def judgement(
    under=MEETS, over=MEETS, *beside, allowed=(ALLOWED, ALLOWED), breaking=None, unknown=None
):
    """A judgement of a stated minimum, of yield, and of limits beside the window."""
    sides = tuple(
        Judged(name, (side,), found, found, most)
        for name, side, found, most in zip(
            ("under_preload", "over_preload"), (UNDER, OVER), (under, over), allowed, strict=True
        )
    )
    # Hardly a fastener is both too loose and too tight.
    both = replace(
        from_counts(round((under.value + over.value) * 100_000), 100_000),
        reliable=under.reliable and over.reliable,
    )
    outside = Judged("outside_window", (UNDER, OVER), both, both, None)
    limits = [
        limit("minimum preload", under, sides=(UNDER,), allowed=allowed[0]),
        limit("yield", over, sides=(OVER,), allowed=allowed[1]),
    ]
    if breaking is not None:
        limits.append(limit(BREAKING.name, breaking, sides=(UNDER, OVER)))
    return Judgement(sides, outside, (*limits, *beside), unknown or {})
