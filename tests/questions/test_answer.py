"""The three lines of a run: each sentence, for every pair of verdicts."""

import re
from dataclasses import replace

import pytest
from controls import FRICTION, changed, result, source
from judgements import ALLOWED, MEETS, MISSES, UNSURE, doubted, judgement, limit

from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.wording import probability_words, round_to_interval, share_words
from preloadmc.questions.run.answer import answer

FIND = " within every limit (`preloadmc aim` finds it, if there is one)"
SLIP_MISSES = limit("slip", MISSES)
PRESSED = limit("pressure under head", MISSES, kind="pressure")
BACKS_OFF = limit("spontaneous back-off", MISSES)
NONE = from_counts(0, 1_000)  # says no more than "below 0.37 %"


def lines(case, judged):
    return answer(case, judged, {}, None)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (judgement(), "no change needed: every limit judged is within what is allowed."),
        (
            judgement(unknown={"thread stripping": "state engagement"}),
            "no change needed: every limit judged is within what is allowed (not judged: thread "
            "stripping).",
        ),
        (
            judgement(UNSURE, MEETS),
            'sample more (--precision "1 %"): whether too little preload is within what is allowed '
            "is not resolved.",
        ),
        (
            judgement(MEETS, UNSURE, limit("slip", UNSURE)),
            'sample more (--precision "1 %"): whether too much preload and slip are within what is '
            "allowed is not resolved.",
        ),
        (
            judgement(MISSES, MEETS),
            f"look for a higher setting{FIND}: too little preload occurs too often; or allow a "
            "lower preload if the joint can bear it.",
        ),
        (
            judgement(MISSES, UNSURE),
            f"look for a higher setting{FIND}: too little preload occurs too often; or allow a "
            "lower preload if the joint can bear it.",
        ),
        (
            judgement(MEETS, MISSES),
            f"look for a lower setting{FIND}: too much preload occurs too often.",
        ),
        (
            judgement(MISSES, MISSES),
            "no setting is likely to serve: too little preload asks for more preload, too much "
            "preload less; reduce scatter or change the joint; `preloadmc aim` tells what is "
            "missing.",
        ),
        (
            judgement(MEETS, MEETS, SLIP_MISSES, PRESSED),
            "no setting is likely to serve: slip asks for more preload, pressure under head less; "
            "reduce scatter or change the joint; `preloadmc aim` tells what is missing.",
        ),
        (
            judgement(MISSES, MEETS, SLIP_MISSES),
            f"look for a higher setting{FIND}: too little preload and slip are beyond what is "
            "allowed.",
        ),
        (
            judgement(MEETS, MEETS, SLIP_MISSES),
            f"look for a higher setting{FIND}: slip is missed too often.",
        ),
        (
            judgement(MEETS, MISSES, PRESSED),
            f"look for a lower setting{FIND}: too much preload and pressure under head are beyond "
            "what is allowed.",
        ),
        (
            judgement(MEETS, MEETS, BACKS_OFF),
            "spontaneous back-off is missed too often, at any setting: change the joint.",
        ),
        (
            judgement(allowed=(None, None)),
            "state allowed_under and allowed_over of [requirement] (1 where it does not matter): "
            "without an allowed probability a side of the window is neither met nor missed.",
        ),
        (
            judgement(MEETS, MISSES, allowed=(ALLOWED, None)),
            "state allowed_over of [requirement] (1 where it does not matter): without an allowed "
            "probability a side of the window is neither met nor missed.",
        ),
        # An estimate in doubt meets nothing that plain samples do not show.
        (
            judgement(doubted(MEETS), MEETS),
            "no change needed: every limit judged is within what is allowed.",
        ),
    ],
)
def test_what_to_do(make_case, given, words):
    first, second, third = lines(make_case(), given)
    assert first.startswith("How likely: given these laws, ")
    assert second.startswith("What dominates: ")
    assert third == f"What to do: {words}"


def test_a_lower_preload_is_for_those_to_allow_who_stated_it(make_case):
    # Slip makes most of too little preload here: a lower stated preload would help nothing.
    slips = replace(
        judgement(MISSES, MEETS),
        limits=(
            limit("minimum preload", MEETS, sides=("under",)),
            limit("slip", MISSES, sides=("under",)),
            limit("yield", MEETS, sides=("over",)),
        ),
    )
    assert lines(make_case(), slips)[2] == (
        f"What to do: look for a higher setting{FIND}: too little preload occurs too often."
    )


def test_control_is_told_where_the_window_is_missed(make_case):
    both = [source("friction", changed(0.1, 0.08, 0.12), members=FRICTION)]
    worth = result(make_case, both, p=0.05)
    told = "ontrolling friction will help"
    assert told in answer(make_case(), judgement(MISSES, MEETS), {}, worth)[2]
    # It is measured by the window: of a crushed seat, or of what nobody asked, it says nothing.
    for given in (
        judgement(MEETS, MEETS, PRESSED),
        judgement(MISSES, MEETS, allowed=(None, None)),
    ):
        assert told not in answer(make_case(), given, {}, worth)[2]


