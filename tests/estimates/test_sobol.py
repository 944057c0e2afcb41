import math
import subprocess
import sys

import numpy as np
import openturns as ot
import pytest
from SALib.analyze import sobol as salib_analysis
from SALib.sample import sobol as salib_design
from scipy.special import ndtr, ndtri

from preloadmc.errors import EstimateError, NotFiniteError, UsageError
from preloadmc.estimates.sobol import sobol_convergence, sobol_indices

NAMES = ("x1", "x2", "x3")


def ishigami(z):
    x = np.pi * (2.0 * ndtr(z) - 1.0)
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def preload_by_nut_factor(z):
    torque = np.exp(math.sqrt(math.log1p(0.05**2)) * z[:, 0])
    nut_factor = np.exp(math.sqrt(math.log1p(0.15**2)) * z[:, 1])
    return torque / nut_factor


@pytest.mark.published
def test_ishigami():
    # T. Ishigami, T. Homma, Proc. ISUMA '90 (1990) 398; a = 7, b = 0.1, analytic indices
    indices = sobol_indices(ishigami, NAMES, seed=1, base_samples=2**14, second_order=True)
    assert indices.variance == pytest.approx(13.8446, rel=1e-3)
    assert indices.first == pytest.approx([0.3139, 0.4424, 0.0], abs=2e-3)
    assert indices.total == pytest.approx([0.5576, 0.4424, 0.2437], abs=2e-3)
    assert indices.order == NAMES
    # only x1 and x3 act together: 0.5576 - 0.3139
    values = {pair.names: pair.value for pair in indices.pairs}
    assert values[("x1", "x3")] == pytest.approx(0.2437, abs=3e-3)
    assert values[("x1", "x2")] == pytest.approx(0.0, abs=3e-3)
    assert all(pair.low < pair.value < pair.high for pair in indices.pairs)
    assert indices.model_calls == 2**14 * 8


def test_lognormal_product_closed_form():
    # F = T/(K d), s_i^2 = ln(1 + cov_i^2), S their sum:
    # S_i = (e^(s_i^2) - 1)/(e^S - 1), ST_i = 1 - (e^(S - s_i^2) - 1)/(e^S - 1)
    indices = sobol_indices(preload_by_nut_factor, ("T", "K"), seed=2, base_samples=2**14)
    assert indices.first == pytest.approx([0.09978, 0.89798], abs=1e-3)
    assert indices.total == pytest.approx([0.10202, 0.90022], abs=1e-3)
    mean = math.exp(0.5 * math.log1p(0.05**2) + 0.5 * math.log1p(0.15**2))
    assert math.sqrt(indices.variance) / mean == pytest.approx(0.15829, rel=2e-3)


def test_same_model_against_openturns():
    law = ot.JointDistribution([ot.Normal(0.0, 1.0)] * 3)
    function = ot.PythonFunction(3, 1, func_sample=lambda z: ishigami(np.asarray(z)).reshape(-1, 1))
    ot.RandomGenerator.SetSeed(1)
    size = 2**14
    experiment = ot.SobolIndicesExperiment(law, size, False).generate()
    reference = ot.SaltelliSensitivityAlgorithm(experiment, function(experiment), size)
    indices = sobol_indices(ishigami, NAMES, seed=3, base_samples=size)
    assert indices.first == pytest.approx(np.array(reference.getFirstOrderIndices()), abs=0.03)
    assert indices.total == pytest.approx(np.array(reference.getTotalOrderIndices()), abs=0.03)


def _by_salib(model, columns, size, second_order, groups=None):
    problem = {
        "num_vars": columns,
        "names": [f"z{i}" for i in range(columns)],
        "bounds": [[0.0, 1.0]] * columns,
    }
    if groups:
        problem["groups"] = groups
    unit = salib_design.sample(
        problem, size, calc_second_order=second_order, seed=np.random.default_rng(5)
    )
    return salib_analysis.analyze(
        problem, model(ndtri(unit)), calc_second_order=second_order, num_resamples=400, seed=5
    )


@pytest.mark.parametrize("second_order", [False, True])
def test_indices_are_those_of_salib_and_intervals_those_of_its_bootstrap(second_order):
    size = 2**10
    expected = _by_salib(ishigami, 3, size, second_order)
    indices = sobol_indices(ishigami, NAMES, seed=5, base_samples=size, second_order=second_order)
    assert indices.first == pytest.approx(expected["S1"], rel=1e-9, abs=1e-12)
    assert indices.total == pytest.approx(expected["ST"], rel=1e-9, abs=1e-12)
    # 400 resamples know a spread to 1/sqrt(800) = 3.5 %; four of these
    assert indices.first_high - indices.first == pytest.approx(expected["S1_conf"], rel=0.15)
    assert indices.total - indices.total_low == pytest.approx(expected["ST_conf"], rel=0.15)
    for pair in indices.pairs:
        i, k = (NAMES.index(name) for name in pair.names)
        assert pair.value == pytest.approx(expected["S2"][i, k], rel=1e-9, abs=1e-12)
        assert pair.high - pair.value == pytest.approx(expected["S2_conf"][i, k], rel=0.15)


def test_groups_are_those_of_salib_in_any_order():
    size = 2**8
    expected = _by_salib(ishigami, 3, size, False, ["b", "a", "b"])
    indices = sobol_indices(ishigami, ("a", "b"), groups=[[1], [0, 2]], seed=5, base_samples=size)
    assert indices.first == pytest.approx(expected["S1"][::-1], rel=1e-9)
    assert indices.total == pytest.approx(expected["ST"][::-1], rel=1e-9)
    # x2 is additive to the rest: first equals total, and the two shares make the whole
    exact = sobol_indices(ishigami, ("a", "b"), groups=[[1], [0, 2]], seed=5, base_samples=2**13)
    assert exact.total == pytest.approx([0.4424, 0.5576], abs=3e-3)
    assert exact.first == pytest.approx(exact.total, abs=5e-3)


