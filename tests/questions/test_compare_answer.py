"""What a comparison says and chooses, from judgements made by hand."""

import re
from dataclasses import replace

import pytest
from controls import FRICTION, WRENCH, changed, result, source
from judgements import MEETS, MISSES, UNSURE, doubted, judgement, limit

from preloadmc import limits
from preloadmc.case import Cost
from preloadmc.engine import OUTCOMES
from preloadmc.estimates.probability import Difference, from_counts
from preloadmc.questions.compare.answer import QUALIFIED, compare_answer, fails_words
from preloadmc.questions.compare.choice import choose, dominates
from preloadmc.questions.compare.costs import cost_difference, expected_cost
from preloadmc.questions.compare.pairs import is_told
from preloadmc.questions.compare.records import Alternative, UsedSetting

SLIP, LOOSENING = limits.SLIP.name, limits.LOOSENING.name
CRUSHED = "pressure under head"
COST = Cost(1.0, 100.0, 50.0, 0.0, 0.0, None, None, "EUR")
WASHERS = {
    "element": "wedge-locking washers",
    "ramp_angle": "9 deg",
    "torque_ratio": 1.2,
    "hardness": 540,
    "seat_hardness": 300,
    "source": "certificate",
}

# Compared at the settings stated, another may serve as well at its own.
OWN = "; others may do as well at a setting of their own (--aim)"


class Draws:
    """Common draws made by hand: probabilities by place, differences as sharp as is said."""

    def __init__(self, judged, sharp=1e-4):
        self.sharp = sharp
        self.found = {
            (each.name, place): each.probability
            for place, one in enumerate(judged)
            for each in (*one.outcomes, *one.beside)
        }
        self.judged = frozenset(self.found)

    def probability(self, name, place):
        return self.found[name, place]

    def difference(self, name, a, b):
        apart = self.found[name, a].value - self.found[name, b].value
        return Difference(apart, apart - self.sharp, apart + self.sharp, 0.95, 100_000)

    def never_apart(self, name, a, b):
        return self.found[name, a] == self.found[name, b]


@pytest.fixture
def compared(make_case):
    """The choice and the three lines of cases named A, B, C, judged as given."""

    def make(*judged, costs=None, set_to=None, securing=None, sharp=1e-4, controls=None):
        wedged = make_case({"securing": WASHERS}) if securing else None
        plain = make_case()
        cases = [
            replace(
                wedged if securing and securing[place] else plain,
                name=name,
                cost=None if costs is None else costs[place],
            )
            for place, (name, _) in enumerate(zip("ABCDE", judged, strict=False))
        ]
        paired = Draws(judged, sharp)
        found = []
        for place, (case, one) in enumerate(zip(cases, judged, strict=True)):
            names = (*OUTCOMES, LOOSENING)
            both = [
                name
                for name in names
                if all(is_told(paired, cases[k], k, name) for k in (place, 0))
            ]
            found.append(
                Alternative(
                    case=case,
                    setting=UsedSetting(
                        "tightening.torque",
                        77.4e3 if set_to is None else set_to[place],
                        77.4e3,
                        set_to is not None,
                    ),
                    judged=one,
                    securing={
                        name: paired.probability(name, place)
                        for name in (LOOSENING,)
                        if (name, place) in paired.judged
                    },
                    difference_to_first={
                        name: paired.difference(name, place, 0) for name in both if place
                    },
                    narrowing=dict.fromkeys(both, 1.0),
                    expected_cost=expected_cost(paired, case, place),
                    cost_difference_to_first=cost_difference(paired, cases, judged, place, 0)
                    if place
                    else None,
                    dominated_by=tuple(
                        other.name
                        for better, other in enumerate(cases)
                        if better != place and dominates(paired, cases, judged, better, place)
                    ),
                    warnings=(),
                    path={},
                    pulled=None,
                    window=(),
                )
            )
        choice = choose(paired, found)
        return found, choice, compare_answer(found, choice, controls or {})

    return make


def shares(*misses):
    return tuple(from_counts(each, 100_000) for each in misses)


# --- which is chosen


