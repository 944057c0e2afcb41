"""What each source of scatter is worth: closed forms, and what may be said of it."""

import json
import math
from dataclasses import replace

import pytest
from controls import FRICTION, WRENCH, changed, result, source
from judgements import MEETS, MISSES, UNSURE, doubted, judgement
from scipy import stats

from preloadmc.chance.laws import Constant, LogNormal
from preloadmc.estimates.probability import from_counts
from preloadmc.questions.control.answer import NO_HELP, bias_words, control_words, leading_source
from preloadmc.questions.control.question import (
    RUN_BLOCK,
    RUN_PRECISION,
    RUN_SAMPLES,
    control,
    with_spread,
    without_bias,
)
from preloadmc.report.documents.control import control_document
from preloadmc.report.text.control import control_sections, estimated_words

# F = T/(K d), both lognormal: ln F is normal, so that every probability is closed.
T, K, D = 77.4e3, 0.18, 12.0
COV_T, COV_K = 0.05, 0.15
LAWS = {
    "friction": {"nut_factor": {"law": "lognormal", "mean": K, "cov": "15 %"}},
    "tightening.tool": {"law": "lognormal", "mean": "0 %", "cov": "5 %"},
}


def below(limit, cov_t=COV_T, cov_k=COV_K, torque=T):
    """P(F < limit): ln F has the mean m_T - m_K - ln d and the variance s_T² + s_K²."""
    s_t, s_k = (math.sqrt(math.log1p(cov * cov)) for cov in (cov_t, cov_k))
    mean = math.log(torque) - s_t**2 / 2 - (math.log(K) - s_k**2 / 2) - math.log(D)
    return float(stats.norm.cdf((math.log(limit) - mean) / math.hypot(s_t, s_k)))


def nut_factor_case(make_case, minimum, **more):
    return make_case(
        {
            **LAWS,
            "fastener.property_class": None,
            "requirement.minimum_preload": minimum,
            "requirement.maximum_preload": "200 kN",
            **more,
        }
    )


@pytest.mark.statistical
@pytest.mark.parametrize("minimum", [28e3, 20e3, 17.5e3])
def test_closed_form_of_two_lognormal_laws(make_case, seed, minimum):
    # 7 %, 1e-4 and 4e-7 as it is: plain samples, then the common mixture.
    case = nut_factor_case(make_case, f"{minimum} N")
    found = control(case, seed=seed, threads=1)
    assert [source.source for source in found.sources] == ["tool scatter", "nut factor"]
    assert [source.kind for source in found.sources] == ["tool", "friction"]
    tool, friction = found.sources
    as_is = below(minimum)
    exact = {
        "tool removed": (tool.removed, below(minimum, cov_t=0.0)),
        "tool halved": (tool.halved, below(minimum, cov_t=COV_T / 2)),
        "friction halved": (friction.halved, below(minimum, cov_k=COV_K / 2)),
    }
    before = found.as_is["under_preload"]
    assert before.low * 0.9 < as_is < before.high * 1.1
    for name, (after, probability) in exact.items():
        given = after.probabilities["under_preload"]
        # a wider interval than 95 % for so many at once
        assert given.low * 0.85 <= probability <= given.high * 1.15, name
        assert not given.low <= 1.5 * probability <= given.high, name
        difference = after.differences["under_preload"]
        half = difference.high - difference.low
        assert abs(difference.value - (probability - as_is)) <= half, name
        left = after.misses_left["under_preload"]
        assert left.low * 0.85 <= probability / as_is <= left.high * 1.15, name
    assert found.by_worth()[0] is friction


def test_pairs_make_the_interval_narrow(make_case, seed):
    # The tool hardly matters: the share of misses left is known far better than both
    # probabilities are.
    case = nut_factor_case(make_case, "28 kN")
    found = control(case, seed=seed, threads=1)
    tool = found.sources[0].removed
    left = tool.misses_left["under_preload"]
    one, other = tool.probabilities["under_preload"], found.as_is["under_preload"]
    apart = math.hypot(math.log(one.high / one.low), math.log(other.high / other.low))
    assert math.log(left.high / left.low) < 0.6 * apart


