"""Particles against conjugate closed forms, and what is said when they fail."""

import math

import numpy as np
import pytest
from scipy.special import beta as beta_function
from scipy.special import betaln, gammaln, ndtr

from preloadmc.errors import NotFiniteError
from preloadmc.estimates import posterior
from preloadmc.estimates.posterior import (
    CommonLikelihood,
    effective_size,
    tempered_posterior,
)

READINGS = np.array([1.2, 0.9, 1.5, 0.2, 1.0, 1.9, 0.4, 1.1])
ERROR = 0.2


def grows_with_heat(log_likelihood):
    """The log likelihood of u times the heat, as that of the members."""
    return CommonLikelihood(
        lambda u: log_likelihood(u)[:, None], lambda kept, heat: heat * kept[:, 0]
    )


def read_by(error):
    """Log likelihood of the first number of each member, read with a normal error."""

    def log_likelihood(z):
        off = (READINGS[:, None] - z[:, :, 0]) / error
        return -0.5 * off * off - math.log(error * math.sqrt(2 * math.pi))

    return log_likelihood


def shared_mean(fraction, error):
    """Evidence, mean and s.d. of u for y_j = sqrt(f) u + sqrt(1 - f) v_j + error.

    y is normal with mean 0 and covariance f + ((1 - f) + error^2) on the diagonal; u given y is
    normal by the usual conditioning.
    """
    n = len(READINGS)
    covariance = np.full((n, n), fraction) + (1 - fraction + error**2) * np.eye(n)
    weights = np.linalg.solve(covariance, np.ones(n))
    log_evidence = -0.5 * (
        READINGS @ np.linalg.solve(covariance, READINGS)
        + np.linalg.slogdet(covariance)[1]
        + n * math.log(2 * math.pi)
    )
    mean = math.sqrt(fraction) * weights @ READINGS
    return log_evidence, mean, math.sqrt(1 - fraction * weights.sum())


def runs_of(seed, runs, member, common, fractions, members, particles=256):
    return [
        tempered_posterior(
            member,
            common,
            np.asarray(fractions),
            members,
            particles=particles,
            sweeps=3,
            rng=np.random.default_rng([seed, run]),
        )
        for run in range(runs)
    ]


def assert_evidence(clouds, exact, largest_error=0.1):
    """The mean of unbiased estimates lies within 4 of its own standard errors, itself small.

    A bias of a half (of all, in the far tail) would be noticed.
    """
    ratios = np.exp([cloud.log_evidence - exact for cloud in clouds])
    error = ratios.std(ddof=1) / math.sqrt(len(ratios))
    assert error < largest_error
    assert abs(ratios.mean() - 1) < 4 * error + 0.02


@pytest.mark.statistical
@pytest.mark.parametrize("fraction", [0.05, 0.5, 0.95])
def test_shared_normal_mean_with_known_error(fraction, seed):
    exact, mean, sd = shared_mean(fraction, ERROR)
    # Two more columns that nothing is known about must come out as they went in.
    clouds = runs_of(seed, 16, read_by(ERROR), None, [fraction, 0.3, 1.0], len(READINGS))
    assert_evidence(clouds, exact)
    u = np.concatenate([cloud.common for cloud in clouds])
    means = np.array([cloud.common[:, 0].mean() for cloud in clouds])
    error = means.std(ddof=1) / 4
    assert abs(means.mean() - mean) < 4 * error
    assert error < 0.1 * sd
    assert u[:, 0].std() == pytest.approx(sd, rel=0.12)
    assert abs(u[:, 1:].mean(axis=0)).max() < 0.12
    assert u[:, 1:].std(axis=0) == pytest.approx([1, 1], rel=0.1)


@pytest.mark.statistical
def test_everything_in_common(seed):
    exact, mean, sd = shared_mean(1.0, ERROR)
    clouds = runs_of(seed, 12, read_by(ERROR), None, [1.0], len(READINGS))
    assert_evidence(clouds, exact)
    u = np.concatenate([cloud.common[:, 0] for cloud in clouds])
    assert u.mean() == pytest.approx(mean, abs=0.2 * sd)
    assert u.std() == pytest.approx(sd, rel=0.12)