@pytest.mark.parametrize("bad", [MISSES, UNSURE])
@pytest.mark.parametrize("where", ["under", "over", CRUSHED])
def test_none_is_chosen_while_a_limit_is_missed_or_unresolved(compared, bad, where):
    if where == CRUSHED:
        failing = judgement(MEETS, MEETS, limit(CRUSHED, bad, kind="pressure"))
    else:
        failing = judgement(**{where: bad})
    # even where it is the cheapest, and the other misses by far more
    worse = judgement(MISSES, MISSES)
    found, choice, answer = compared(failing, worse, costs=(COST, replace(COST, per_joint=9.0)))
    assert found[0].verdict == ("misses" if bad is MISSES else "not resolved")
    assert choice.best is None
    assert choice.meeting == ()
    assert choice.nearest == 0
    assert answer[2].startswith("What to do: choose none: ")
    assert 'choose "' not in answer[2]
    assert "keep" not in answer[2]
    # beside one that meets every limit it is not chosen either, at a tenth of its cost
    found, choice, answer = compared(
        failing, judgement(), costs=(replace(COST, per_joint=0.1), replace(COST, per_joint=900.0))
    )
    assert choice.best == 1
    assert answer[2] == f'What to do: choose "B": it alone meets every limit judged{OWN}.'


def test_a_single_one_that_meets_needs_no_cost(compared):
    _, choice, answer = compared(judgement(MISSES), judgement(), judgement(MEETS, UNSURE))
    assert (choice.best, choice.not_told_from_best, choice.meeting) == (1, (), (1,))
    assert answer == (
        "How likely: given these laws, share of fasteners outside the preload window: "
        '"A" 5.01 %, "B" 200 per million.',
        'What decides: "B" against "A", outside the window: -4.990 %; "A" fails on too little '
        'preload; "C" is not resolved on too much preload.',
        f'What to do: choose "B": it alone meets every limit judged{OWN}.',
    )
    _, choice, answer = compared(judgement(), judgement(MISSES))
    assert choice.best == 0
    assert answer[2] == f'What to do: keep "A": it alone meets every limit judged{OWN}.'


def test_several_that_meet_are_listed_where_no_cost_tells(compared):
    low, high = shares(100, 600)
    found, choice, answer = compared(judgement(low), judgement(MISSES), judgement(MEETS, high))
    assert choice.best is None
    assert choice.meeting == (0, 2)
    assert all(each.dominated_by == () for each in found)
    # The largest upper limit over what is allowed, 0.01: Clopper-Pearson of 100 and of 600 in
    # 100,000 ends at 1.2161e-3 and 6.499e-3 (scipy.stats.binomtest).
    assert [each.share_of_allowed for each in (found[0], found[2])] == [
        (pytest.approx(0.12161, abs=1e-5), "too little preload"),
        (pytest.approx(0.6499, abs=1e-4), "too much preload"),
    ]
    assert answer[1] == (
        'What decides: "B" fails on too little preload; "A" reaches at most 0.12 of what is '
        'allowed (too little preload); "C" reaches at most 0.65 of what is allowed (too much '
        "preload)."
    )
    assert answer[2] == (
        'What to do: each of these meets every limit judged: "A" and "C"; pick the simplest or '
        "the cheapest ([cost] of the case tells which)."
    )
    assert "dominated" not in " ".join(answer)


def test_what_was_never_missed_decides_nothing(compared):
    low, middle, high = shares(100, 300, 600)
    never = from_counts(0, 100_000)
    # Of spontaneous back-off no miss is known, and little is allowed of it: 3.7e-5 over 1e-4.
    tight = limit("spontaneous back-off", never, allowed=1e-4)
    found, _, answer = compared(
        judgement(low, MEETS, tight), judgement(high, MEETS, tight), judgement(middle, MEETS, tight)
    )
    # As above: 600 and 100 of 100,000 end at 0.65 and 0.12 of what is allowed.
    assert answer[1] == (
        'What decides: "B" reaches at most 0.65 of what is allowed (too little preload); "A" '
        "reaches at most 0.12 of what is allowed (too little preload); the others lie between."
    )
    # Where nothing else is known of any, it is told once.
    unmissed = judgement(never, never, tight)
    found, _, answer = compared(unmissed, unmissed)
    assert [each.share_of_allowed[1] for each in found] == ["spontaneous back-off"] * 2
    # 1 - 0.025^(1e-5) = 3.69e-5
    assert answer[1] == (
        'What decides: "A" and "B" reach at most 0.37 of what is allowed (spontaneous back-off).'
    )


