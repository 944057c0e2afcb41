"""Odds of rivals and expected information against closed forms."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from preloadmc.estimates.information import information_of_outcome, information_of_reading
from preloadmc.estimates.model_odds import bayes_factor_words, model_odds


def test_odds_are_prior_times_evidence():
    odds = model_odds(np.log([[2.0, 4.0], [1.0, 1.0], [1e-300, 1e-300]]), np.ones(3))
    assert odds.probability == pytest.approx([0.75, 0.25, 0.0])
    assert odds.log_evidence[0] == pytest.approx(math.log(3.0))
    # Mean 3, s.d. sqrt(2), two runs: 1/3.
    assert odds.log_evidence_error[0] == pytest.approx(1.0 / 3.0)


def test_the_error_is_that_of_the_jackknife():
    # Leaving one of two runs out: 4/5 and 2/3; error sqrt(1/2 ((4/5-2/3)/2)^2 2).
    odds = model_odds(np.log([[2.0, 4.0], [1.0, 1.0]]), np.ones(2))
    assert odds.error[0] == pytest.approx((4 / 5 - 2 / 3) / 2)


def test_impossible_rivals_have_no_probability():
    odds = model_odds(np.array([[0.0, 0.0], [-np.inf, -np.inf]]), np.array([1.0, 1000.0]))
    assert odds.probability == pytest.approx([1.0, 0.0])
    assert odds.error == pytest.approx([0.0, 0.0])


@pytest.mark.statistical
def test_the_error_covers(seed):
    # Evidence estimates with 20 % scatter, six runs: two standard errors cover in about 95 %;
    # with errors half as large they would cover in 70 %.
    rng = np.random.default_rng(seed)
    covered = 0
    for _ in range(200):
        logs = np.log(rng.gamma(25, 1 / 25, size=(2, 6)))
        odds = model_odds(logs, np.ones(2))
        covered += abs(odds.probability[0] - 0.5) < 2.2 * odds.error[0]
    assert covered > 0.88 * 200


@pytest.mark.published
@pytest.mark.parametrize(
    ("factor", "words"),
    [
        # Kass and Raftery (1995), section 3.2: 1 to 3, 3 to 20, 20 to 150, above 150.
        (2.9, "barely discriminating"),
        (3.1, "positive evidence for"),
        (19.0, "positive evidence for"),
        (21.0, "strong evidence for"),
        (151.0, "very strong evidence for"),
        (1 / 21.0, "strong evidence against"),
        (math.inf, "very strong evidence for"),
    ],
)
def test_bayes_factors_in_words(factor, words):
    assert bayes_factor_words(math.log(factor)) == words


def test_information_between_two_normal_laws():
    # Two rivals half a distance of two errors apart: the mutual information of a binary signal in
    # normal noise, integrated by another rule.
    def density(y, mean):
        return math.exp(-0.5 * (y - mean) ** 2) / math.sqrt(2 * math.pi)

    def integrand(y):
        both = 0.3 * density(y, 0) + 0.7 * density(y, 2)
        return 0.3 * density(y, 0) * math.log2(density(y, 0) / both) + 0.7 * density(
            y, 2
        ) * math.log2(density(y, 2) / both)

    exact = quad(integrand, -9, 11)[0]
    found = information_of_reading([np.zeros(5), np.full(5, 2.0)], 1.0, np.array([0.3, 0.7]))
    assert found == pytest.approx(exact, rel=1e-3)


def test_information_of_rivals_alike_is_none():
    values = np.linspace(0, 5, 50)
    probability = np.array([0.4, 0.6])
    assert information_of_reading([values, values], 0.5, probability) < 1e-9
    assert information_of_outcome(np.array([[0.2, 0.8], [0.2, 0.8]]), probability) < 1e-12


def test_information_never_exceeds_what_is_open():
    far = [np.array([0.0]), np.array([1e3]), np.array([1e6])]
    probability = np.array([0.5, 0.25, 0.25])
    assert information_of_reading(far, 1.0, probability) == pytest.approx(1.5, rel=1e-3)
    assert information_of_outcome(np.eye(3), probability) == pytest.approx(1.5)
