"""Laws as a case file states them."""

import math
import re

import numpy as np
import pytest
from scipy import stats

from preloadmc.chance.laws import (
    Beta,
    Constant,
    Gumbel,
    LogNormal,
    Normal,
    Tabulated,
    Triangular,
    TruncatedNormal,
    Uniform,
    Weibull,
)
from preloadmc.errors import CaseError

LBF_FT = 4.4482216152605 * 304.8


def law(make_case, given, path="tightening.torque"):
    return make_case({path: given}).laws[path]


@pytest.mark.parametrize(
    ("given", "kind", "mean", "sd"),
    [
        ("90 N·m", Constant, 90e3, 0.0),
        ({"law": "constant", "value": "90 N·m"}, Constant, 90e3, 0.0),
        ({"law": "normal", "mean": "90 N·m", "sd": "3 N·m"}, Normal, 90e3, 3e3),
        ({"law": "normal", "mean": "90 N·m", "cov": "5 %"}, Normal, 90e3, 4.5e3),
        # A share of the mean where the quantity itself is no share.
        ({"law": "normal", "mean": "90 N·m", "sd": "5 %"}, Normal, 90e3, 4.5e3),
        (
            {"law": "lognormal", "mean": "60 lbf·ft", "cov": 0.05},
            LogNormal,
            60 * LBF_FT,
            3 * LBF_FT,
        ),
        # units may be mixed within a law
        ({"law": "normal", "mean": "60 lbf·ft", "sd": "2 N·m"}, Normal, 60 * LBF_FT, 2e3),
        (
            {"law": "uniform", "low": "84 N·m", "high": "96 N·m"},
            Uniform,
            90e3,
            12e3 / math.sqrt(12),
        ),
        ({"law": "uniform", "mean": "90 N·m", "half_width": "6 N·m"}, Uniform, 90e3, 6e3 / 3**0.5),
        (
            {"law": "uniform", "mean": "90 N·m", "half_width": "4 %", "coverage": "rectangular"},
            Uniform,
            90e3,
            3.6e3 / 3**0.5,
        ),
        ({"law": "uniform", "mean": "90 N·m", "sd": "3 N·m"}, Uniform, 90e3, 3e3),
        (
            {"law": "triangular", "low": "80 N·m", "mode": "90 N·m", "high": "103 N·m"},
            Triangular,
            91e3,
            1e3 * stats.triang(10 / 23, 80, 23).std(),
        ),
        (
            {"law": "truncated normal", "mean": "90 N·m", "sd": "9 N·m", "high": "90 N·m"},
            TruncatedNormal,
            1e3 * stats.halfnorm.mean() * -9 + 90e3,
            9e3 * stats.halfnorm.std(),
        ),
        (
            {"law": "weibull", "shape": 2.0, "scale": "90 N·m"},
            Weibull,
            90e3 * math.gamma(1.5),
            90e3 * math.sqrt(math.gamma(2.0) - math.gamma(1.5) ** 2),
        ),
        (
            {"law": "weibull", "shape": 2.0, "scale": "90 N·m", "location": "5 N·m"},
            Weibull,
            5e3 + 90e3 * math.gamma(1.5),
            90e3 * math.sqrt(math.gamma(2.0) - math.gamma(1.5) ** 2),
        ),
        ({"law": "weibull", "mean": "90 N·m", "cov": "10 %"}, Weibull, 90e3, 9e3),
        ({"law": "gumbel", "mean": "90 N·m", "cov": "3 %"}, Gumbel, 90e3, 2.7e3),
        (
            {"law": "beta", "alpha": 2, "beta": 3, "low": "80 N·m", "high": "100 N·m"},
            Beta,
            88e3,
            20e3 * stats.beta(2, 3).std(),
        ),
        (
            {"law": "beta", "mean": "88 N·m", "sd": "3 N·m", "low": "80 N·m", "high": "100 N·m"},
            Beta,
            88e3,
            3e3,
        ),
        (
            {"law": "tabulated", "values": [86, 90, "94 N·m"], "unit": "N·m"},
            Tabulated,
            90e3,
            math.sqrt(32 / 3) * 1e3,
        ),
    ],
)
def test_every_law(make_case, given, kind, mean, sd):
    read = law(make_case, given)
    assert type(read) is kind
    assert read.mean == pytest.approx(mean, rel=1e-9)
    assert read.sd == pytest.approx(sd, rel=1e-6)