def test_the_lowest_expected_cost_decides_between_those_that_meet(compared):
    # 1 + 100 p_under + 50 p_over
    low, high = shares(10, 900)
    judged = (judgement(high, MEETS), judgement(low, MEETS), judgement(low, MEETS))
    dearer = replace(COST, per_joint=1.2)
    found, choice, answer = compared(*judged, costs=(COST, dearer, replace(COST, per_joint=1.5)))
    assert [each.expected_cost.value for each in found] == pytest.approx(
        [1 + 100 * 9e-3 + 50 * 1e-4, 1.2 + 100 * 1e-4 + 50 * 1e-4, 1.5 + 100 * 1e-4 + 50 * 1e-4]
    )
    assert (choice.best, choice.not_told_from_best, choice.meeting) == (1, (), (0, 1, 2))
    assert found[2].dominated_by == ("B",)
    assert answer[2] == (
        'What to do: choose "B": it meets every limit judged, at the lowest expected cost of '
        'those that do; "C" can be dropped (dominated).'
    )
    assert answer[1].startswith('What decides: "B" against "A", outside the window: -')
    # 1.2 + 0.015 - (1 + 0.905), the paired interval 100 times 1e-4 wide to each side
    assert "; expected cost a fastener: -0.690 EUR" in answer[1]


def test_where_nothing_is_checked_nothing_is_rejected(compared):
    judged = judgement(), judgement()
    found, _, _ = compared(*judged, costs=(COST, COST))
    dear, _, _ = compared(*judged, costs=[replace(COST, per_reject=50.0)] * 2)
    assert [each.expected_cost for each in dear] == [each.expected_cost for each in found]
    assert dear[1].cost_difference_to_first == found[1].cost_difference_to_first


def test_all_meet_and_the_first_is_cheapest(compared):
    judged = (judgement(), judgement())
    _, choice, answer = compared(*judged, costs=(COST, replace(COST, per_joint=2.0)))
    assert choice.best == 0
    assert answer[1] == (
        "What decides: all meet every limit judged; expected cost a fastener in EUR: "
        '"A" 1.015, "B" 2.015.'
    )
    assert answer[2] == (
        'What to do: keep "A": it meets every limit judged, at the lowest expected cost of those '
        'that do; "B" can be dropped (dominated).'
    )


def test_those_that_the_samples_do_not_tell_from_the_best_are_named(compared):
    # 100 times a difference known to 1e-4 is a cost known to 0.01: a price of 0.005 is not told
    judged = (judgement(UNSURE), *[judgement()] * 3)
    prices = (1.0, 1.005, 1.0, 1.5)
    costs = [replace(COST, per_joint=price) for price in prices]
    judged = (judged[0], judgement(*shares(11, 10)), judgement(), judgement(*shares(12, 10)))
    _, choice, answer = compared(*judged, costs=costs)
    assert choice.best == 1
    assert choice.not_told_from_best == (2,)
    assert (
        'choose "B": it meets every limit judged, at the lowest expected cost of those that do; '
        'the difference to "C" is not resolved: choose on other criteria' in answer[2]
    )
    # "and", not "or": each of them may be taken
    costs[3] = replace(COST, per_joint=1.004)
    _, choice, answer = compared(*judged, costs=costs)
    assert choice.not_told_from_best == (2, 3)
    assert 'the difference to "C" and "D" is not resolved: choose on other criteria' in answer[2]


def test_none_meets_and_the_nearest_is_named(compared):
    far, near = shares(9_000, 2_000)
    _, choice, answer = compared(judgement(far), judgement(MEETS, near), judgement(far, far))
    assert (choice.best, choice.nearest) == (None, 1)
    assert answer[1:] == (
        'What decides: "A" fails on too little preload; "B" fails on too much preload; "C" fails '
        "on too little preload and too much preload.",
        'What to do: choose none: no alternative meets every limit; "B" comes nearest.',
    )
    # one that is not resolved comes nearer than one that misses, however little it misses by
    _, choice, answer = compared(judgement(near), judgement(UNSURE, UNSURE))
    assert choice.nearest == 1
    assert answer[2] == (
        'What to do: choose none: no alternative is sure to meet every limit; "B" comes nearest.'
    )