def test_what_would_help_is_told_for_rarer_misses_where_all_is_well(make_case):
    both = [source("friction", changed(0.1, 0.08, 0.12), members=FRICTION)]
    third = answer(make_case(), judgement(), {}, result(make_case, both))[2]
    assert "allowed. Should misses be rarer still, controlling friction will help (" in third
    # That nothing helps is no news where nothing has to.
    idle = [source("friction", changed(1.0, 0.9, 1.1), members=FRICTION)]
    assert answer(make_case(), judgement(), {}, result(make_case, idle))[2] == (
        "What to do: no change needed: every limit judged is within what is allowed."
    )
    missed = answer(make_case(), judgement(MISSES), {}, result(make_case, idle))[2]
    assert "The samples do not show that control of any one source" in missed


def test_correcting_the_bias_is_told_where_every_limit_is_then_met(make_case):
    helps = changed(0.1, 0.08, 0.12)
    worth = result(make_case, [], helps, p=0.05)
    given = judgement(MISSES, MEETS)
    told = "correct the tool's bias: every limit is then within what is allowed"
    assert told in answer(make_case(), given, {}, worth, unbiased_meets=True)[2]
    assert "bias" not in answer(make_case(), given, {}, worth)[2]


def test_how_likely(make_case):
    first, _, _ = lines(make_case(), judgement(MEETS, MISSES))
    assert first == (
        "How likely: given these laws, 5.01 % of fasteners end outside the preload window (upper "
        "limit 5.15 %), nearly all with too much preload (above yield)."
    )


@pytest.mark.parametrize(
    ("under", "over", "words"),
    [
        (MISSES, MEETS, ", nearly all with too little preload."),
        (MISSES, from_counts(2_000, 100_000), ", most with too little preload."),
        (
            MISSES,
            MISSES,
            ", some with too little preload, some with too much preload (above yield).",
        ),
        # Of an estimate in doubt no share is told.
        (doubted(MISSES), MEETS, "."),
    ],
)
def test_the_kind_of_miss_is_told_without_a_figure(make_case, under, over, words):
    first, _, _ = lines(make_case(), judgement(under, over))
    assert first.endswith(words)
    assert len(re.findall(r"[\d.]+ (?:%|per million)", first)) <= 2


def test_fasteners_that_break_call_for_a_lower_aim(make_case):
    # All of those with too little preload broke: more torque would only break more.
    first, _, third = lines(make_case(), judgement(MISSES, MISSES, breaking=MISSES))
    assert ", some with too little preload, most of them broken during tightening, some" in first
    assert third == (
        "What to do: aim lower: 5 % of fasteners break during tightening and hold no preload "
        "(`preloadmc aim` finds the setting)."
    )


def test_a_limit_besides_the_window_is_told_where_it_matters(make_case):
    stripping = limit("thread stripping", MEETS, allowed=None)
    first, _, _ = lines(make_case(), judgement(MEETS, MEETS, PRESSED, stripping))
    assert first.endswith("; more often than allowed: pressure under head.")
    unasked = limit("thread stripping", MISSES, allowed=None)
    first, _, third = lines(make_case(), judgement(MEETS, MEETS, unasked))
    assert first.endswith("; often, with nothing allowed of it: thread stripping.")
    assert "no change needed" in third


def test_no_figure_of_an_estimate_in_doubt_stands_in_a_line(make_case):
    wrong = doubted(from_counts(5, 1_000_000))
    slip = limit("slip", wrong, plain=NONE, allowed=1e-4)
    given = judgement(MEETS, MEETS, slip)
    first, _, third = lines(make_case(), given)
    for words in (first, third):
        assert "5.0 per million" not in words
        assert "5 per million" not in words
    assert first.endswith("; not resolved: slip.")
    assert third.startswith('What to do: sample more (--precision "1 %"): whether ')
    assert "slip is within what is allowed is not resolved" in third


@pytest.mark.parametrize(
    ("value", "low", "high", "words"),
    [
        (0.5123, 0.4023, 0.6223, ("0.51", "0.40", "0.62")),
        (1234.5, 1000.0, 1500.0, ("1234", "1000", "1500")),
        (1.2345, 1.2340, 1.2350, ("1.2345", "1.2340", "1.2350")),
        (0.25, 0.25, 0.25, ("0.25", "0.25", "0.25")),
    ],
)
def test_no_more_digits_than_the_interval_supports(value, low, high, words):
    assert round_to_interval(value, low, high) == words


@pytest.mark.parametrize(
    ("misses", "n", "words"),
    [
        (500, 1000, "50 % (47 to 53)"),
        (0, 1000, "below 0.37 %"),
        (0, 20_000, "below 184 per million"),
        (0, 100_000_000, "below 3.7 x 10^-8"),
        (20, 200_000_000, "1.0 x 10^-7 (0.6 to 1.5)"),
        (1000, 1000, "above 99.63 %"),
    ],
)
def test_probabilities_in_words(misses, n, words):
    assert probability_words(from_counts(misses, n)) == words


def test_a_share_is_cut_to_what_a_share_can_be():
    # only rounding is left
    assert share_words(1.0, 1.0 - 1e-13, 1.0 + 1e-13) == "100 %"
    assert share_words(0.99, 0.95, 1.03) == "99 % (95 to 100)"
    assert share_words(0.001, -0.02, 0.05) == "0 % (0 to 5)"
