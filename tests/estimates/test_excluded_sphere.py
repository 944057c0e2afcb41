"""The sphere without misses: planes at a known distance."""

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import chi2

from preloadmc.estimates.excluded_sphere import excluded_sphere


def planes(*betas):
    """Margins that are missed beyond a plane at each distance, the first along the first axis."""

    def margins(z):
        return np.stack([beta - z[:, place] for place, beta in enumerate(betas)], axis=1)

    return margins


@pytest.mark.parametrize("asked", [1e-4, 1e-9])
def test_the_bound_is_the_chi_square_tail_of_the_radius(asked, seed):
    """Planes at 12: no miss within 7.0, where the chi-square tail of three inputs is 1e-9."""
    rng = np.random.default_rng(seed)
    radius, most = excluded_sphere(planes(12.0, 13.0), 3, asked, rng=rng)
    assert most == pytest.approx(chi2.sf(radius**2, 3), rel=1e-9)
    assert 2.0 * ndtr(-12.0) < most < asked
    assert most > 0.4 * asked


def test_a_miss_within_the_sphere_gives_no_bound(seed):
    """P(z1 > 5) = 2.9e-7 is allowed of 1e-6, and yet the sphere for 1e-6 reaches beyond 5."""
    rng = np.random.default_rng(seed)
    assert chi2.isf(1e-6, 3) > 5.0**2
    assert excluded_sphere(planes(12.0, 5.0), 3, 1e-6, rng=rng) is None


def test_a_shell_of_misses_is_seen(seed):
    """Misses between radii 2 and 4 alone: the outermost sphere has none."""
    rng = np.random.default_rng(seed)

    def shell(z):
        return (np.abs(np.linalg.norm(z, axis=1) - 3.0) - 1.0)[:, None]

    assert excluded_sphere(shell, 2, 1e-9, rng=rng) is None


def test_margins_that_no_input_moves_are_met(seed):
    rng = np.random.default_rng(seed)
    assert excluded_sphere(lambda z: np.ones((len(z), 1)), 2, 1e-6, rng=rng) is not None
    assert excluded_sphere(lambda z: -np.ones((len(z), 1)), 2, 1e-6, rng=rng) is None
