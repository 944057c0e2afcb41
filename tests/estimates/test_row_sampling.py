"""Design points and importance sampling of many rows at once, against closed forms."""

import math

import numpy as np
import pytest
from row_problems import estimates
from scipy.special import chdtrc, ndtr

from preloadmc.estimates.row_sampling import QUANTILE

BETAS = np.array([-0.5, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0])


def planes(betas, d):
    """One margin a row: a plane at distance beta, in a direction of its own; P = Phi(-beta)."""
    directions = np.random.default_rng(4).standard_normal((len(betas), d))
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)

    def margins(z, row):
        return (betas[row] - np.sum(directions[row] * z, axis=1))[:, None]

    return margins


def two_sided(betas):
    """A margin that is missed on both sides: P = 2 Phi(-beta), exact."""

    def margins(z, row):
        return (betas[row] - np.abs(z[:, 0]))[:, None]

    return margins


@pytest.mark.statistical
def test_planes_have_the_probability_of_their_distance():
    found = [estimates(planes(BETAS, 5), len(BETAS), 5, [[0]], seed=seed) for seed in range(40)]
    value = np.array([each.value[:, 0] for each in found])
    cov = np.array([each.cov[:, 0] for each in found])
    exact = ndtr(-BETAS)
    # Bonferroni over eight rows: 3.5 standard errors of the mean of 40.
    error = np.sqrt(np.mean(cov**2, axis=0) / 40)
    assert np.all(np.abs(value.mean(axis=0) / exact - 1.0) < 3.5 * error)
    covered = np.abs(np.log(value / exact)) <= QUANTILE * cov
    # Of 320 intervals at 95 %; 0.92 is 2.5 s.d. below.
    assert covered.mean() > 0.92


@pytest.mark.statistical
def test_both_sides_of_one_margin_are_found_though_a_search_ends_at_one():
    betas = np.array([2.5, 3.0, 3.5])
    found = [estimates(two_sided(betas), 3, 4, [[0]], seed=seed) for seed in range(40)]
    exact = 2.0 * ndtr(-betas)
    ratio = np.array([each.value[:, 0] for each in found]) / exact
    # One side alone would give 0.5.
    assert np.all(np.abs(ratio.mean(axis=0) - 1.0) < 0.05)


@pytest.mark.statistical
def test_a_bent_margin_has_the_probability_of_the_quadrature():
    # g = beta - z1 + k z2²: P = E[Phi(-(beta + k z2²))], by Gauss-Hermite quadrature.
    bends = np.array([0.0, 0.1, 0.3])

    def margins(z, row):
        return (3.0 - z[:, 0] + bends[row] * z[:, 1] ** 2)[:, None]

    nodes, weights = np.polynomial.hermite_e.hermegauss(80)
    exact = np.array([ndtr(-(3.0 + k * nodes**2)) @ weights for k in bends]) / math.sqrt(
        2 * math.pi
    )
    found = [estimates(margins, 3, 3, [[0]], seed=seed) for seed in range(40)]
    value = np.array([each.value[:, 0] for each in found])
    error = np.array([each.cov[:, 0] for each in found]).mean(axis=0) / math.sqrt(40)
    assert np.all(np.abs(value.mean(axis=0) / exact - 1.0) < 3.5 * error)


def test_where_nothing_is_missed_within_a_sphere_that_is_said():
    betas = np.array([12.0, 4.0])
    seen = estimates(planes(betas, 3), 2, 3, [[0]], seed=1, radius=6.0).seen
    assert seen.none_within.tolist() == [[True], [False]]
    # P(|z| > 6) with three inputs bounds what is missed; Phi(-12) is far below.
    assert ndtr(-12.0) < chdtrc(3, 36.0)


def test_an_event_without_margins_is_never_missed():
    found = estimates(planes(BETAS, 3), len(BETAS), 3, [[0], []], seed=1)
    assert found.value[:, 1].tolist() == [0.0] * len(BETAS)
    assert found.seen.none_within[:, 1].all()


def test_a_row_that_is_not_finite_is_told_and_spoils_no_other():
    own = planes(BETAS, 3)

    def margins(z, row):
        block = own(z, row)
        block[row == 2] = np.nan
        return block

    found = estimates(margins, len(BETAS), 3, [[0]], seed=1)
    assert np.flatnonzero(~found.finite).tolist() == [2]
    clean = estimates(own, len(BETAS), 3, [[0]], seed=1)
    others = np.delete(np.arange(len(BETAS)), 2)
    assert np.array_equal(found.value[others], clean.value[others])


def test_a_row_alone_has_the_same_bits_as_among_others():
    among = estimates(planes(BETAS, 5), len(BETAS), 5, [[0]], seed=3).value
    for row in range(len(BETAS)):
        alone = estimates(
            lambda z, r, row=row: planes(BETAS, 5)(z, np.full(len(z), row)),
            1, 5, [[0]], seed=3, streams=[row],
        ).value  # fmt: skip
        assert alone[0, 0] == among[row, 0]