@pytest.mark.statistical
def test_intervals_cover(seed):
    exact = np.array([0.5576, 0.4424, 0.2437])
    covered = np.zeros(3)
    for run in range(40):
        indices = sobol_indices(ishigami, NAMES, seed=seed + run, base_samples=2**8)
        covered += (indices.total_low <= exact) & (exact <= indices.total_high)
    # a binomial(40, 0.95) falls below 33 with probability 1e-3
    assert (covered >= 33).all()
    # intervals far too wide would cover too
    assert (indices.total_high - indices.total_low < 0.5).all()


def test_designs_are_added_until_the_leading_order_is_settled():
    clear = sobol_indices(
        lambda z: z @ [2.0, 1.0, 0.5], NAMES, seed=1, base_samples=512, most_replicates=16
    )
    assert clear.replicates == 1
    assert clear.ordering.unsettled() == ()
    close = sobol_indices(
        lambda z: z @ [1.0, 1.04, 0.3], NAMES, seed=1, base_samples=512, most_replicates=64
    )
    assert 1 < close.replicates < 64
    assert close.order == ("x2", "x1", "x3")
    assert close.model_calls == close.replicates * 512 * 5
    # 1 : 1.0816 : 0.09
    assert close.total == pytest.approx(np.array([1.0, 1.0816, 0.09]) / 2.1716, abs=0.01)
    # equal ones are never told apart: the cap ends it, and the order says so
    equal = sobol_indices(
        lambda z: z @ [1.0, 1.0, 0.3], NAMES, seed=1, base_samples=128, most_replicates=3
    )
    assert equal.replicates == 3
    assert len(equal.ordering.unsettled(leading=2)) == 1


def test_replicates_narrow_the_intervals():
    one, four = (
        sobol_indices(ishigami, NAMES, seed=1, base_samples=512, replicates=n, second_order=True)
        for n in (1, 4)
    )
    assert four.replicates == 4
    assert four.model_calls == 4 * one.model_calls
    width = (one.total_high - one.total_low) / (four.total_high - four.total_low)
    assert width == pytest.approx(2.0, rel=0.15)
    off = np.abs(four.total - [0.5576, 0.4424, 0.2437])
    assert (off < 1.5 * (four.total_high - four.total)).all()
    pair = four.pairs[1]
    assert pair.names == ("x1", "x3")
    assert abs(pair.value - 0.2437) < 1.5 * (pair.high - pair.value) < 0.15


def test_indices_from_growing_parts_of_one_design():
    growing = sobol_convergence(ishigami, NAMES, seed=4, base_samples=1024)
    assert [part.base_samples for part in growing] == [64, 128, 256, 512, 1024]
    last = sobol_indices(ishigami, NAMES, seed=4, base_samples=1024)
    assert growing[-1].total == pytest.approx(last.total, rel=1e-12)
    assert growing[-1].first_low == pytest.approx(last.first_low, rel=1e-12)
    part = sobol_indices(ishigami, NAMES, seed=4, base_samples=128)
    assert growing[1].total == pytest.approx(part.total, rel=1e-12)
    widths = [float(part.total_high[0] - part.total_low[0]) for part in growing]
    assert widths[0] > 2.0 * widths[-1]
    (only,) = sobol_convergence(ishigami, NAMES, seed=4, base_samples=32)
    assert only.base_samples == 32


def test_the_covariance_knows_what_is_in_common():
    # the variance of the difference of two total indices, from many seeds and from one
    found = [
        sobol_indices(ishigami, NAMES, seed=seed, base_samples=256).ordering for seed in range(30)
    ]
    halves = np.mean([order.half_width(0, 1) for order in found]) / 1.96
    scatter = np.std([order.values[0] - order.values[1] for order in found], ddof=1)
    # a scrambled sequence scatters less than the independent samples that the interval assumes
    assert 0.3 * halves < scatter < 1.2 * halves


def test_seed_zero_is_a_seed():
    first, again, other = (
        sobol_indices(ishigami, NAMES, seed=seed, base_samples=64).total for seed in (0, 0, 1)
    )
    assert (first == again).all()
    assert (first != other).any()


def test_what_cannot_be_ranked():
    with pytest.raises(EstimateError, match="does not vary"):
        sobol_indices(lambda z: np.full(len(z), 0.1), NAMES, seed=1, base_samples=64)
    with pytest.raises(NotFiniteError, match="NaN or infinite"):
        sobol_indices(lambda z: np.where(z[:, 0] > 0, np.nan, 1.0), NAMES, seed=1, base_samples=64)
    with pytest.raises(UsageError, match="power of two, given 100"):
        sobol_indices(ishigami, NAMES, seed=1, base_samples=100)
    with pytest.raises(ValueError, match="distinct"):
        sobol_indices(ishigami, ("a", "a", "b"), seed=1)
    with pytest.raises(ValueError, match="every column exactly once"):
        sobol_indices(ishigami, ("a", "b"), groups=[[0], [0, 1]], seed=1)


def test_slow_libraries_stay_out_until_needed():
    code = (
        "import sys, preloadmc.estimates.sobol, preloadmc.estimates.probability; "
        "assert not {'SALib', 'scipy.stats', 'pandas'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
