"""Spreads against the tables of the guides they come from."""

import math

import pytest

from preloadmc.chance.laws import LogNormal, Uniform
from preloadmc.chance.spreads import (
    COVERAGES,
    coverage_factor,
    scatter_ratio_spread,
    sd_from_half_width,
)


@pytest.mark.published
@pytest.mark.parametrize(
    ("coverage", "factor"), [("90 %", 1.645), ("95 %", 1.960), ("99 %", 2.576)]
)
def test_normal_shares(coverage, factor):
    # JCGM 100:2008, Table G.1 (value from memory).
    assert coverage_factor(coverage) == pytest.approx(factor, abs=0.0005)


def test_every_coverage():
    assert COVERAGES == ("1 sd", "2 sd", "3 sd", "rectangular", "90 %", "95 %", "99 %")
    found = [sd_from_half_width(6.0, coverage) for coverage in COVERAGES[:4]]
    assert found == pytest.approx([6.0, 3.0, 2.0, 6.0 / math.sqrt(3.0)])
    assert coverage_factor("95%") == coverage_factor("95 %")
    # The rectangular half-width and the uniform law say the same.
    assert sd_from_half_width(0.04, "rectangular") == pytest.approx(Uniform(-0.04, 0.04).sd)


@pytest.mark.published
@pytest.mark.parametrize(
    ("ratio", "percent"),
    [(1.2, 9.1), (1.4, 16.7), (1.6, 23.1), (1.8, 28.6), (2.0, 33.3), (2.5, 42.9), (4.0, 60.0)],
)
def test_scatter_ratio_as_plus_or_minus(ratio, percent):
    # VDI 2230-1:2001 names the ends of this row: "±9 % to ±60 %" for the factors 1.2 and 4; between
    # them (a - 1)/(a + 1) by the definition of the tightening factor, Fmax/Fmin.
    assert 100 * scatter_ratio_spread(ratio, 1.0).relative_sd == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize("k", [1.0, 2.0, 3.0])
def test_scatter_ratio_comes_back(k):
    log_sd, relative_sd = scatter_ratio_spread(1.8, k)
    law = LogNormal(40.0, 40.0 * math.sqrt(math.expm1(log_sd**2)))
    largest, smallest = (40.0 * math.exp(sign * k * law.log_sd) for sign in (1, -1))
    assert largest / smallest == pytest.approx(1.8)
    assert (1.0 + k * relative_sd) / (1.0 - k * relative_sd) == pytest.approx(1.8)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: coverage_factor("4 sd"), 'coverage is "4 sd": it must be one of 1 sd, 2 sd'),
        (lambda: sd_from_half_width(0.0, "1 sd"), "half_width is 0: it must be above zero"),
        (lambda: scatter_ratio_spread(1.0, 2.0), "scatter_ratio is 1: it must be above 1"),
        (lambda: scatter_ratio_spread(1.6, 0.0), "k is 0: it must be above zero"),
    ],
)
def test_impossible_spreads_are_named(call, words):
    with pytest.raises(ValueError, match=words):
        call()