def test_a_source_that_does_nothing_changes_no_sample(make_case):
    case = make_case(
        {
            **LAWS,
            "requirement.minimum_preload": "28 kN",
            "fastener.yield_strength": {"law": "normal", "mean": "1100 MPa", "cov": "2 %"},
        }
    )
    found = control(case, seed=1, threads=1, most=2**16)
    strength = next(source for source in found.sources if source.kind == "strength")
    assert strength.removed.differences["under_preload"].value == 0.0
    assert strength.removed.misses_left["under_preload"].value == 1.0
    assert found.by_worth()[-1] is strength


def test_sources_are_inputs_groups_of_correlated_ones_and_kinds(make_case):
    law = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
    embedding = {"law": "lognormal", "mean": "8 um", "cov": "30 %"}
    relaxation = {"law": "uniform", "low": "0 %", "high": "6 %"}
    settling = {"settling": {"embedding": embedding, "relaxation": relaxation}}
    case = make_case({"friction": {"thread": law, "bearing": law, "correlation": 0.4}, **settling})
    found = control(case, seed=1, threads=1, most=2**14, block=2**14)
    assert [(source.source, source.kind) for source in found.sources] == [
        ("thread friction with bearing friction", "friction"),
        ("embedding", ""),
        ("relaxation", ""),
        ("all settling", "settling"),
    ]
    kinds = control(case, seed=1, threads=1, most=2**14, single=False)
    assert [source.kind for source in kinds.sources] == ["friction", "settling"]
    free = make_case({"friction": {"thread": law, "bearing": law}})
    labels = [source.source for source in control(free, seed=1, threads=1, most=2**14).sources]
    assert labels == ["thread friction", "bearing friction", "all friction"]


def test_removed_is_constant_at_the_mean_and_halved_keeps_law_and_mean(make_case):
    case = nut_factor_case(make_case, "28 kN")
    removed = with_spread(case, {"friction.nut_factor": 0.0})
    halved = with_spread(case, {"friction.nut_factor": 0.5})
    assert removed.laws["friction.nut_factor"] == Constant(K)
    law = halved.laws["friction.nut_factor"]
    assert isinstance(law, LogNormal)
    assert (law.mean, law.sd) == pytest.approx((K, 0.5 * COV_K * K))
    others = set(case.laws) - {"friction.nut_factor"}
    assert all(removed.laws[name] is case.laws[name] for name in others)


@pytest.mark.statistical
def test_a_corrected_bias(make_case, seed):
    case = nut_factor_case(make_case, "24 kN", **{"tightening.bias": "-10 %"})
    found = control(case, seed=seed, threads=1)
    corrected = found.bias_corrected.probabilities["under_preload"]
    assert corrected.low * 0.85 <= below(24e3) <= corrected.high * 1.15
    assert found.as_is["under_preload"].low * 0.85 <= below(24e3, torque=0.9 * T)
    assert without_bias(nut_factor_case(make_case, "24 kN")) is None
    # A tool described by its tests has its bias in the mean of its factor; its scatter is kept.
    tool = {"tolerance": "10 %", "cm": 2.0, "cmk": 1.5, "shift": "low"}
    tested = nut_factor_case(make_case, "24 kN", **{"tightening.tool": tool})
    law, before = without_bias(tested).laws["tightening.tool"], tested.laws["tightening.tool"]
    assert law.mean == pytest.approx(1.0)
    assert law.sd / law.mean == pytest.approx(before.sd / before.mean)


def test_nothing_to_control_where_nothing_scatters(make_case):
    assert control(make_case()) is None


def test_the_same_bits_for_any_number_of_threads(make_case):
    case = nut_factor_case(make_case, "20 kN")
    one, two = (control(case, seed=5, threads=threads) for threads in (1, 2))
    assert one.as_is == two.as_is
    assert one.sources == two.sources


# --- words


def judged(p=0.01, allowed=2e-3, reliable=True):
    """Half of the misses on each side, against what is allowed of it."""
    half = replace(from_counts(round(50_000 * p), 100_000), reliable=reliable)
    return judgement(half, half, allowed=(allowed, allowed))