def test_the_nearest_is_the_one_whose_worst_limit_is_nearest(compared):
    # B is better inside the window, and its seat is crushed in nearly all
    crushed = limit(CRUSHED, from_counts(99_000, 100_000), kind="pressure")
    seated = limit(CRUSHED, MEETS, kind="pressure")
    judged = (judgement(MISSES, MEETS, seated), judgement(MEETS, MEETS, crushed))
    found, choice, answer = compared(*judged, costs=(replace(COST, per_joint=9.0), COST))
    assert found[1].judged.outside.probability.value < found[0].judged.outside.probability.value
    assert (choice.best, choice.nearest) == (None, 0)
    assert f'"B" fails on {CRUSHED}' in answer[1]
    assert len(re.findall(r"\d (?:%|per million)", answer[0])) == 2


def test_those_that_fail_alike_are_told_together(compared):
    judged = (judgement(), judgement(MISSES), judgement(MISSES, UNSURE), judgement(MISSES, UNSURE))
    _, _, answer = compared(*judged)
    assert answer[1] == (
        'What decides: "B" fails on too little preload; "C" and "D" fail on too little preload '
        "and are not resolved on too much preload."
    )


def test_nothing_is_recommended_where_nothing_is_asked(compared):
    nothing = judgement(allowed=(None, None))
    _, choice, answer = compared(nothing, nothing)
    assert choice.best is None
    assert answer[1:] == (
        "What decides: nothing is held against an allowed probability.",
        "What to do: choose none: state allowed_under and allowed_over of [requirement] (1 where "
        "it does not matter): without an allowed probability a side of the window is neither met "
        "nor missed.",
    )


def test_what_is_not_judged_is_told_beside_what_is_chosen(compared):
    unknown = {"thread stripping": "state engagement", "pressure under head": "state the layer"}
    judged = (judgement(MISSES), judgement(unknown=unknown))
    _, _, answer = compared(*judged)
    assert answer[2] == (
        'What to do: choose "B": it alone meets every limit judged (not judged: thread stripping '
        f"and pressure under head){OWN}."
    )
    _, _, answer = compared(judgement(unknown=unknown), judgement(unknown=unknown))
    assert answer[2] == (
        "What to do: each of these meets every limit judged (not judged: thread stripping and "
        'pressure under head): "A" and "B"; pick the simplest or the cheapest ([cost] of the case '
        "tells which)."
    )


def test_what_is_not_judged_of_each_is_told_of_that_one(compared):
    both = {"pressure under nut": "state the layer"}
    more = {**both, "breaking in tightening": "state x", LOOSENING: "state y"}
    _, _, answer = compared(judgement(unknown=both), judgement(unknown=more))
    assert answer[2].startswith(
        "What to do: each of these meets every limit judged (not judged: pressure under nut; of "
        '"B" breaking in tightening and loosening by transverse slip): "A" and "B"; pick'
    )
    _, _, answer = compared(judgement(), judgement(unknown=both))
    assert ' judged (not judged: of "B" pressure under nut): "A" and "B"; pick' in answer[2]


def test_what_is_chosen_at_its_best_setting_is_told_with_it(compared):
    judged = (judgement(), judgement(MISSES))
    _, _, answer = compared(*judged, set_to=(84e3, 77.4e3))
    assert answer[2] == (
        'What to do: keep "A" at a set torque of 84 N·m: it alone meets every limit judged.'
    )
    _, _, answer = compared(judgement(), judgement(), set_to=(84e3, 77.4e3))
    assert ': "A" at a set torque of 84 N·m and "B" at a set torque of 77.4 N·m; pick' in answer[2]


def test_verdicts_keep_their_words(compared):
    beside = limit(SLIP, UNSURE), limit(CRUSHED, MISSES, kind="pressure")
    found, _, _ = compared(judgement(MISSES, UNSURE, *beside))
    assert fails_words(found[0]) == (
        "fails on too little preload and pressure under head and is not resolved on too much "
        "preload and slip"
    )


