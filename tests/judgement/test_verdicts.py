"""The verdict on a limit, and what is said of it."""

import pytest
from judgements import ALLOWED, MEETS, MISSES, UNSURE, doubted, judgement, limit

from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.verdicts import Judged, unknown_words
from preloadmc.told import and_words

NO_MISS = from_counts(0, 1_000)  # says no more than "below 0.37 %"


def side(probability, allowed=ALLOWED, plain=None):
    return Judged("under_preload", ("under",), probability, plain or probability, allowed)


@pytest.mark.parametrize(
    ("probability", "allowed", "verdict"),
    [
        (MEETS, ALLOWED, "meets"),
        (MISSES, ALLOWED, "misses"),
        (UNSURE, ALLOWED, "not resolved"),
        (MEETS, None, "not judged"),
        (MISSES, None, "not judged"),
        # The ends themselves: an upper limit equal to what is allowed still meets it, a lower one
        # does not miss it.
        (MEETS, MEETS.high, "meets"),
        (MEETS, MEETS.low, "not resolved"),
    ],
)
def test_verdicts(probability, allowed, verdict):
    judged = side(probability, allowed)
    assert judged.verdict == verdict
    said = verdict if allowed is None else f"{verdict} {100 * allowed:g} %"
    assert judged.verdict_words == said


def test_an_estimate_in_doubt_resolves_nothing_that_plain_samples_do_not():
    # The estimate alone would meet; what plain samples know is only that it is below 0.37 %.
    judged = side(doubted(MEETS), 1e-3, plain=NO_MISS)
    assert judged.verdict == "not resolved"
    assert judged.words == "not resolved: between 0 and 0.368 %"
    assert judged.limit_words == ""
    assert side(doubted(MEETS), ALLOWED, plain=NO_MISS).verdict == "meets"
    assert side(doubted(MEETS), ALLOWED, plain=MISSES).verdict == "misses"
    assert side(MEETS).words == "100 per million"
    assert side(MEETS).limit_words == " (upper limit 184 per million)"
    # A bound is its own upper limit.
    assert (side(NO_MISS).words, side(NO_MISS).limit_words) == ("below 0.37 %", "")


def test_the_worst_verdict_of_all_that_is_held_to_something():
    pressed = limit("pressure under head", MISSES, kind="pressure")
    assert judgement().verdict == "meets"
    assert judgement(MEETS, UNSURE).verdict == "not resolved"
    assert judgement(MISSES, UNSURE).verdict == "misses"
    assert judgement(MEETS, MEETS, pressed).verdict == "misses"
    assert judgement(MEETS, MEETS, allowed=(None, None)).verdict == "not judged"
    # A side that nothing is allowed of is not met either; 1 says that it does not matter.
    assert judgement(MEETS, MISSES, allowed=(ALLOWED, None)).verdict == "not judged"
    assert judgement(MISSES, MISSES, allowed=(ALLOWED, None)).verdict == "misses"
    assert judgement(MEETS, MISSES, allowed=(ALLOWED, 1.0)).verdict == "meets"
    # A limit beside the window that nothing is allowed of is told with the limits not judged.
    unasked = limit("pressure under head", MISSES, kind="pressure", allowed=None)
    assert judgement(MEETS, MEETS, unasked).verdict == "meets"


def test_a_limit_of_the_window_counts_in_its_side_alone():
    found = judgement(MISSES, MEETS, limit("slip", MEETS))
    assert [each.name for each in found] == ["under_preload", "over_preload", "slip"]
    assert [each.name for each in found.with_verdict("misses")] == ["under_preload"]
    assert found.governing(found.under).name == "minimum preload"
    assert found.upper_limit == "yield"


def test_which_way_a_setting_helps():
    found = judgement(MEETS, MEETS, breaking=MISSES)
    assert (found.under.wants_more, found.over.wants_more) == (True, False)
    assert found.named("breaking in tightening").wants_more is False
    ways = {"slip": True, "pressure": False, "spontaneous back-off": None}
    assert {name: limit(name, MISSES).wants_more for name in ways} == ways
    assert found.breaking == MISSES.value


def test_lists_in_a_sentence():
    assert and_words(["slip"]) == "slip"
    assert and_words(["slip", "yield"]) == "slip and yield"
    assert and_words(["slip", "yield", "separation"]) == "slip, yield and separation"
    missing = {"pressure under nut": "state ...", "thread stripping": "state ..."}
    assert unknown_words(judgement(unknown=missing)) == (
        "not judged: pressure under nut and thread stripping"
    )
    assert unknown_words(judgement()) == ""