def test_what_helps_and_what_does_not(make_case):
    best = changed(0.01, 0.005, 0.02), changed(0.1, 0.09, 0.12)
    friction = source("friction", *best, members=FRICTION)
    tool = source("tool", changed(0.95, 0.9, 1.0), members=WRENCH)
    words = (
        "controlling friction will help (outside the window 1.00 % -> 0.10 % with half the "
        "scatter); a better tool will not"
    )
    found = result(make_case, [tool, friction])
    assert control_words(judged(), found) == words
    # only what was judged anew is said to meet what is allowed
    assert control_words(judged(), found, confirmed=True) == words.replace(
        "with half the scatter)", "with half the scatter, which meets what is allowed)"
    )
    # a line that has figures already gets no more
    assert control_words(judged(), found, figures=False) == (
        "controlling friction will help; a better tool will not"
    )
    # a single input is named itself
    friction = source("friction", *best, members=("friction.nut_factor",))
    assert control_words(judged(), result(make_case, [friction])).startswith(
        "controlling nut factor will help ("
    )


def test_what_is_left_is_scaled_to_the_estimate_of_the_run(make_case):
    # the draws of control say 1.00 % as it is and 0.10 % after, the run says 2.00 %
    half = changed(0.1, 0.09, 0.12)
    friction = source("friction", half, members=FRICTION)
    words = control_words(judged(p=0.02), result(make_case, [friction]))
    assert words.startswith(
        "controlling friction will help (outside the window 2.00 % -> 0.20 % with half the scatter"
    )


def test_only_what_the_interval_supports_is_claimed(make_case):
    friction = source("friction", changed(0.01, 0.005, 0.02), members=FRICTION)
    # the tool might take half of the misses or none: nothing is said of it but that it does less
    unsure = source("tool", changed(0.7, 0.5, 1.1), members=WRENCH)
    assert control_words(judged(), result(make_case, [unsure, friction])).endswith(
        "; a better tool helps less"
    )
    # overlapping: not even that
    close = source("tool", changed(0.03, 0.01, 0.1), members=WRENCH)
    assert "tool" not in control_words(judged(), result(make_case, [close, friction]))
    # a best source that may or may not halve the misses
    weak = source("friction", changed(0.6, 0.4, 0.8), members=FRICTION)
    words = control_words(judged(), result(make_case, [weak]))
    assert words == (
        "no single source of scatter makes half of the misses: controlling friction is worth most "
        "(outside the window 1.00 % -> 0.60 % with no scatter)"
    )
    nothing = source("friction", changed(0.98, 0.9, 1.05), members=FRICTION)
    assert control_words(judged(), result(make_case, [nothing])) == NO_HELP
    assert NO_HELP == (
        "the samples do not show that control of any one source of scatter would help"
    )


def test_no_words_without_misses_or_sources(make_case):
    assert control_words(judged(p=0.0), result(make_case, [], p=0.0)) == ""
    assert control_words(judged(), result(make_case, [])) == ""
    part = replace(source("friction", changed(0.1, 0.05, 0.2), members=FRICTION), kind="")
    assert control_words(judged(), result(make_case, [part])) == ""


def test_an_estimate_in_doubt_ranks_nowhere(make_case):
    friction = source("friction", changed(0.01, 0.005, 0.02), members=FRICTION)
    assert control_words(judged(reliable=False), result(make_case, [friction])) == ""
    assert control_words(judged(), result(make_case, [friction], reliable=False)) == ""
    # friction would be first: its estimates are in doubt, and the tool is told alone
    tool = source("tool", changed(0.3, 0.25, 0.35), members=WRENCH)
    for doubtful in (
        changed(0.01, 0.005, 0.02, reliable=False),
        changed(0.1, 0.09, 0.12, reliable=False),
    ):
        sure = changed(0.05, 0.04, 0.06)
        pair = (
            (doubtful, sure)
            if doubtful.misses_left["outside_window"].value < 0.05
            else (sure, doubtful)
        )
        shaky = source("friction", *pair, members=FRICTION)
        words = control_words(judged(), result(make_case, [shaky, tool]))
        assert words == (
            "a better tool will help (outside the window 1.00 % -> 0.30 % with half the scatter)"
        )
    bias = changed(0.1, 0.08, 0.12, reliable=False)
    assert bias_words(judged(), result(make_case, [], bias)) == ""
    assert bias_words(judged(reliable=False), result(make_case, [], changed(0.1, 0.08, 0.12))) == ""


