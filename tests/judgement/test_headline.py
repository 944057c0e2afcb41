"""Which of all that is judged an answer opens with, and in which words."""

from dataclasses import replace

import pytest
from judgements import MEETS, MISSES, judgement, limit

from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.judgement.headline import headline_words
from preloadmc.judgement.verdicts import Judged
from preloadmc.judgement.wording import probability_words, upper_words
from preloadmc.limits import UNDER

NEVER = from_counts(0, 100_000)


def of_joint(probability, allowed=0.01):
    return Judged("least_clamp", (UNDER,), probability, probability, allowed)


def test_what_fails_in_one_fastener_comes_before_a_joint_that_holds():
    judged = replace(judgement(MEETS, MISSES), of_joint=(of_joint(NEVER),))
    # 5,000 of 100,000
    assert headline_words(judged).startswith("too much preload: 5.0")
    assert ";" not in headline_words(judged)
    failing = replace(judged, of_joint=(of_joint(MISSES),))
    assert headline_words(failing).startswith("of joints, too small a clamp force at any fastener")


def test_what_was_never_missed_opens_only_where_nothing_else_is_known():
    # 3.7e-5 of 1e-4 is nearer to what is allowed than 10 of 100,000 to 0.01.
    tight = limit("spontaneous back-off", NEVER, allowed=1e-4)
    assert headline_words(judgement(MEETS, NEVER, tight)).startswith("too little preload: 100 per")
    assert headline_words(judgement(NEVER, NEVER, tight)).startswith("spontaneous back-off: below")
    # Not resolved, since too few were sampled: that is what matters most.
    unsure = limit("spontaneous back-off", NEVER, allowed=1e-5)
    assert headline_words(judgement(MEETS, NEVER, unsure)).startswith("spontaneous back-off: below")


@pytest.mark.parametrize(
    ("low", "high", "words", "upper"),
    [
        # four powers of ten up: in the unit of the estimate the end would be 140719
        (1e-10, 1.40719e-5, "1 x 10^-10 (1 x 10^-10 to 14 per million)", "14 per million"),
        (0.0, 2e-3, "1 x 10^-10 (0 to 0.2 %)", "0.2 %"),
        (0.8e-10, 1.3e-10, "1.0 x 10^-10 (0.8 to 1.3)", "1.3 x 10^-10"),
    ],
)
def test_an_interval_over_many_powers_has_ends_of_their_own(low, high, words, upper):
    found = Probability(1e-10, low, high, 0.95, "subset", 100, 100, None, None, True, "")
    assert probability_words(found) == words
    assert upper_words(found) == upper
