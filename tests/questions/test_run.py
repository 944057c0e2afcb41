"""How likely is a miss? What a run says, and that it says no more than it knows."""

import math

import pytest
from scipy import stats

import preloadmc
from preloadmc import check, run
from preloadmc.errors import UsageError

FACTORS = [0.17, 0.18, 0.19, 0.2, 0.2, 0.21, 0.22, 0.23, 0.24, 0.25]
SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.13, "cov": "12 %"},
    "friction.bearing": {"law": "lognormal", "mean": 0.13, "cov": "14 %"},
    "tightening.tool": {"law": "normal", "cov": "6 %"},
    "settling.embedding": {"law": "normal", "mean": "8 um", "cov": "10 %"},
}


def test_the_house_opens_on_its_questions():
    assert set(preloadmc.__all__) >= {"check", "load_case", "rank", "run"}
    for name in preloadmc.__all__:
        assert getattr(preloadmc, name)
    with pytest.raises(AttributeError, match="module 'preloadmc' has no attribute 'guess'"):
        preloadmc.guess  # noqa: B018


def test_what_is_asked_comes_from_the_case_unless_given(make_case):
    case = make_case(SCATTER)
    plain = run(case)
    assert (plain.seed, plain.samples.n) == (7, 20_000)
    other = run(case, seed=8, samples=1000)
    assert (other.seed, other.asked_samples, other.samples.n) == (8, 1000, 1000)
    assert plain.case is case


def test_checks_count_among_the_model_calls(make_case):
    case = make_case({**SCATTER, "requirement.minimum_preload": "24 kN"})
    found = run(case, samples=20_000)
    under = found.estimates["under_preload"]
    assert under.probability.method == "importance"
    assert under.check.method == "subset"
    # ten runs of at least four levels of a thousand samples, of which 900 are new
    assert under.check_calls > 30_000
    assert under.model_calls >= under.probability.model_calls + under.check_calls
    others = sum(each.model_calls for each in found.estimates.values())
    assert found.model_calls == 20_000 + others


def test_a_precision_of_the_case_gives_way_to_a_count(make_case):
    case = make_case({**SCATTER, "sampling": {"precision": "50 %", "seed": 7}})
    assert run(case, samples=1000).asked_precision is None
    assert run(case).asked_precision == 0.5


def test_samples_and_precision_together(make_case):
    with pytest.raises(UsageError, match="samples and precision: give one of them"):
        run(make_case(SCATTER), samples=1000, precision=0.1)


def test_a_count_out_of_bounds(make_case):
    with pytest.raises(UsageError, match="samples is 0: it must be from 1 to 200,000,000"):
        run(make_case(SCATTER), samples=0)


def test_the_same_answer_for_any_number_of_threads(make_case, monkeypatch):
    case = make_case({**SCATTER, "requirement.minimum_preload": "30 kN"})
    one, two = (run(case, samples=70_000, threads=t) for t in (1, 2))
    assert one.answer == two.answer
    assert one.outcomes == two.outcomes
    monkeypatch.delattr("os.sched_getaffinity", raising=False)
    assert run(case, samples=70_000).outcomes == one.outcomes


@pytest.mark.statistical
def test_stages_moments_and_quantiles(make_case, seed):
    # A normal tool alone: F normal, so that every quantile is known.
    case = make_case({"tightening.tool": {"law": "normal", "cov": "5 %"}})
    result = run(case, seed=seed, samples=200_000)
    assembled, settled, residual = result.preload
    assert [stage.name for stage in result.preload] == ["assembled", "settled", "residual"]
    mean = check(case).nominal.path["assembled"]
    exact = stats.norm(mean, 0.05 * mean)
    for q in assembled.quantiles:
        error = math.sqrt(q.p * (1 - q.p) / 200_000) / exact.pdf(exact.ppf(q.p))
        assert abs(q.value - exact.ppf(q.p)) < 4.5 * error
        assert q.low < q.value < q.high
        assert q.high - q.low == pytest.approx(2 * 1.96 * error, rel=0.25)
    assert assembled.quantile(0.5) == assembled.quantiles[3].value
    assert residual.mean == settled.mean == pytest.approx(assembled.mean, rel=1e-12)


@pytest.mark.statistical
def test_capability_is_the_distance_to_the_window_in_three_sd(make_case, seed):
    case = make_case({"tightening.tool": {"law": "normal", "cov": "5 %"}})
    result = run(case, seed=seed, samples=200_000)
    mean = check(case).nominal.path["assembled"]
    assert result.capability["under"] == pytest.approx((mean - 28e3) / (0.15 * mean), rel=0.01)
    assert result.capability["over"] == pytest.approx((62e3 - mean) / (0.15 * mean), rel=0.01)


def test_the_governing_state_of_a_limit(make_case):
    case = make_case(
        {
            **SCATTER,
            "clamped": [{"material": "aluminium 6082", "thickness": "32 mm"}],
            "temperature": {
                "assembly": "20 degC",
                "state": [
                    {"name": "cold", "fastener": "-30 degC", "clamped": "-30 degC"},
                    {"name": "hot", "fastener": "60 degC", "clamped": "60 degC"},
                ],
            },
        }
    )
    limits = {limit.name: limit for limit in run(case, samples=5000).limits}
    assert limits["minimum preload"].governing_state == "cold"
    assert limits["maximum preload"].governing_state == "hot"
    assert limits["minimum preload"].sides == ("under",)


