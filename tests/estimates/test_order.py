"""Which neighbours of an order are settled."""

import numpy as np
import pytest

from preloadmc.estimates.order import Order


def test_errors_in_common_cancel():
    values = np.array([0.40, 0.45, 0.15])
    apart = np.diag([0.04, 0.04, 0.04]) ** 2
    assert Order(values, apart, 1.96).places == (1, 0, 2)
    assert Order(values, apart, 1.96).unsettled() == ((1, 0),)
    together = apart.copy()
    together[0, 1] = together[1, 0] = 0.95 * 0.04**2
    order = Order(values, together, 1.96)
    assert order.unsettled() == ()
    # Var(a - b) = s^2 + s^2 - 2 r s^2
    assert order.half_width(0, 1) == pytest.approx(1.96 * 0.04 * (2.0 * 0.05) ** 0.5)
    assert order.half(2) == pytest.approx(1.96 * 0.04)


def test_more_effort_and_leading_places():
    order = Order(np.array([0.5, 0.48, 0.02, 0.01]), np.diag([0.01] * 4) ** 2, 2.0)
    assert order.unsettled() == ((0, 1), (2, 3))
    assert order.unsettled(leading=2) == ((0, 1),)
    # 0.02 against 2 sqrt(2) 0.01/sqrt(10) = 0.009; 0.01 likewise
    assert order.unsettled(effort=10.0) == ()
    assert Order(np.array([1.0]), np.zeros((1, 1)), 2.0).unsettled() == ()


def test_equal_estimates_are_never_settled():
    assert Order(np.array([0.5, 0.5]), np.zeros((2, 2)), 2.0).unsettled() == ((0, 1),)
