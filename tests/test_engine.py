"""Sampling: the same bits however it is shared out, a stop that is honest, answers known otherwise.

Closed forms: the lognormal nut factor, sums of rectangles. Another library: OpenTURNS on the same
inputs.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from preloadmc import engine, rank
from preloadmc.chance.laws import Normal
from preloadmc.chance.streams import CHUNK
from preloadmc.engine import FIRST_LOOK, sample
from preloadmc.errors import UsageError
from preloadmc.joint import evaluate, preload_path


def counted(misses, n, exact):
    """The exact binomial p-value of so many misses in n samples."""
    return stats.binomtest(misses, n, exact).pvalue


def assert_agrees_and_would_notice(misses, n, exact, wrong=0.02):
    """The count fits the exact probability, and would not fit one ``wrong`` off by that share."""
    assert counted(misses, n, exact) > 1e-4
    assert min(counted(misses, n, exact * (1 + s * wrong)) for s in (-1, 1)) < 1e-4


def same_bits(one, other):
    assert one.misses == other.misses
    assert one.margin_misses == other.margin_misses
    assert one.moments == other.moments
    assert np.array_equal(one.kept.z, other.kept.z)
    assert np.array_equal(one.kept.margins, other.kept.margins)
    for stage, preload in one.kept.path.items():
        assert np.array_equal(preload, other.kept.path[stage])


SCATTERED = {
    "friction.thread": {"law": "lognormal", "mean": 0.13, "cov": "12 %"},
    "friction.bearing": {"law": "lognormal", "mean": 0.13, "cov": "14 %"},
    "friction.correlation": 0.4,
    "tightening.torque": "84 N·m",
    "tightening.tool": {"law": "normal", "cov": "6 %"},
    "settling.embedding": {"law": "gumbel", "mean": "8 um", "cov": "20 %"},
    "settling.relaxation": {"law": "uniform", "low": "2 %", "high": "6 %"},
}


@pytest.mark.parametrize("threads", [2, 3])
def test_the_same_bits_for_any_number_of_threads(make_case, threads):
    case = make_case(SCATTERED)
    one, many = (
        sample(case, seed=5, samples=3 * CHUNK + 77, precision=None, threads=t)
        for t in (1, threads)
    )
    assert one.n == 3 * CHUNK + 77
    same_bits(one, many)


def test_the_same_bits_for_any_order_of_keys(make_case):
    def backwards(table):
        return {
            key: backwards(value) if isinstance(value, dict) else value
            for key, value in reversed(table.items())
        }

    case = make_case(SCATTERED)
    tables = {}
    for path, value in reversed(SCATTERED.items()):
        table, _, key = path.partition(".")
        tables.setdefault(table, {})[key] = value
    tables["tightening"]["method"] = "torque"
    turned = make_case({name: backwards(table) for name, table in tables.items()})
    assert list(turned.laws.items()) == list(case.laws.items())
    same_bits(*(sample(c, seed=5, samples=1000, precision=None) for c in (case, turned)))


def test_the_same_samples_in_another_unit_system(make_case):
    metric = make_case({**SCATTERED, "fastener.thread": "1/2-13 UNC"})
    inch = make_case(
        {
            **SCATTERED,
            "fastener.thread": "1/2-13 UNC",
            "fastener.bearing_outer_diameter": f"{16.63 / 25.4!r} in",
            "fastener.hole_diameter": f"{13.5 / 25.4!r} in",
            "tightening.torque": f"{84e3 / 4.4482216152605 / 304.8!r} lbf·ft",
            "settling.embedding": {"law": "gumbel", "mean": f"{8 / 25.4!r} mil", "cov": 0.2},
            "requirement.minimum_preload": f"{28 / 4.4482216152605!r} kip",
        }
    )
    ours, theirs = (sample(c, seed=5, samples=1000, precision=None) for c in (metric, inch))
    assert ours.misses == theirs.misses
    assert ours.kept.margins == pytest.approx(theirs.kept.margins, rel=1e-9, abs=1e-5)


def test_another_seed_is_another_sample(make_case):
    case = make_case(SCATTERED)
    one, two = (sample(case, seed=s, samples=1000, precision=None) for s in (0, 1))
    assert not np.intersect1d(one.kept.z, two.kept.z).size


@pytest.mark.parametrize("n", [1, CHUNK - 1, CHUNK, CHUNK + 1, 5 * CHUNK + 3])
def test_counts_moments_and_what_is_kept(make_case, n):
    case = make_case(SCATTERED)
    drawn = sample(case, seed=3, samples=n, precision=None, threads=2)
    kept = min(n, engine.KEPT_CHUNKS * CHUNK)
    assert drawn.n == n
    assert drawn.kept.z.shape == (kept, 5) == (kept, len(drawn.columns))
    assert drawn.kept.margins.shape == (kept, len(drawn.limits))
    assert list(drawn.moments) == ["assembled", "settled", "residual"]
    assert {moments.n for moments in drawn.moments.values()} == {n}
    under, over = drawn.misses["under_preload"], drawn.misses["over_preload"]
    assert max(under, over) <= drawn.misses["outside_window"] <= under + over
    if kept == n:
        assert under == drawn.kept.under.sum()
        assert over == drawn.kept.over.sum()
        assert drawn.margin_misses == tuple((drawn.kept.margins < 0).sum(axis=0))
        settled = drawn.kept.path["settled"]
        assert drawn.moments["settled"].mean == pytest.approx(settled.mean(), rel=1e-12)
        assert drawn.moments["settled"].maximum == settled.max()


def test_more_samples_begin_with_the_fewer(make_case):
    case = make_case(SCATTERED)
    few, many = (sample(case, seed=3, samples=n, precision=None) for n in (CHUNK, 2 * CHUNK))
    assert np.array_equal(few.kept.z, many.kept.z[:CHUNK])


def test_the_path_ends_with_the_smallest_of_its_states(make_case):
    case = make_case(
        {
            **SCATTERED,
            "clamped": [{"material": "aluminium 6082", "thickness": "20 mm"}],
            "temperature": {
                "assembly": "20 degC",
                "state": [
                    {"name": "hot", "fastener": "90 degC", "clamped": "90 degC"},
                    {"name": "cold", "fastener": "-30 degC", "clamped": "-30 degC"},
                ],
            },
        }
    )
    drawn = sample(case, seed=3, samples=1000, precision=None)
    assert list(drawn.kept.path) == ["assembled", "settled", "hot", "cold", "residual"]
    judged = np.stack([drawn.kept.path[name] for name in ("settled", "hot", "cold")])
    assert np.array_equal(drawn.kept.path["residual"], judged.min(axis=0))
    state = evaluate(case.joint, case.inputs(drawn.kept.z, drawn.columns))
    assert np.array_equal(preload_path(state)["residual"], state.residual)


@pytest.mark.parametrize("samples", [0, -1, 200_000_001, 10**12])
def test_a_count_out_of_bounds(make_case, samples):
    words = rf"samples is {samples}: it must be from 1 to 200,000,000"
    with pytest.raises(UsageError, match=words):
        sample(make_case(), seed=1, samples=samples, precision=None)


def nut_factor_case(make_case, beta=1.0, **more):
    """F = T (1 + e)/(K d), lognormal tool 5 % and nut factor 15 %; misses with Phi(-beta).

    ln F is normal: mean ln(T/d) + m_T - m_K, variance s_T² + s_K² with s² = ln(1 + cov²) and
    m = ln(mean) - s²/2.
    """
    s2_tool, s2_factor = math.log1p(0.05**2), math.log1p(0.15**2)
    m = math.log(90e3 / 12) - s2_tool / 2 - math.log(0.2) + s2_factor / 2
    s = math.sqrt(s2_tool + s2_factor)
    case = make_case(
        {
            "fastener.property_class": None,
            "friction": {"nut_factor": {"law": "lognormal", "mean": 0.2, "cov": 0.15}},
            "tightening.torque": "90 N·m",
            "tightening.tool": {"law": "lognormal", "cov": 0.05},
            "requirement.minimum_preload": f"{math.exp(m - beta * s)!r} N",
            "requirement.maximum_preload": "1 MN",
            **more,
        }
    )
    return case, stats.lognorm(s, scale=math.exp(m))


@pytest.mark.statistical
@pytest.mark.parametrize("beta", [0.5, 2.0])
def test_probability_of_a_lognormal_preload(make_case, seed, beta):
    case, _ = nut_factor_case(make_case, beta)
    drawn = sample(case, seed=seed, samples=1_000_000, precision=None, threads=2)
    exact = stats.norm.sf(beta)
    wrong = 0.04 if beta > 1 else 0.02
    assert_agrees_and_would_notice(drawn.misses["under_preload"], drawn.n, exact, wrong)
    estimate = drawn.probability("under_preload", confidence=0.9999)
    assert estimate.low < exact < estimate.high
    assert drawn.misses["over_preload"] == 0


@pytest.mark.statistical
def test_distribution_of_a_lognormal_preload(make_case, seed):
    case, exact = nut_factor_case(make_case)
    drawn = sample(case, seed=seed, samples=engine.KEPT_CHUNKS * CHUNK, precision=None)
    preload = drawn.kept.path["assembled"]
    assert stats.kstest(preload, exact.cdf).pvalue > 1e-4
    assert stats.kstest(1.005 * preload, exact.cdf).pvalue < 1e-4
    moments, n = drawn.moments["assembled"], drawn.n
    assert abs(moments.mean - exact.mean()) < 4 * exact.std() / math.sqrt(n)
    kurtosis = float(exact.stats("k"))
    error = exact.std() * math.sqrt((kurtosis + 2) / (4 * n))  # large-sample s.d. of the s.d.
    assert abs(moments.sd - exact.std()) < 4 * error < 0.02 * exact.std()


@pytest.mark.statistical
def test_sobol_indices_of_a_lognormal_preload(make_case, seed):
    # Product of independent lognormals, S = s_T² + s_K²: S_i = (exp(s_i²) - 1)/(exp(S) - 1),
    # S_Ti = 1 - (exp(S - s_i²) - 1)/(exp(S) - 1).
    case, _ = nut_factor_case(make_case)
    result = rank(case, seed=seed, base_samples=2**13)
    indices = result.indices
    exact = {
        "tightening.tool": (0.09978, 0.10202),
        "friction.nut_factor": (0.89798, 0.90022),
    }
    for place, (name,) in enumerate(result.members):
        first, total = exact[name]
        for value, low, wanted in (
            (indices.first[place], indices.first_low[place], first),
            (indices.total[place], indices.total_low[place], total),
        ):
            half = value - low  # 1.96 s.d.
            assert abs(value - wanted) < 2 * half
            assert half < 0.04
    assert result.members[result.order[0]] == ("friction.nut_factor",)
    assert math.sqrt(indices.variance) == pytest.approx(
        0.15829 * 90e3 / 12 / 0.2 * (1 + 0.15**2), rel=0.02
    )


RECTANGLES = {
    # F_min, F, settling and temperature, each rectangular with s.d. 1 kN in the margin; the torque
    # equation is linear in torque: 30 kN at 72 N·m.
    "fastener.property_class": None,
    "friction": {"nut_factor": 0.2},
    "tightening.torque": {"law": "uniform", "mean": "72 N·m", "sd": "2.4 N·m"},
    "settling.embedding": {"law": "uniform", "mean": "16 um", "sd": "4 um"},
    "temperature.thermal_change": {"law": "uniform", "mean": "0 kN", "sd": "1 kN"},
    "requirement.minimum_preload": {"law": "uniform", "mean": "20 kN", "sd": "1 kN"},
    "requirement.maximum_preload": "62 kN",
}


@pytest.mark.published
@pytest.mark.statistical
@pytest.mark.parametrize(
    ("wide", "uncertainty", "half"),
    [
        (None, 2.00, 3.88),
        ({"law": "uniform", "mean": "0 kN", "sd": "10 kN"}, 10.1, 17.0),
    ],
)
def test_sum_of_four_rectangles(make_case, seed, wide, uncertainty, half):
    # JCGM 101:2008, 9.2.3 and 9.2.4 (values from memory): u = 2.00 and 95 % [-3.88, 3.88] for four
    # rectangles of s.d. 1; u = 10.1 and [-17.0, 17.0] where one of them has s.d. 10.
    case = make_case(
        RECTANGLES if wide is None else {**RECTANGLES, "temperature.thermal_change": wide}
    )
    drawn = sample(case, seed=seed, samples=engine.KEPT_CHUNKS * CHUNK, precision=None)
    (place,) = [
        i
        for i, limit in enumerate(drawn.limits)
        if (limit.name, limit.state) == ("minimum preload", "service")
    ]
    margin = drawn.kept.margins[:, place] / 1e3
    centre = 30 - 4 - 20
    assert margin.mean() == pytest.approx(centre, abs=5 * uncertainty / math.sqrt(len(margin)))
    # The last printed digit, and the sampling error of a quantile: sqrt(p q/n)/density.
    digit = 0.005 if uncertainty < 5 else 0.05
    assert margin.std() == pytest.approx(uncertainty, abs=digit + 0.002 * uncertainty)
    low, high = np.quantile(margin, [0.025, 0.975]) - centre
    assert (low, high) == pytest.approx((-half, half), abs=digit + 0.01 * uncertainty)
    assert stats.kstest(margin, stats.norm(centre, uncertainty).cdf).pvalue < 1e-4


TESTS = [
    *(23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8),
    *(34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7),
]


@pytest.mark.published
@pytest.mark.statistical
def test_twenty_published_tests_come_back(make_case, seed):
    # Shigley, 9th ed., Table 8-13, p. 438 (Blake and Kurtz 1965): 20 preloads at 90 N·m, mean
    # 34.3 kN, s.d. 4.91 kN with divisor 19, 4.785 with divisor 20. Their nut factors
    # K = T/(F d), taken as a table, give the preloads back.
    factors = [90.0 / (12.0 * force) for force in TESTS]
    case = make_case(
        {
            "fastener.property_class": None,
            "friction": {"nut_factor": {"law": "tabulated", "values": factors}},
            "tightening.torque": "90 N·m",
            "requirement.minimum_preload": "25 kN",
        }
    )
    n = 1_000_000
    drawn = sample(case, seed=seed, samples=n, precision=None, threads=2)
    moments = drawn.moments["assembled"]
    assert moments.mean / 1e3 == pytest.approx(34.26, abs=4 * 4.785 / math.sqrt(n))
    assert moments.sd / 1e3 == pytest.approx(4.785, abs=0.01)
    found = np.unique(np.round(drawn.kept.path["assembled"] / 1e3, 9))
    assert found.tolist() == pytest.approx(sorted(set(TESTS)), rel=1e-8)
    # one of twenty lies below 25 kN
    assert_agrees_and_would_notice(drawn.misses["under_preload"], n, 1 / 20, 0.03)


@pytest.mark.statistical
def test_the_whole_chain_against_openturns(make_case, seed):
    # Torque, two correlated frictions, tool, embedding, relaxation and a hot state, in OpenTURNS
    # as one formula on the same laws with a Gaussian copula.
    ot = pytest.importorskip("openturns")
    case = make_case(
        {
            **SCATTERED,
            "clamped": [{"modulus": "70 GPa", "expansion": "23e-6 1/K", "thickness": "30 mm"}],
            "fastener.material": None,
            "fastener.modulus": "205 GPa",
            "fastener.expansion": "11.7e-6 1/K",
            "temperature": {
                "assembly": "20 degC",
                "state": [
                    {
                        "name": "cold",
                        "fastener": {"law": "normal", "mean": "-10 degC", "sd": "4 K"},
                        "clamped": {"law": "normal", "mean": "-20 degC", "sd": "5 K"},
                    }
                ],
            },
            "requirement.minimum_preload": "27 kN",
            "requirement.maximum_preload": "50 kN",
        }
    )
    thread = case.joint.thread
    marginals = [
        ot.LogNormalMuSigma(0.13, 0.12 * 0.13, 0.0).getDistribution(),
        ot.LogNormalMuSigma(0.13, 0.14 * 0.13, 0.0).getDistribution(),
        ot.Normal(1.0, 0.06),
        ot.GumbelMuSigma(0.008, 0.0016).getDistribution(),
        ot.Uniform(0.02, 0.06),
        ot.Normal(263.15, 4.0),
        ot.Normal(253.15, 5.0),
    ]
    dependence = ot.CorrelationMatrix(7)
    dependence[0, 1] = 0.4
    joint = ot.JointDistribution(marginals, ot.NormalCopula(dependence))
    # d2/2 tan(phi + rho'), with the tangents of both angles.
    lead = thread.pitch / (math.pi * thread.pitch_diameter)
    rubs = f"{1 / math.cos(math.radians(30))!r}*mt"
    arm = f"{thread.pitch_diameter / 2!r}*({lead!r}+{rubs})/(1-{lead!r}*{rubs})"
    assembled = f"84e3*e/({arm}+{(16.63 + 13.5) / 4!r}*mb)"
    settled = f"({assembled}-fz/4e-6)*(1-r)"
    cold = f"{settled}+(23e-6*30*(tp-293.15)-11.7e-6*30*(ts-293.15))/4e-6"
    formula = ot.SymbolicFunction(
        ["mt", "mb", "e", "fz", "r", "ts", "tp"],
        [assembled, f"min({settled},{cold})", f"max({assembled},{cold})"],
    )
    ot.RandomGenerator.SetSeed(seed)
    theirs = np.asarray(formula(joint.getSample(400_000)))
    n = 1_000_000
    drawn = sample(case, seed=seed, samples=n, precision=None, threads=2)
    yields = [limit.name == "yield" for limit in drawn.limits]
    assert not np.array(drawn.margin_misses)[yields].any()

    for column, stage in ((0, "assembled"), (1, "residual")):
        ours = drawn.kept.path[stage]
        assert stats.ks_2samp(ours, theirs[:, column]).pvalue > 1e-4
        assert stats.ks_2samp(1.005 * ours, theirs[:, column]).pvalue < 1e-4
        error = ours.std() * math.sqrt(1 / n + 1 / len(theirs))
        assert abs(drawn.moments[stage].mean - theirs[:, column].mean()) < 4 * error
        assert drawn.moments[stage].sd == pytest.approx(theirs[:, column].std(), rel=0.01)
    for outcome, missed in (
        ("under_preload", theirs[:, 1] < 27e3),
        ("over_preload", theirs[:, 2] > 50e3),
    ):
        table = np.array(
            [
                [drawn.misses[outcome], n - drawn.misses[outcome]],
                [missed.sum(), (~missed).sum()],
            ]
        )
        assert stats.chi2_contingency(table).pvalue > 1e-4
        assert missed.sum() > 1000
        fewer = table.copy()
        fewer[0] = [0.85 * table[0, 0], n - 0.85 * table[0, 0]]
        assert stats.chi2_contingency(fewer).pvalue < 1e-4


def looks(case, precision, **more):
    """The planned counts at which sampling looked, and what it gave."""
    planned = []
    drawn = sample(
        case,
        seed=2,
        samples=None,
        precision=precision,
        progress=lambda done, plan: planned.append(plan),
        **more,
    )
    return list(dict.fromkeys(planned)), drawn


def test_a_precision_is_looked_at_on_doubling_counts(make_case):
    # Only the under side is asked for: over is far below a tenth of what is allowed.
    case, _ = nut_factor_case(make_case, 1.0, **{"requirement.allowed_over": "1 %"})
    planned, drawn = looks(case, 0.006)
    assert planned == [FIRST_LOOK * 2**k for k in range(len(planned))]
    assert drawn.n == planned[-1]
    assert drawn.stopped == "requested precision of 0.6 % reached"
    assert drawn.probability("under_preload").relative_half_width <= 0.006
    half = sample(case, seed=2, samples=planned[-2], precision=None)
    assert half.probability("under_preload").relative_half_width > 0.006


def test_a_precision_is_not_reached_on_fewer_than_a_hundred_misses(make_case):
    beta = stats.norm.isf(50 / FIRST_LOOK)
    case, _ = nut_factor_case(make_case, beta, **{"requirement.allowed_over": "1 %"})
    _, drawn = looks(case, 1.0)
    assert drawn.n > FIRST_LOOK
    assert drawn.misses["under_preload"] >= 100


def test_an_outcome_far_below_what_is_allowed_is_dropped_from_the_stop_rule(make_case):
    # Upper limits below a tenth of allowed: under about 3e-4 of 1 %, over zero misses.
    allowed = {"requirement.allowed_under": "1 %", "requirement.allowed_over": "1 %"}
    case, _ = nut_factor_case(make_case, stats.norm.isf(3e-4), **allowed)
    planned, drawn = looks(case, 0.01)
    assert planned == [FIRST_LOOK]
    assert drawn.probability("under_preload").relative_half_width > 0.01
    tight = replace(case, requirement=replace(case.requirement, allowed_under=1e-3))
    assert looks(tight, 0.1)[1].n > FIRST_LOOK


def test_the_cap_is_said(make_case):
    case, _ = nut_factor_case(make_case, 1.0)
    planned, drawn = looks(case, 0.01, most=3 * CHUNK)
    assert planned == [2 * CHUNK, 3 * CHUNK]
    assert drawn.stopped == (
        "stopped at the most allowed, 196,608 samples, short of the requested precision of 1 %"
    )


def test_zero_misses_are_an_upper_bound(make_case):
    case, _ = nut_factor_case(make_case, 12.0)
    estimate = sample(case, seed=1, samples=1000, precision=None).probability("under_preload")
    assert (estimate.value, estimate.low, estimate.bound) == (0.0, 0.0, "upper")
    assert estimate.high == pytest.approx(1 - 0.025 ** (1 / 1000), rel=1e-12)
    assert 1000 * estimate.high == pytest.approx(3.69, abs=0.01)


def test_a_case_without_scatter(make_case):
    drawn = sample(make_case(), seed=1, samples=CHUNK + 1, precision=None)
    assert drawn.columns == ()
    assert drawn.misses.keys() > set(engine.OUTCOMES)
    assert set(drawn.misses.values()) == {0}
    assert drawn.moments["residual"].sd == pytest.approx(0.0, abs=1e-9)


def test_columns_that_a_case_holds_constant_are_passed_over(make_case):
    case = make_case({"tightening.tool": {"law": "normal", "cov": "5 %"}})
    z = np.array([[3.0, 1.0], [-3.0, 1.0]])
    found = case.inputs(z, ("friction.thread", "tightening.tool"))
    alone = case.inputs(z[:, 1:], case.uncertain)
    assert isinstance(case.laws["tightening.tool"], Normal)
    assert np.array_equal(found["tightening.tool"], alone["tightening.tool"])
    assert found["friction.thread"] == alone["friction.thread"] == case.means["friction.thread"]
