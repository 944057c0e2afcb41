"""Model calls at 1e-6 and 1e-9 against FORM and importance sampling in OpenTURNS."""

import math

import numpy as np
import openturns as ot
import pytest
from tail_problems import PROBLEMS

from preloadmc.estimates.tail import tail_probability

RUNS = 60


def lognormal_formula(mean, sd, z):
    s2 = math.log1p((sd / mean) ** 2)
    return f"exp({math.log(mean) - 0.5 * s2!r} + {math.sqrt(s2)!r} * {z})"


def symbolic(minimum):
    """The margin of tail_problems.preload_margin; its derivatives cost no calls."""
    arm = (
        f"(1.75 / 2 / pi_ + {lognormal_formula(0.13, 0.0156, 'z1')} * 10.863 / 2 / cos(pi_ / 6)"
        f" + {lognormal_formula(0.13, 0.0156, 'z2')} * (15.05 + 0.1 * z3) / 2)"
    )
    settled = f"{lognormal_formula(8e-3, 2.4e-3, 'z4')} / (3.2e-6 * (1 + 0.08 * z5))"
    margin = f"84e3 * (1 + 0.06 * z0) / {arm} - {settled} - 800 + 500 * z6 - {minimum}"
    return ot.SymbolicFunction([f"z{i}" for i in range(7)], [margin])


def by_openturns(minimum, seed):
    ot.RandomGenerator.SetSeed(seed)
    function = symbolic(minimum)
    event = ot.ThresholdEvent(
        ot.CompositeRandomVector(function, ot.RandomVector(ot.Normal(7))), ot.Less(), 0.0
    )
    search = ot.AbdoRackwitz()
    search.setStartingPoint([0.0] * 7)
    form = ot.FORM(search, event)
    form.run()
    sampling = ot.PostAnalyticalImportanceSampling(form.getResult())
    sampling.setMaximumCoefficientOfVariation(0.1)
    sampling.setBlockSize(25)
    sampling.setMaximumOuterSampling(10_000)
    sampling.run()
    return sampling.getResult().getProbabilityEstimate(), function.getEvaluationCallsNumber()


@pytest.mark.statistical
@pytest.mark.parametrize(
    ("name", "minimum"), [("preload, 1e-6", 20650.0), ("preload, 1e-9", 16400.0)]
)
def test_no_more_calls_at_no_more_scatter(name, minimum, seed):
    problem = PROBLEMS[name]
    z = np.random.default_rng(0).standard_normal((20, 7))
    assert np.array(symbolic(minimum)(z)) == pytest.approx(problem.margins(z), rel=1e-9)
    reference = np.array([by_openturns(minimum, seed + run) for run in range(RUNS)])
    estimates = [
        tail_probability(
            problem.margins,
            7,
            rng=np.random.default_rng(seed + run),
            method="importance",
            cross_check=False,
        ).probability
        for run in range(RUNS)
    ]
    values = np.array([p.value for p in estimates])
    assert np.mean([p.model_calls for p in estimates]) < reference[:, 1].mean()
    # the ratio of two scatters of 60 runs each: 1.3 is beyond two standard errors
    assert values.std() / values.mean() < 1.3 * reference[:, 0].std() / reference[:, 0].mean()
    # and it is the scatter that is claimed, within the same allowance
    claimed = np.mean([p.relative_half_width for p in estimates]) / 2.13
    assert values.std() / values.mean() < 1.3 * claimed