def test_what_control_is_worth_is_told_of_what_misses_the_window(compared, make_case):
    friction = source("friction", changed(0.01, 0.005, 0.02), members=FRICTION)
    tool = source("tool", changed(0.01, 0.005, 0.02), members=WRENCH)
    controls = {"A": result(make_case, [friction]), "B": result(make_case, [tool])}
    # of the first, where another is to be chosen
    _, _, answer = compared(judgement(MISSES), judgement(), controls=controls)
    assert '. With "A", controlling friction will help (outside the window 5.01 % -> ' in answer[2]
    # of the nearest, where none is
    _, _, answer = compared(judgement(MISSES, MISSES), judgement(MISSES), controls=controls)
    assert '. With "B", a better tool will help (outside the window 5.01 % -> ' in answer[2]
    # not where the window is met and the seat is crushed
    crushed = judgement(MEETS, MEETS, limit(CRUSHED, MISSES, kind="pressure"))
    _, _, answer = compared(crushed, judgement(), controls=controls)
    assert answer[2] == f'What to do: choose "B": it alone meets every limit judged{OWN}.'


# --- what rests on an estimate in doubt


def in_doubt(misses):
    return doubted(from_counts(misses, 100_000))


def test_an_estimate_in_doubt_is_in_no_answer_line(compared):
    # 1.23 and 4.56 % are in doubt: no line says them, nor their differences to others
    doubtful = judgement(in_doubt(123), in_doubt(456))
    known = replace(
        doubtful,
        sides=tuple(replace(each, plain=MISSES) for each in doubtful.sides),
        outside=replace(doubtful.outside, plain=MISSES),
    )
    costs = (COST, replace(COST, per_joint=5.0))
    for judged in ((known, judgement()), (judgement(MISSES), known), (known, known)):
        found, choice, answer = compared(*judged, costs=costs)
        text = " ".join(answer)
        for number in ("0.123", "0.456", "0.579", "1230 per", "4560 per", "0.12 %", "0.46 %"):
            assert number not in text, text
        assert "outside the window: -" not in text
        assert "expected cost a fastener:" not in text
        # what plain samples say for themselves still counts
        assert "not resolved: between 4.87 and 5.14 %" in answer[0]
        assert [each.expected_cost is None for each in found] == [each is known for each in judged]
        assert all(each.dominated_by == () for each in found)
    assert choice.best is None


def test_a_doubt_leaves_open_what_a_cost_would_have_settled(compared):
    # both meet by their plain samples; the cost of A's misses rests on an estimate in doubt
    one = judgement(in_doubt(300))
    one = replace(one, sides=(replace(one.under, plain=MEETS), one.over))
    found, choice, answer = compared(one, judgement(), costs=(COST, COST))
    assert choice.meeting == (0, 1)
    assert choice.best is None
    assert found[1].cost_difference_to_first is None
    assert answer[2] == (
        'What to do: each of these meets every limit judged: "A" and "B"; the expected cost of '
        '"A" is not known: choose on other criteria.'
    )
    # where no miss on that side costs anything, nothing rests on it
    free = replace(COST, per_under=0.0)
    _, choice, _ = compared(one, judgement(), costs=(free, replace(free, per_joint=2.0)))
    assert choice.best == 0


def test_an_estimate_in_doubt_dominates_nothing(compared):
    cheap, dear = COST, replace(COST, per_joint=2.0, per_under=0.0)
    cheap = replace(cheap, per_under=0.0)
    worse = judgement(MISSES)
    found, _, _ = compared(judgement(), worse, costs=(cheap, dear))
    assert found[1].dominated_by == ("A",)
    found, _, _ = compared(judgement(doubted(MEETS)), worse, costs=(cheap, dear))
    assert found[1].dominated_by == ()
    found, _, _ = compared(judgement(), judgement(doubted(MISSES)), costs=(cheap, dear))
    assert found[1].dominated_by == ()