@pytest.mark.parametrize(
    ("coverage", "deviations"),
    [
        ("1 sd", 1.0),
        ("2 sd", 2.0),
        ("3 sd", 3.0),
        ("90 %", stats.norm.ppf(0.95)),
        ("95 %", stats.norm.ppf(0.975)),
        ("99 %", stats.norm.ppf(0.995)),
    ],
)
def test_a_half_width_states_its_coverage(make_case, coverage, deviations):
    given = {"law": "normal", "mean": "90 N·m", "half_width": "6 N·m", "coverage": coverage}
    assert law(make_case, given).sd == pytest.approx(6e3 / deviations, rel=1e-9)


def test_a_scatter_ratio_of_a_lognormal(make_case):
    # Largest over smallest a, at k s.d. of the logarithm: a = exp(2 k s).
    given = {"law": "lognormal", "mean": 0.15, "scatter_ratio": 1.6, "coverage": "2 sd"}
    read = law(make_case, given, "friction.thread")
    low, high = (float(read.quantile(stats.norm.cdf(z))) for z in (-2.0, 2.0))
    assert read.mean == pytest.approx(0.15, rel=1e-12)
    assert high / low == pytest.approx(1.6, rel=1e-9)


def test_a_scatter_ratio_of_a_normal(make_case):
    # (1 + k c)/(1 - k c) = a
    given = {"law": "normal", "mean": 0.15, "scatter_ratio": 1.6, "coverage": "3 sd"}
    read = law(make_case, given, "friction.thread")
    assert (read.mean + 3 * read.sd) / (read.mean - 3 * read.sd) == pytest.approx(1.6, rel=1e-9)


@pytest.mark.parametrize(
    ("given", "mean", "sd"),
    [
        ("0 %", 1.0, 0.0),
        ({"law": "normal", "cov": "6 %"}, 1.0, 0.06),
        ({"law": "normal", "half_width": "6 %", "coverage": "2 sd"}, 1.0, 0.03),
        ({"law": "normal", "mean": "2 %", "sd": "3 %"}, 1.02, 0.03),
        ({"law": "uniform", "low": "-4 %", "high": "4 %"}, 1.0, 0.04 / math.sqrt(3)),
        ({"law": "weibull", "shape": 3.0, "scale": 0.05}, 1 + 0.05 * math.gamma(4 / 3), None),
        ({"law": "tabulated", "values": [-0.01, 0.01]}, 1.0, 0.01),
        ({"law": "beta", "alpha": 2, "beta": 2, "low": "-5 %", "high": "5 %"}, 1.0, None),
    ],
)
def test_a_tool_is_a_relative_scatter_about_the_set_torque(make_case, given, mean, sd):
    read = law(make_case, given, "tightening.tool")
    assert read.mean == pytest.approx(mean, rel=1e-12)
    if sd is not None:
        assert read.sd == pytest.approx(sd, rel=1e-9)


def test_a_temperature_and_its_scatter(make_case):
    given = {"law": "normal", "mean": "68 degF", "sd": "9 degF"}
    read = law(make_case, given, "temperature.assembly")
    assert (read.mean, read.sd) == pytest.approx((293.15, 5.0))


def test_a_share_in_per_cent(make_case):
    read = law(make_case, {"law": "normal", "mean": "5 %", "sd": "0.5 %"}, "settling.relaxation")
    assert (read.mean, read.sd) == pytest.approx((0.05, 0.005))


