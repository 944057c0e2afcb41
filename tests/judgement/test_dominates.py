"""What dominates, in words: how many inputs are named, and where rankings differ."""

import numpy as np
import pytest

from preloadmc.estimates.shapley import ShapleyShares
from preloadmc.judgement.dominates import SharedOut, differences_words, rank_answer

NAMES = ("tool scatter", "thread friction", "bearing friction", *"abcde")


def variance(*shares):
    """Shares of a variance, known to a tenth of a point."""
    share = np.array(shares)
    return ShapleyShares(
        names=NAMES[: len(shares)],
        share=share,
        low=share - 1e-3,
        high=share + 1e-3,
        covariance=np.diag(np.full(len(shares), 1e-8)),
        variance=1.0,
        confidence=0.95,
        samples=2**15,
        model_calls=2**18,
    )


@pytest.mark.parametrize(
    ("shares", "named"),
    [
        # The leading inputs down to three quarters together, three at most, none below 5 %.
        ((0.80, 0.12, 0.08), ["tool scatter"]),
        ((0.10, 0.40, 0.50), ["bearing friction", "thread friction"]),
        ((0.35, 0.30, 0.20, 0.15), ["tool scatter", "thread friction", "bearing friction"]),
        ((0.24, 0.22, 0.20, 0.18, 0.16), ["tool scatter", "thread friction", "bearing friction"]),
        ((0.96, 0.04), ["tool scatter"]),
        ((0.45, 0.27, 0.28), ["tool scatter", "bearing friction", "thread friction"]),
        ((0.72, *[0.04] * 7), ["tool scatter"]),
    ],
)
def test_the_inputs_that_make_most_are_named_in_order(shares, named):
    first = rank_answer("residual preload", variance(*shares), {})[0]
    start = "What dominates the variance of the residual preload: "
    assert first.startswith(start)
    found = first.removeprefix(start).rstrip(".").split(", then ")
    by_name = dict(zip(NAMES, shares, strict=False))
    # The first two with their shares.
    assert found == [
        f"{name} {100 * by_name[name]:.0f} %" if place < 2 else name
        for place, name in enumerate(named)
    ]


def shared(words, *shares, wide=1e-3):
    share = np.array(shares)
    order = tuple(int(place) for place in np.argsort(-share))
    return SharedOut(words, NAMES[: len(shares)], share, share - wide, share + wide, order)


def test_the_largest_resolved_difference_is_told():
    loose = shared("being too loose", 0.10, 0.50, 0.30, 0.10)
    tight = shared("being too tight", 0.70, 0.20, 0.06, 0.04)
    # Differences of 60, 30, 24 and 6 points.
    assert differences_words([loose, tight]) == (
        "tool scatter makes 70 % of being too tight, but 10 % of being too loose."
    )


def test_a_difference_within_sampling_error_or_five_points_is_none():
    small = shared("b", 0.46, 0.54), shared("a", 0.50, 0.50)
    unsure = shared("b", 0.20, 0.80, wide=0.2), shared("a", 0.50, 0.50, wide=0.2)
    for pair in (small, unsure):
        assert differences_words(pair).startswith("nowhere by more than sampling error and 5 ")
    told = shared("b", 0.20, 0.80, wide=0.1), shared("a", 0.50, 0.50, wide=0.1)
    assert differences_words(told).startswith("thread friction makes 80 % of b, but 50 % of a")