def test_which_source_may_be_all_that_lacks(make_case):
    enough, little = changed(0.1, 0.09, 0.12), changed(0.9, 0.85, 0.95, p=0.1)
    friction = source("friction", enough, members=FRICTION)
    lacking = judgement(MISSES, MEETS)
    # halved, 0.1 x 0.01 of both sides is well within 0.01
    assert leading_source(lacking, result(make_case, [friction])) is friction
    # not where a side is left above what is allowed, or in doubt
    weak = source("friction", enough, little, members=FRICTION)
    assert leading_source(lacking, result(make_case, [weak])) is None
    shaky = source("friction", enough, changed(0.1, 0.09, 0.12, reliable=False), members=FRICTION)
    assert leading_source(lacking, result(make_case, [shaky])) is None
    # nothing lacks where both sides are met, nor is it known where one is not resolved
    assert leading_source(judgement(), result(make_case, [friction])) is None
    assert leading_source(judgement(UNSURE, MEETS), result(make_case, [friction])) is None
    assert leading_source(judgement(doubted(MEETS)), result(make_case, [friction])) is None


def test_the_bias_is_named_where_it_takes_half_of_the_misses(make_case):
    helps, little = changed(0.1, 0.08, 0.12), changed(0.8, 0.7, 0.9)
    assert bias_words(judged(), result(make_case, [], helps)) == (
        "correct the tool's bias: every limit is then within what is allowed (outside the window "
        "1.00 % -> 0.10 %)"
    )
    assert bias_words(judged(), result(make_case, [], little)) == ""
    assert bias_words(judged(), result(make_case, [])) == ""
    # Half, known to be half or more.
    assert bias_words(judged(), result(make_case, [], changed(0.45, 0.4, 0.5))) != ""
    assert bias_words(judged(), result(make_case, [], changed(0.45, 0.4, 0.51))) == ""


def test_no_bias_is_named_where_nothing_is_missed(make_case):
    none = from_counts(0, 100_000)
    assert bias_words(judged(), result(make_case, [], changed(0.1, 0.08, 0.12), p=0.0)) == ""
    helps = result(make_case, [], changed(0.1, 0.08, 0.12))
    assert bias_words(judgement(none, none), helps) == ""
    friction = source("friction", changed(0.1, 0.08, 0.12), members=FRICTION)
    assert control_words(judged(), result(make_case, [friction])) != ""
    assert control_words(judged(), result(make_case, [friction], p=0.0)) == ""
    assert control_words(judgement(none, none), result(make_case, [friction])) == ""


@pytest.mark.statistical
def test_how_it_was_estimated_is_said(make_case, seed):
    # 7 % of too little preload and none of too much: counted; 4e-7: weighted
    common = control(nut_factor_case(make_case, "28 kN"), seed=seed, threads=1, most=2**18)
    assert common.methods("under_preload")[0] == "plain"
    assert estimated_words(common, "over_preload") == (
        f"counted on the same {common.samples:,} plain samples"
    )
    rare = control(nut_factor_case(make_case, "17.5 kN"), seed=seed, threads=1)
    assert rare.methods("under_preload")[0] == "importance"
    assert rare.draws > 0
    assert f"importance sampling on {rare.draws:,} common draws" in estimated_words(
        rare, "under_preload"
    )
    (*_, section) = control_sections(rare, "Value of control")
    assert f"{rare.draws:,} common draws" in section.blocks[-1].text
    document = control_document(rare)
    assert document["draws"] == rare.draws
    assert document["methods"]["under_preload"] == list(rare.methods("under_preload"))


def test_a_law_from_three_tests_leaves_every_ratio_a_number(make_case):
    """The common draws see no miss of a model whose misses lie in the far tail of few tests."""
    few = {"law": "lognormal", "mean": 0.12, "cov": "10 %", "tests": 3}
    case = make_case({"friction.thread": few, "friction.bearing": 0.12})
    found = control(case, seed=7, precision=RUN_PRECISION, most=RUN_SAMPLES, block=RUN_BLOCK)
    # An upper end may be infinite, where nothing bounds it; none may be no number.
    assert "NaN" not in json.dumps(control_document(found), default=list)
