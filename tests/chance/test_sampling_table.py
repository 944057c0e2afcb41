"""Values read from a table against the laws' exact transforms."""

import math

import numpy as np
import pytest

from preloadmc.chance.laws import (
    Beta,
    Constant,
    Gumbel,
    Law,
    Normal,
    Tabulated,
    Triangular,
    TruncatedNormal,
    Uniform,
    Weibull,
)
from preloadmc.chance.sampling_table import sampled

# Sampling of 1e9 numbers reaches 6 s.d.; the table's last piece ends at 9.
NORMALS = np.random.default_rng(5).standard_normal(50_000)
Z = np.concatenate([NORMALS, np.linspace(-8.99, 8.99, 997)])

SMOOTH = [
    Uniform(-2.0, 5.0),
    Triangular(0.0, 0.0, 1.0),
    Triangular(3.0, 4.0, 4.0),
    Gumbel(10.0, 2.0),
    Weibull(1.5, 3.0, 1.0),
    Weibull(30.0, 1.0),
    TruncatedNormal(0.0, 1.0, -1.0, 2.0),
    TruncatedNormal(0.0, 1.0, 2.0, math.inf),
    TruncatedNormal(0.0, 1.0, -6.0, 9.0),
    Beta(2.0, 3.0, 0.0, 1.0),
]
HARD = [Triangular(0.0, 0.3, 1.0), Beta(0.05, 0.05, 0.0, 1.0), Weibull(0.5, 1.0)]


def words(law: Law) -> str:
    return f"{law.kind} {law.mean:g}"


@pytest.mark.parametrize("law", SMOOTH, ids=words)
def test_a_smooth_law_is_met_to_ten_digits(law: Law):
    np.testing.assert_allclose(sampled(law, Z), law.from_normal(Z), rtol=0.0, atol=1e-10 * law.sd)


@pytest.mark.parametrize("law", HARD, ids=words)
def test_a_law_with_a_kink_or_a_steep_end_is_met_well_enough_to_count(law: Law):
    np.testing.assert_allclose(sampled(law, Z), law.from_normal(Z), rtol=1e-9, atol=1e-6 * law.sd)


@pytest.mark.parametrize("law", SMOOTH + HARD, ids=words)
def test_no_value_lies_beyond_the_ends_of_a_law(law: Law):
    low, high = law.support
    values = sampled(law, Z)
    assert low <= values.min()
    assert values.max() <= high


@pytest.mark.parametrize(
    "law", [Normal(1.0, 2.0), Tabulated((1.0, 2.0, 4.0)), Constant(3.0)], ids=words
)
def test_quick_laws_and_laws_in_steps_are_taken_exactly(law: Law):
    np.testing.assert_array_equal(sampled(law, Z), law.from_normal(Z))


def test_a_number_beyond_the_table_is_taken_exactly():
    law, z = Gumbel(0.0, 1.0), np.array([0.0, 9.5])
    np.testing.assert_array_equal(sampled(law, z), law.from_normal(z))
