"""Thermal change of preload against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from preloadmc.mechanics.thermal import preload_at_temperature, thermal_growth

FASTENER = 40 / (205e3 * 58)
SLEEVE = 40 / (70e3 * 300)
COLD = FASTENER + SLEEVE


def _change(kelvin):
    parts = thermal_growth([23.6e-6], [40.0], [kelvin])
    fastener = thermal_growth([11.7e-6], [40.0], [kelvin])
    return preload_at_temperature(0.0, COLD, COLD, parts, fastener)


def test_steel_fastener_through_aluminium():
    # Closed form: (23.6 - 11.7)e-6 · 40 mm · 80 K / 5.2690e-6 mm/N = +7227 N, and back when cold.
    assert _change(80.0) == pytest.approx(7227, rel=1e-3)
    assert _change(-80.0) == pytest.approx(-7227, rel=1e-3)


def test_one_material_at_one_temperature_feels_nothing():
    growth = thermal_growth([11.7e-6, 11.7e-6], [15.0, 25.0], [60.0, 60.0])
    stretch = thermal_growth([11.7e-6], [40.0], [60.0])
    assert preload_at_temperature(30e3, COLD, COLD, growth, stretch) == pytest.approx(30e3)


def test_softer_metal_keeps_the_elastic_stretch_and_loses_force():
    # F delta is the stretch: a joint 10 % softer carries 1/1.1 of the force.
    hot = preload_at_temperature(30e3, COLD, 1.1 * COLD, 0.0, 0.0)
    assert hot == pytest.approx(30e3 / 1.1)


def test_each_layer_grows_by_its_own_expansion_and_temperature():
    change = np.array([10.0, 50.0])
    growth = thermal_growth([23e-6, 12e-6], [30.0, 10.0], [change, 2 * change])
    assert growth == pytest.approx(23e-6 * 30 * change + 12e-6 * 10 * 2 * change)


def test_back_at_the_assembly_temperature_nothing_has_changed():
    assert preload_at_temperature(30e3, COLD, COLD, 0.0, 0.0) == pytest.approx(30e3)


def test_hotter_parts_mean_more_preload():
    change = np.linspace(-50.0, 150.0, 30)
    assert np.all(np.diff(_change(change)) > 0)