@pytest.mark.parametrize(
    ("allowed", "sharp", "dominated"),
    [
        # A is worse on too little preload by one in 100,000, known to `sharp`: as good where that
        # stays below a tenth of what is allowed of that side, whatever is allowed of the other.
        ((1e-2, 1e-4), 2e-4, True),
        ((1e-4, 1e-2), 2e-4, False),
        ((1e-2, 1e-2), 9.8e-4, True),
        ((1e-2, 1e-2), 1.0e-3, False),
        # It is worse where no doubt is left, however little.
        ((1e-2, 1e-2), 1e-6, False),
        # Of a side without an allowed probability nothing is little.
        ((None, 1e-2), 2e-4, False),
    ],
)
def test_what_is_cheaper_may_be_a_little_worse(compared, allowed, sharp, dominated):
    cheap, dear = COST, replace(COST, per_joint=2.0)
    few, fewer = shares(11, 10)
    judged = [judgement(found, MEETS, allowed=allowed) for found in (few, fewer)]
    found, _, _ = compared(*judged, costs=(cheap, dear), sharp=sharp)
    assert found[1].dominated_by == (("A",) if dominated else ())


# --- securing elements


def test_what_keeps_no_nut_dominates_nothing_that_does_where_slip_is_possible(compared):
    held = limit(LOOSENING, MEETS)
    dear = replace(COST, per_joint=2.0)
    judged = (judgement(MEETS, MEETS, held), judgement(MEETS, MEETS, held))
    found, _, answer = compared(*judged, costs=(COST, dear), securing=(False, True))
    assert found[1].dominated_by == ()
    assert f". {QUALIFIED[0].upper()}{QUALIFIED[1:]}." in answer[2]
    # where no slip is possible it costs more for nothing
    found, _, _ = compared(judgement(), judgement(), costs=(COST, dear), securing=(False, True))
    assert found[1].dominated_by == ("A",)
    # nor is one that keeps none on saved from another that keeps none on
    found, _, _ = compared(*judged, costs=(COST, dear), securing=(False, False))
    assert found[1].dominated_by == ("A",)
    # and what keeps the nut may dominate another that does
    found, _, _ = compared(*judged, costs=(COST, dear), securing=(True, True))
    assert found[1].dominated_by == ("A",)


def test_the_rule_of_the_chosen_element_is_told(compared):
    judged = (
        judgement(MEETS, MEETS, limit(LOOSENING, MISSES)),
        judgement(MEETS, MEETS, limit(LOOSENING, MEETS)),
    )
    _, _, answer = compared(*judged, securing=(False, True))
    assert answer[2] == (
        'What to do: choose "B": it alone meets every limit judged'
        f"{OWN}; the rule for this element "
        "predicts loosening by slip in 100 per million of fasteners. "
        "A standard test decides what a securing element holds under vibration (DIN 25201-4, "
        "ISO 16130)."
    )
    assert "; less loosening by transverse slip;" in answer[1]
    in_doubt_of_it = judgement(
        MEETS, MEETS, limit(LOOSENING, doubted(from_counts(77, 100_000)), plain=MEETS)
    )
    _, _, answer = compared(judged[0], in_doubt_of_it, securing=(False, True))
    assert 'choose "B"' in answer[2]
    assert "predicts" not in answer[2]
    assert "less loosening" not in answer[1]
    assert "770" not in " ".join(answer)


def test_loosening_has_its_cost_where_it_is_judged(compared):
    loosening = replace(COST, per_loosening=400.0)
    judged = (
        judgement(MEETS, MEETS, limit(LOOSENING, from_counts(500, 100_000))),
        judgement(MEETS, MEETS, limit(LOOSENING, MEETS)),
    )
    found, choice, answer = compared(
        *judged, costs=(loosening, replace(loosening, per_joint=2.0)), securing=(False, True)
    )
    # 1 + 100 x 1e-4 + 50 x 1e-4 + 400 x 5e-3, and with 400 x 1e-4 at a joint of 2
    assert [each.expected_cost.value for each in found] == pytest.approx([3.015, 2.055])
    assert choice.best == 1
    # 1 + 400 x (1e-4 - 5e-3), known to 400 x 1e-4 and 150 x 1e-4
    assert found[1].cost_difference_to_first.value == pytest.approx(-0.96)
    assert "at the lowest expected cost" in answer[2]