def test_nothing_scatters(make_case):
    result = run(make_case())
    assert result.ranking is result.control is None
    assert result.answer[1] == ("What dominates: nothing scatters, so nothing can be ranked.")
    assert set(result.capability.values()) == {math.inf}


def test_only_what_bounds_the_preload_scatters(make_case):
    # Yield scatters about the assembled preload: half of all joints yield, none is loose.
    yields = check(make_case()).nominal
    strength = 940 * yields.path["assembled"] / yields.yield_preload
    case = make_case(
        {
            "fastener.yield_strength": {"law": "normal", "mean": f"{strength} MPa", "sd": "20 MPa"},
            # Far above, so that none breaks.
            "fastener.tensile_strength": "1040 MPa",
        }
    )
    result = run(case, ranking=True)
    over = result.outcome("over_preload").probability
    assert over.low < 0.5 < over.high
    assert result.ranking is None
    # The variance of the residual preload knows of nothing, the misses know.
    assert result.answer[1] == (
        "What dominates: being too loose: no miss was found, so there is none to rank; being too "
        "tight: yield strength 100 %."
    )


def test_every_joint_misses(make_case):
    result = run(make_case({**SCATTER, "requirement.minimum_preload": "61 kN"}), samples=2000)
    under = result.outcome("under_preload")
    assert (under.probability.value, under.probability.high) == (1.0, 1.0)
    assert under.probability.beta == -math.inf
    assert under.label == "under-preload"


def test_a_table_says_nothing_beyond_its_extremes(make_case):
    table = {"law": "tabulated", "values": FACTORS}
    case = make_case(
        {
            "friction": {"nut_factor": table},
            "requirement.minimum_preload": "10 kN",
            "requirement.maximum_preload": "60 kN",
        }
    )
    result = run(case)
    assert (
        "friction.nut_factor is a tabulated law: it says nothing beyond its smallest and largest "
        "value." in result.warnings
    )
    said = [warning for warning in result.warnings if "nut factor is a table of 10" in warning]
    assert len(said) == 1
    assert "says nothing of probabilities below about 1/10" in said[0]
    # Every question carries it, and no line tells more than the table can.
    assert said[0] in check(case).warnings
    assert result.answer[0] == (
        "How likely: given these laws, below 10 % of fasteners end outside the preload window."
    )


@pytest.mark.slow
def test_importance_sampling_can_be_forced_on_steps(make_case):
    table = {"law": "tabulated", "values": [0.11, 0.12, 0.13, 0.14]}
    bearing = {"law": "lognormal", "mean": 0.13, "cov": "14 %"}
    case = make_case({"friction": {"thread": table, "bearing": bearing}})
    estimate = run(case, samples=2000, method="importance").estimates["under_preload"]
    # A step has no normal number of its own, so no way to a miss is told in those.
    assert estimate.likeliest_miss is None
    assert not estimate.probability.reliable


def test_no_such_warning_where_the_table_does_know(make_case):
    table = {"law": "tabulated", "values": FACTORS}
    case = make_case({"friction": {"nut_factor": table}, "requirement.minimum_preload": "29.5 kN"})
    result = run(case, samples=2000)
    assert 0.1 < result.outcome("under_preload").probability.value < 0.5
    assert not any(w.startswith("under-preload: ") for w in result.warnings)


def test_what_control_is_worth(make_case):
    asked = {"requirement.allowed_under": 1e-3, "requirement.allowed_over": 1e-3}
    case = make_case({**SCATTER, "requirement.minimum_preload": "32 kN", **asked})
    result = run(case, samples=50_000)
    best = result.control.by_worth()[0]
    assert best.source == "all friction"
    assert best.removed.differences["outside_window"].resolved
    removed = best.removed.probabilities["outside_window"]
    assert removed.value < result.outcome("outside_window").probability.low
    assert "ontrolling friction will help (outside the window " in result.answer[2]


def test_a_forced_estimator_that_is_not_used_is_named(make_case):
    # 77.4 N·m less 5 % makes well over the minimum: nothing that is sampled misses it
    tool = {"law": "uniform", "low": "-5 %", "high": "5 %"}
    found = run(make_case({"tightening.tool": tool}), method="subset")
    given = found.estimates["under_preload"].probability
    assert (given.method, given.bound) == ("plain", "upper")
    assert "subset simulation was asked for and found no miss" in given.note
    exact = run(make_case(), method="importance").estimates["under_preload"].probability
    assert "importance sampling was asked for, but nothing scatters" in exact.note


def test_an_unasked_estimator_needs_no_words(make_case):
    tool = {"law": "uniform", "low": "-5 %", "high": "5 %"}
    given = run(make_case({"tightening.tool": tool})).estimates["under_preload"].probability
    assert (given.bound, given.note) == ("upper", "")
