import numpy as np
import openturns as ot
import pytest
from tail_problems import PROBLEMS, preload_margin

from preloadmc.estimates.curvature import curvature
from preloadmc.estimates.design_point import design_points


def test_parabola_closed_form():
    # surface u = 3 + (k1 v1^2 + k2 v2^2)/2 about the nearest point
    def margins(z):
        return (2.0 * (3.0 + 0.25 * z[:, 1] ** 2 - 0.1 * z[:, 2] ** 2 - z[:, 0]))[:, None]

    (point,) = design_points(margins, 3, rng=np.random.default_rng(0))
    found = curvature(margins, point)
    assert found.principal == pytest.approx([-0.2, 0.5], abs=1e-4)
    assert np.abs(found.axes) == pytest.approx(np.eye(3)[[2, 1]], abs=1e-3)


def test_turned_parabola_in_the_plane():
    # RP22: u = (x + y)/sqrt 2, v = (x - y)/sqrt 2, u = 2.5 + 0.2 v^2
    problem = PROBLEMS["RP22"]
    (point,) = design_points(problem.margins, 2, rng=np.random.default_rng(0))
    assert curvature(problem.margins, point).principal == pytest.approx([0.4], abs=1e-4)


@pytest.mark.parametrize("minimum", [20650.0, 16400.0])
def test_seven_inputs_against_openturns(minimum):
    function = ot.PythonFunction(
        7, 1, func_sample=lambda z: preload_margin(np.asarray(z), minimum).reshape(-1, 1)
    )
    vector = ot.CompositeRandomVector(function, ot.RandomVector(ot.Normal(7)))
    from_origin = ot.AbdoRackwitz()
    from_origin.setStartingPoint([0.0] * 7)
    sorm = ot.SORM(from_origin, ot.ThresholdEvent(vector, ot.Less(), 0.0))
    sorm.run()
    expected = sorm.getResult()

    def margins(z):
        return preload_margin(z, minimum)[:, None]

    (point,) = design_points(margins, 7, rng=np.random.default_rng(1))
    found = curvature(margins, point)
    # listed with that along the ray, which is zero
    principal = np.array(expected.getSortedCurvatures())
    principal = np.sort(np.delete(principal, np.argmin(np.abs(principal))))
    assert found.principal == pytest.approx(principal, abs=0.012)
