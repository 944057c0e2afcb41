"""Where a level ends, in records made with a known change."""

import numpy as np
import pytest
from scipy import optimize, stats

from preloadmc.chance.change_point import FEWEST_READINGS, change_point

CYCLES = np.linspace(0.0, 2000.0, 31)


def made(at, slope, sd, rng, x=CYCLES):
    return 0.4 + slope * np.maximum(x - at, 0.0) + sd * rng.standard_normal(len(x))


def test_the_place_is_that_of_least_squares(seed):
    rng = np.random.default_rng(seed)
    y = made(730.0, 0.01, 0.4, rng)
    found = change_point(CYCLES, y, 0.95)

    def rest(at):
        risen = np.column_stack([np.ones_like(CYCLES), np.maximum(CYCLES - at, 0.0)])
        return np.linalg.lstsq(risen, y, rcond=None)[1][0]

    places = np.linspace(1.0, 1900.0, 20000)
    sums = np.array([rest(each) for each in places[::10]])
    start = places[::10][np.argmin(sums)]
    best = optimize.minimize_scalar(rest, bounds=(start - 2.0, start + 2.0), method="bounded")
    assert found.at == pytest.approx(best.x, abs=1e-3)
    assert found.sd == pytest.approx(np.sqrt(best.fun / 28.0))
    assert found.slope > 0.0
    # Its interval holds what F(1, 28) allows.
    inside = places[::10][sums <= best.fun * (1.0 + stats.f.ppf(0.95, 1, 28) / 28.0)]
    assert (found.low, found.high) == pytest.approx((inside[0], inside[-1]), abs=6.0)


@pytest.mark.statistical
def test_the_interval_holds_the_change_as_often_as_it_says(seed):
    rng = np.random.default_rng(seed)
    series = 400
    held = found = 0
    for _ in range(series):
        at = rng.uniform(300.0, 1500.0)
        change = change_point(CYCLES, made(at, 0.01, 0.3, rng), 0.9)
        if change is not None:
            found += 1
            held += change.low <= at <= change.high
    assert found > 0.99 * series
    assert stats.binomtest(held, found, 0.9).pvalue > 1e-4
    # Intervals of half the confidence would not hold it so often.
    assert stats.binomtest(held, found, 0.45).pvalue < 1e-4


@pytest.mark.statistical
def test_noise_alone_is_no_change(seed):
    rng = np.random.default_rng(seed)
    series = 1000
    alarms = sum(
        change_point(CYCLES, rng.standard_normal(len(CYCLES)), 0.95) is not None
        for _ in range(series)
    )
    assert stats.binomtest(alarms, series, 0.005, alternative="greater").pvalue > 1e-4


def test_exact_records_of_either_sign():
    for slope in (0.01, -0.01):
        y = 1.0 + slope * np.maximum(CYCLES - 700.0, 0.0)
        found = change_point(CYCLES, y, 0.95)
        assert (found.at, found.slope, found.level) == pytest.approx((700.0, slope, 1.0))
        assert found.low == pytest.approx(found.high, abs=1e-6)
    assert change_point(CYCLES, np.ones_like(CYCLES), 0.95) is None
    few = CYCLES[: FEWEST_READINGS - 1]
    assert change_point(few, few, 0.95) is None


def test_units_and_many_readings_change_nothing(seed):
    rng = np.random.default_rng(seed)
    y = made(700.0, 0.01, 0.2, rng)
    found = change_point(CYCLES, y, 0.95)
    scaled = change_point(CYCLES / 1000.0, y * np.pi / 180.0, 0.95)
    assert 1000.0 * scaled.at == pytest.approx(found.at)
    assert 1000.0 * scaled.high == pytest.approx(found.high)
    x = np.linspace(0.0, 2000.0, 20000)
    assert change_point(x, made(700.0, 0.01, 0.2, rng, x), 0.95).at == pytest.approx(700.0, abs=15)