@pytest.mark.statistical
def test_nothing_in_common(seed):
    # Each member by itself: variance 1 + error^2, posterior mean y/(1 + error^2).
    exact, _, _ = shared_mean(0.0, ERROR)
    clouds = runs_of(seed, 16, read_by(ERROR), None, [0.0], len(READINGS))
    assert_evidence(clouds, exact)
    z = np.mean([cloud.members[:, :, 0].mean(axis=1) for cloud in clouds], axis=0)
    assert z == pytest.approx(READINGS / (1 + ERROR**2), abs=0.05)


@pytest.mark.statistical
@pytest.mark.parametrize(("k", "n"), [(0, 10), (3, 10), (12, 400)])
def test_a_count_with_a_uniform_share_is_beta_binomial(k, n, seed):
    # A share ndtr(u) is uniform: evidence C(n,k) B(k+1, n-k+1) = 1/(n+1), posterior
    # Beta(k+1, n-k+1) with mean (k+1)/(n+2).
    def counted(u):
        share = np.clip(ndtr(u[:, 0]), 1e-300, 1 - 1e-16)
        ways = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
        return ways + k * np.log(share) + (n - k) * np.log1p(-share)

    clouds = runs_of(seed, 16, lambda z: np.zeros(z.shape[:2]), grows_with_heat(counted), [1.0], 0)
    assert_evidence(clouds, -math.log(n + 1))
    share = ndtr(np.concatenate([cloud.common[:, 0] for cloud in clouds]))
    mean = (k + 1) / (n + 2)
    sd = math.sqrt(mean * (1 - mean) / (n + 3))
    assert share.mean() == pytest.approx(mean, abs=0.1 * sd)
    assert share.std() == pytest.approx(sd, rel=0.1)


@pytest.mark.statistical
def test_members_that_fail_with_a_beta_share(seed):
    # 2 of 6 members fail; the share is Beta(1, 1) through u, each failure a sign of z: with
    # own numbers alone the chance of failing is ndtr of the threshold u, and the count is
    # beta-binomial: B(3, 5) for one order of the six.
    signs = np.array([1, 1, -1, -1, -1, -1.0])

    def failed(z):
        # Column 0 is common alone, column 1 own alone.
        off = signs[:, None] * (z[:, :, 0] - z[:, :, 1]) / 0.05
        from scipy.special import log_ndtr

        return log_ndtr(off)

    clouds = runs_of(seed, 16, failed, None, [1.0, 0.0], 6)
    exact = math.log(beta_function(3, 5))
    assert exact == pytest.approx(betaln(3, 5))
    assert_evidence(clouds, exact)


@pytest.mark.statistical
def test_a_tail_that_no_particle_of_the_prior_is_in(seed):
    # P(z > 6) = 9.87e-10, told with an error of 0.01.
    from scipy.special import log_ndtr

    clouds = runs_of(seed, 16, lambda z: log_ndtr((z[:, :, 0] - 6) / 0.01), None, [0.0], 1)
    assert_evidence(clouds, math.log(ndtr(-6 / math.sqrt(1 + 1e-4))), 0.2)
    assert all(cloud.steps > 5 and not cloud.trouble for cloud in clouds)


def test_a_likelihood_for_u_with_members(seed):
    # u read directly besides: normal with both readings, precision 1 + 8 f/(1-f+e^2) ... by the
    # covariance with one more row.
    def direct(u):
        return -0.5 * ((0.3 - u[:, 0]) / 0.1) ** 2 - math.log(0.1 * math.sqrt(2 * math.pi))

    known = grows_with_heat(direct)
    clouds = runs_of(seed, 8, read_by(ERROR), known, [0.5], len(READINGS))
    _, mean, sd = shared_mean(0.5, ERROR)
    precision = 1 / sd**2 + 100
    wanted = (mean / sd**2 + 30) / precision
    u = np.concatenate([cloud.common[:, 0] for cloud in clouds])
    assert u.mean() == pytest.approx(wanted, abs=0.3 / math.sqrt(precision))
    assert u.std() == pytest.approx(1 / math.sqrt(precision), rel=0.15)


