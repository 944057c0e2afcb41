"""Expected information where a rival is all but ruled out."""

import numpy as np
import pytest

from preloadmc.estimates.information import information_of_outcome, information_of_reading


def test_a_rival_that_is_all_but_ruled_out_tells_nothing():
    rivals = [np.array([0.0]), np.array([100.0]), np.array([1e4])]
    sure = np.array([0.5, 0.5, 1e-310])
    assert information_of_reading(rivals, 1.0, sure) == pytest.approx(1.0)
    channel = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    assert information_of_outcome(channel, sure) == pytest.approx(1.0)
    assert information_of_reading(rivals, 1.0, np.array([1.0, 0.0, 0.0])) == 0.0
