"""Deterministic largest and smallest preload against published figures."""

from __future__ import annotations

import pytest

from preloadmc.mechanics import bounds


@pytest.mark.published
@pytest.mark.parametrize(
    ("ratio", "percent"),
    # VDI 2230-1:2001: tightening factors 1.2 to 4 as about ±9 % to ±60 %.
    [(1.2, 9.1), (1.4, 16.7), (1.6, 23.1), (1.8, 28.6), (2.0, 33.3), (2.5, 42.9), (4.0, 60.0)],
)
def test_half_width_of_a_scatter_ratio(ratio, percent):
    half_width = bounds.scatter_half_width(ratio)
    assert 100 * half_width == pytest.approx(percent, abs=0.05)
    assert bounds.scatter_ratio_of_half_width(half_width) == pytest.approx(ratio)


@pytest.mark.published
def test_smallest_preload_of_an_m12():
    # VDI 2230-1:2015, worked example of a reprint: 41.9 kN and 1.8 leave 23.3 kN.
    assert bounds.smallest_from_scatter_ratio(41.9, 1.8) == pytest.approx(23.3, abs=0.05)


@pytest.mark.published
@pytest.mark.parametrize("uncertainty", [0.35, 0.25])
def test_band_about_the_nominal_preload(uncertainty):
    # J. Failure Analysis and Prevention 2019, doi 10.1007/s11668-019-00693-z, after NASA-STD-5020:
    # (1 ± Gamma) F, 35 % as received, 25 % lubricated.
    high = bounds.largest_preload(10e3, uncertainty, 1.0, 0.0)
    low = bounds.smallest_preload(10e3, uncertainty, 1.0, 1, 0.0, 0.0, 0.0)
    assert high == pytest.approx(10e3 * (1 + uncertainty))
    assert low == pytest.approx(10e3 * (1 - uncertainty))


def test_losses_and_gains_move_the_bounds_by_their_size():
    high = bounds.largest_preload(10e3, 0.25, 1.05, 700.0)
    low = bounds.smallest_preload(10e3, 0.25, 0.95, 4, 300.0, 100.0, 200.0)
    assert high == pytest.approx(1.05 * 1.25 * 10e3 + 700)
    assert low == pytest.approx(0.95 * (1 - 0.125) * 10e3 - 600)


def test_averaging_over_fasteners_narrows_the_lower_bound():
    alone = bounds.smallest_preload(10e3, 0.25, 0.95, 1, 0.0, 0.0, 0.0)
    assert bounds.smallest_preload(10e3, 0.25, 0.95, 8, 0.0, 0.0, 0.0) > alone