@pytest.mark.slow
@pytest.mark.statistical
def test_a_likelihood_of_u_may_go_its_own_way(seed):
    # Readings of one member that was chosen for lying below -2: given u, z follows its law cut off
    # there. The mean over u of density over share, integrated on a grid, is the evidence.
    from scipy.special import log_ndtr

    own = math.sqrt(0.5)

    def chosen(z):
        off = (z[:, :, 0] + 2.3) / 0.3
        return log_ndtr((-2 - z[:, :, 0]) / 0.05) - 0.5 * off * off

    v = np.linspace(-9, 9, 301)
    weights = np.exp(-0.5 * v * v)
    weights /= weights.sum()

    def told(u):
        return log_ndtr((-2 - own * u[:, :1] - own * v) / 0.05)

    known = CommonLikelihood(told, lambda kept, heat: -np.log(np.exp(heat * kept) @ weights))
    u = np.linspace(-5, 5, 301)[:, None]
    loose = np.exp(told(u))
    read = np.exp(-0.5 * ((own * u + own * v + 2.3) / 0.3) ** 2)
    ratio = ((loose * read) @ weights) / (loose @ weights)
    prior = np.exp(-0.5 * u[:, 0] ** 2)
    exact = math.log((ratio * prior).sum() / prior.sum())
    assert_evidence(runs_of(seed, 8, chosen, known, [0.5], 1), exact)


def test_the_same_seed_gives_the_same_bits():
    first, second = (runs_of(1, 1, read_by(ERROR), None, [0.5], 8, 32)[0] for _ in range(2))
    assert first.log_evidence == second.log_evidence
    assert (first.members == second.members).all()


def test_nothing_scatters():
    cloud = runs_of(1, 1, lambda z: np.full(z.shape[:2], -1.5), None, np.zeros(0), 2, 32)[0]
    assert cloud.log_evidence == pytest.approx(-3.0)
    assert cloud.members.shape == (2, 32, 0)


def test_impossible_evidence():
    cloud = runs_of(1, 1, lambda z: np.full(z.shape[:2], -np.inf), None, [0.5], 2, 32)[0]
    assert cloud.log_evidence == -np.inf
    assert "impossible" in cloud.trouble


def test_impossible_for_some_is_not_impossible():
    # Half of the prior is impossible: evidence 1/2, all particles on the other side.
    clouds = runs_of(3, 8, lambda z: np.where(z[:, :, 0] > 0, 0.0, -np.inf), None, [0.0], 1, 512)
    assert np.mean([math.exp(c.log_evidence) for c in clouds]) == pytest.approx(0.5, abs=0.04)
    assert min(cloud.members[0, :, 0].min() for cloud in clouds) > 0.0


def test_a_likelihood_too_steep_to_follow_is_said():
    # Even the smallest step in temperature leaves one particle: the run ends and says so.
    cloud = runs_of(1, 1, lambda z: -1e40 * np.abs(z[:, :, 0]), None, [0.0], 1, 32)[0]
    assert cloud.trouble


def test_too_many_temperatures_are_said(monkeypatch):
    monkeypatch.setattr(posterior, "MOST_STEPS", 2)
    cloud = runs_of(1, 1, read_by(0.01), None, [0.5], len(READINGS), 64)[0]
    assert cloud.trouble == "not done after 2 temperatures"


def test_a_likelihood_of_pure_noise_is_said(monkeypatch):
    noise = np.random.default_rng(5)
    monkeypatch.setattr(posterior, "LEAST_ACCEPTANCE", 0.2)
    cloud = runs_of(1, 1, lambda z: -1e6 * noise.random(z.shape[:2]), None, [0.0], 1, 64)[0]
    assert "hardly any move" in cloud.trouble


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_likelihood_that_is_no_number_raises(bad):
    with pytest.raises(NotFiniteError, match="a likelihood is not a number"):
        runs_of(1, 1, lambda z: np.full(z.shape[:2], bad), None, [0.5], 1, 32)


def test_effective_size_of_even_weights_is_their_number():
    assert effective_size(np.full(7, -1000.0)) == pytest.approx(7)
