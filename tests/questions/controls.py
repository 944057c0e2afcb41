"""Values of control made by hand: sources of scatter with what is left of the misses."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.engine import OUTCOMES
from preloadmc.estimates.paired import Ratio
from preloadmc.estimates.probability import from_counts, paired_difference
from preloadmc.questions.control.question import Changed, ControlResult, Source

FRICTION, WRENCH = ("friction.thread", "friction.bearing"), ("tightening.tool",)


def changed(left, low, high, p=0.01, n=100_000, reliable=True):
    """A change that leaves a share of the misses, with its interval."""
    found = replace(from_counts(round(left * p * n), n), reliable=reliable)
    gone = paired_difference(0, 1, 1, n)
    names = OUTCOMES
    return Changed(
        dict.fromkeys(names, found),
        dict.fromkeys(names, replace(gone, value=(left - 1.0) * p)),
        dict.fromkeys(names, Ratio(left, low, high)),
    )


def result(make_case, sources, bias=None, p=0.01, reliable=True, levers=()):
    found = replace(from_counts(round(100_000 * p), 100_000), reliable=reliable)
    return ControlResult(
        make_case(),
        1,
        dict.fromkeys(OUTCOMES, found),
        tuple(sources),
        bias,
        100_000,
        0,
        0,
        tuple(levers),
    )


def source(kind, removed, halved=None, members=None):
    return Source(kind, members or (kind,), kind, removed, halved or removed)
