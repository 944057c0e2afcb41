"""The three lines, for every pair of verdicts."""

import pytest

from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.outcomes import Outcome, allowed
from preloadmc.judgement.wording import probability_words, round_to_interval, share_words
from preloadmc.questions.run.answer import answer

MEETS = from_counts(10, 100_000)
MISSES = from_counts(5_000, 100_000)
UNSURE = from_counts(1_000, 100_000)
LIMIT = 0.01


def outcomes(under, over, asked_under=LIMIT, asked_over=LIMIT):
    return (
        Outcome("under_preload", under, asked_under),
        Outcome("over_preload", over, asked_over),
        Outcome("outside_window", under, None),
    )


def test_verdicts():
    verdicts = [Outcome("under_preload", p, LIMIT).verdict for p in (MEETS, MISSES, UNSURE)]
    assert verdicts == ["meets", "misses", "not resolved"]
    assert Outcome("under_preload", MEETS, None).verdict == "no target"
    # The limits themselves: upper limit equal to allowed still meets it, lower limit does not miss.
    assert Outcome("under_preload", MEETS, MEETS.high).verdict == "meets"
    assert Outcome("under_preload", MEETS, MEETS.low).verdict == "not resolved"


def test_what_is_allowed(make_case):
    case = make_case({"requirement.allowed_under": 1e-4, "requirement.allowed_over": "2 %"})
    found = [allowed(case, name) for name in ("under_preload", "over_preload", "outside_window")]
    assert found == [1e-4, 0.02, None]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (outcomes(MEETS, MEETS), "nothing need change: both probabilities are within"),
        (outcomes(UNSURE, MEETS), "sample more: whether the probability of too little preload"),
        (outcomes(MEETS, UNSURE), "sample more: whether the probability of too much preload"),
        (outcomes(MISSES, MEETS), "aim higher, or allow a lower preload: too many joints end too"),
        (outcomes(MISSES, UNSURE), "aim higher"),
        (outcomes(MEETS, MISSES), "aim lower, or use a stronger fastener: too many joints end too"),
        (outcomes(MISSES, MISSES), "both sides of the window miss: control what scatters, unless"),
        (outcomes(MEETS, MEETS, None, None), "no probability is asked for; state allowed_under"),
    ],
)
def test_what_to_do(given, words):
    first, second, third = answer(given, {}, None, upper_limit="yield", breaking=0.0, besides={})
    assert first.startswith("How likely: given these laws, ")
    assert second.startswith("What dominates: ")
    assert third.startswith(f"What to do: {words}")
    assert third.endswith(".")


def test_too_much_is_told_by_its_limit():
    first, _, _ = answer(
        outcomes(MEETS, MISSES), {}, None, upper_limit="90 % of yield", breaking=0.0, besides={}
    )
    assert "too much (above 90 % of yield): 5.0" in first


def test_joints_that_break_call_for_a_lower_aim():
    # All of those with too little preload broke: more torque would only break more.
    first, _, third = answer(
        outcomes(MISSES, MISSES), {}, None, upper_limit="yield", breaking=0.05, besides={}
    )
    assert "most of them broken in tightening, too much" in first
    assert third.startswith("What to do: aim lower: of the joints, 5 % break in tightening")


def test_a_limit_besides_the_window_is_told_where_it_matters():
    besides = {"pressure under head": MISSES, "thread stripping": from_counts(0, 100_000)}
    first, _, third = answer(
        outcomes(MEETS, MEETS), {}, None, upper_limit="yield", breaking=0.0, besides=besides
    )
    assert third.startswith(
        "What to do: see to pressure under head first; for the preload window, nothing need change"
    )
    assert first.endswith(
        "; besides the window, limits missed: pressure under head 5.00 % (4.87 to 5.14)."
    )


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
    assert share_words(0.99, 0.95, 1.03) == "99 % (95 to 100)"
    assert share_words(0.001, -0.02, 0.05) == "0 % (0 to 5)"