PATH = "friction.thread"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            {"law": "normal", "mean": 0.13},
            "friction.thread: one spread: sd, cov, half_width with coverage, or scatter_ratio",
        ),
        (
            {"law": "normal", "mean": 0.13, "sd": 0.01, "cov": "8 %"},
            "friction.thread: one spread: .* (given: 'sd and cov')",
        ),
        (
            {"law": "normal", "mean": 0.13, "half_width": 0.01},
            "friction.thread.coverage: missing; how a half width or scatter ratio is meant: one of",
        ),
        (
            {"law": "normal", "mean": 0.13, "half_width": 0.01, "coverage": "two sd"},
            "friction.thread.coverage: one of '1 sd'",
        ),
        (
            {"law": "normal", "mean": 0.13, "half_width": 0.01, "coverage": "rectangular"},
            "friction.thread.coverage: 'rectangular' states a uniform law",
        ),
        # a cov or s.d. needs no coverage, and must not be read as a half width
        (
            {"law": "normal", "mean": 0.13, "cov": "12 %", "coverage": "2 sd"},
            "friction.thread.coverage: nothing beside cov",
        ),
        (
            {"law": "normal", "mean": 0.13, "sd": 0.01, "coverage": "2 sd"},
            "friction.thread.coverage: nothing beside sd",
        ),
        (
            {"law": "uniform", "mean": 0.13, "half_width": 0.01, "coverage": "2 sd"},
            "friction.thread.coverage: 'rectangular': a uniform law has no other",
        ),
        (
            {"law": "lognormal", "mean": 0.13, "scatter_ratio": 0.9, "coverage": "2 sd"},
            "friction.thread.scatter_ratio: a ratio above 1",
        ),
        (
            {"law": "lognormal", "mean": 0.13, "scatter_ratio": 1.6},
            "friction.thread.coverage: missing",
        ),
        # 1 % of what?
        (
            {"law": "normal", "mean": 0.13, "sd": "1 %"},
            "friction.thread.sd: the width itself, in the unit of the mean (a share",
        ),
        (
            {"law": "lognormal", "cov": "12 %"},
            "friction.thread.mean: missing; this law",
        ),
        ({"law": "weibull", "shape": 2.0}, "friction.thread.scale: missing"),
        (
            {"law": "weibull", "scale": 0.1},
            "friction.thread.shape: missing; this law needs a number",
        ),
        (
            {"law": "weibull", "scale": 0.1, "shape": -1},
            "friction.thread.shape: a ratio above 0",
        ),
        (
            {"law": "beta", "low": 0.1, "high": 0.2, "alpha": 2},
            "friction.thread.beta: missing; this law needs a number above 0",
        ),
        (
            {"law": "truncated normal", "mean": 0.13, "sd": 0.03},
            "friction.thread: low, high or both, where it is cut",
        ),
        (
            {"law": "truncated normal", "mean": 0.13, "sd": 0.03, "low": "0 kN"},
            "friction.thread.low: a ratio is wanted",
        ),
        # what a law does not read is no silent part of it
        (
            {"law": "uniform", "low": 0.1, "high": 0.2, "coverage": "2 sd"},
            "friction.thread.coverage: unknown key",
        ),
        (
            {"law": "uniform", "mean": 0.13, "half_width": 0.01, "sd": 0.01},
            "friction.thread: one spread: .* (given: 'sd and half_width')",
        ),
        ({"law": "tabulated"}, "friction.thread.values: a list of measured values"),
        ({"law": "tabulated", "values": []}, "friction.thread.values: a list of measured values"),
        (
            {"law": "tabulated", "values": [0.12, True, "0.13 kN"]},
            "friction.thread.values[2]: a ratio as text or number",
        ),
        ({"law": "tabulated", "values": [0.12]}, "friction.thread: values has 1 entries"),
    ],
)
def test_a_law_that_is_not_one(make_case, given, words):
    pattern = ".*".join(re.escape(part) for part in words.split(".*"))
    with pytest.raises(CaseError, match=pattern):
        make_case({PATH: given})


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            {"law": "normal", "mean": "20 degC", "cov": "5 %"},
            "temperature.assembly.cov: sd in K: a cov of a temperature depends on the zero",
        ),
        (
            {"law": "normal", "mean": "20 degC", "sd": "5 %"},
            "temperature.assembly.sd: a temperature difference, such as 5 K",
        ),
        ({"law": "normal", "mean": "20 X", "sd": "5 K"}, "unknown unit 'X'"),
    ],
)
def test_a_law_of_a_temperature_that_is_not_one(make_case, given, words):
    with pytest.raises(CaseError, match=words):
        make_case({"temperature.assembly": given})


def test_a_law_that_hardly_reaches_zero_is_cut_off_there_and_this_is_said(make_case):
    # P(X <= 0) = Phi(-6.25) = 2.1e-10, below 1e-9; Phi(-5.9) = 1.8e-9 is above it.
    case = make_case({PATH: {"law": "normal", "mean": 0.12, "cov": "16 %"}})
    (said,) = [item for item in case.assumptions if item.path == PATH]
    assert "cut off at 0, which it reaches with probability 2e-10" in said.value
    with pytest.raises(CaseError, match=r"above 0; this law is not with probability 1\.8e-09"):
        make_case({PATH: {"law": "normal", "mean": 0.118, "sd": 0.02}})


def test_the_part_cut_off_counts_as_zero(make_case):
    case = make_case(
        {
            PATH: {"law": "normal", "mean": 0.12, "cov": "16 %"},
            "settling.embedding": {"law": "normal", "mean": "6 um", "cov": "16 %"},
        }
    )
    x = case.inputs(np.full((1, 2), -9.0), case.uncertain)
    assert 0.0 < float(x[PATH][0]) < 1e-6
    assert float(x["settling.embedding"][0]) == 0.0
    assert case.uncertain == (PATH, "settling.embedding")
