"""The fastener past yield: closed forms of the bilinear law."""

from __future__ import annotations

import numpy as np
import pytest

from preloadmc.mechanics.hardening import (
    elongation_at_capacity,
    plastic_elongation_from_excess,
    plastic_elongation_from_preload,
    preload_past_yield,
)

YIELD, CAPACITY, COMPLIANCE, ELONGATION = 50e3, 65e3, 6e-6, 0.8


def _preload(elastic):
    return preload_past_yield(elastic, YIELD, CAPACITY, COMPLIANCE, ELONGATION)


def test_below_yield_the_law_is_elastic():
    elastic = np.array([-1e3, 0.0, 20e3, YIELD])
    assert _preload(elastic) == pytest.approx(elastic)


def test_at_capacity_the_stated_elongation_is_reached():
    # The turn that brings the capacity: elastic part of both, and u_m.
    elastic = CAPACITY + ELONGATION / COMPLIANCE
    assert _preload(elastic) == pytest.approx(CAPACITY)
    assert plastic_elongation_from_excess(elastic, CAPACITY, COMPLIANCE) == pytest.approx(
        ELONGATION
    )


def test_beyond_capacity_preload_stays_and_elongation_tells():
    elastic = CAPACITY + 2 * ELONGATION / COMPLIANCE
    assert _preload(elastic) == CAPACITY
    assert plastic_elongation_from_excess(elastic, CAPACITY, COMPLIANCE) > ELONGATION


def test_turn_and_preload_tell_the_same_elongation():
    elastic = np.linspace(0.0, CAPACITY + ELONGATION / COMPLIANCE, 50)
    preload = _preload(elastic)
    by_turn = plastic_elongation_from_excess(elastic, preload, COMPLIANCE)
    by_preload = plastic_elongation_from_preload(preload, YIELD, CAPACITY, ELONGATION)
    assert by_turn == pytest.approx(by_preload, abs=1e-12)


def test_preload_rises_with_every_turn_but_less_steeply_past_yield():
    elastic = np.linspace(0.0, 150e3, 200)
    slope = np.diff(_preload(elastic)) / np.diff(elastic)
    assert np.all(slope > 0)
    assert slope[0] == pytest.approx(1.0)
    assert slope[-1] < 0.2


def test_without_hardening_preload_stops_at_yield():
    assert preload_past_yield(80e3, YIELD, YIELD, COMPLIANCE, ELONGATION) == YIELD


def test_longer_free_thread_stretches_further():
    assert elongation_at_capacity(0.05, 20.0) == pytest.approx(1.0)
