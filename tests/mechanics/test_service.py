"""The joint under load against Shigley's worked joints and design tables of slip resistance."""

from __future__ import annotations

import numpy as np
import pytest

from preloadmc.mechanics import service
from preloadmc.mechanics.thread import thread


@pytest.mark.published
def test_load_factor_and_service_stress():
    # Shigley, 9th ed., Ex. 8-3a, p. 439: kb 6.5, km 13.8 Mlbf/in; C 0.320; 72.17 kpsi.
    share = service.load_factor(1 / 6.5, 1 / 13.8, 1.0)
    assert share == pytest.approx(0.320, abs=0.0005)
    assert service.fastener_force(25.0, 6.0, share) / 0.373 == pytest.approx(72.17, rel=1e-3)


@pytest.mark.published
@pytest.mark.parametrize(
    ("C", "load", "preload", "proof", "load_factor", "tolerance"),
    [
        # Shigley, 9th ed., Ex. 8-5, p. 449: 5 kip, 14.4 kip, 85 kpsi on 0.226 in²: 3.44.
        (0.280, 5.0, 14.4, 85 * 0.226, 3.44, 0.005),
        # Instructor's solutions 8-22, 8-20, 8-26 and 8-37.
        (0.253, 10.6, 37.9, 50.58, 4.73, 0.003),
        (0.2346, 10.6, 37.9, 50.58, 5.1, 0.005),
        (0.267, 2.128, 9.046, 85 * 0.1419, 5.31, 0.002),
        (0.33, 80.0, 252.45, 600e-3 * 561, 3.19, 0.002),
    ],
)
def test_fastener_reaches_proof_at_the_published_load_factor(
    C, load, preload, proof, load_factor, tolerance
):
    # The load factor n is that of the load: preload + C n P = proof load.
    at_limit = preload + C * load_factor * load
    slope = C * load
    assert (proof - at_limit) / slope == pytest.approx(0.0, abs=tolerance * load_factor)
    # Solution 8-20 leaves out that the parts have separated before: the fastener carries 54.1 kN
    # there, not the 50.6 kN of its proof load.
    exact = service.fastener_force(preload, load_factor * load, C)
    assert exact == pytest.approx(max(at_limit, load_factor * load), rel=1e-12)
    assert (exact > at_limit) == (load_factor == 5.1)


@pytest.mark.published
@pytest.mark.parametrize(
    ("C", "load", "preload", "factor", "tolerance"),
    # Shigley, 9th ed., Ex. 8-5, p. 449 (4.00); instructor's solution 8-37 (4.71).
    [(0.280, 5.0, 14.4, 4.00, 0.005), (0.33, 80.0, 252.45, 4.71, 0.002)],
)
def test_parts_separate_at_the_published_factor(C, load, preload, factor, tolerance):
    needed = service.preload_for_no_separation(factor * load, C)
    assert needed == pytest.approx(preload, rel=tolerance)
    assert service.clamp_force(needed, factor * load, C) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.published
def test_yield_factor_of_a_cap_screw():
    # Shigley, 9th ed., Ex. 8-5, p. 449: 1.22 = proof load over fastener force.
    force = service.fastener_force(14.4, 5.0, 0.280)
    assert 85 * 0.226 / force == pytest.approx(1.22, abs=0.005)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "resistances"),
    [
        # Design tables to EN 1993-1-8, eq. 3.6: class 8.8, one face, factor 1.1, friction
        # 0.2, 0.3, 0.4, 0.5; kN.
        ("M12", (8.58, 12.9, 17.2, 21.5)),
        ("M16", (16.0, 24.0, 32.0, 40.0)),
        ("M20", (24.9, 37.4, 49.9, 62.4)),
        ("M24", (35.9, 53.9, 71.9, 89.9)),
        ("M30", (57.1, 85.7, 114, 143)),
    ],
)
def test_preload_for_the_slip_resistances_of_design_tables(name, resistances):
    preload = 0.7 * 800 * thread(name).stress_area
    friction = np.array([0.2, 0.3, 0.4, 0.5])
    needed = service.preload_for_no_slip(1.1e3 * np.array(resistances), friction, 1, 0.0, 0.0)
    assert needed == pytest.approx(preload, rel=0.005)


def test_the_derived_minimum_preload_is_exactly_enough():
    needed = service.preload_for_no_slip(3e3, 0.2, 2, 4e3, 0.25)
    clamp = service.clamp_force(needed, 4e3, 0.25)
    # Friction on two faces carries mu n F_K.
    assert 0.2 * 2 * clamp == pytest.approx(3e3)


def test_fastener_and_parts_share_the_load():
    change = service.fastener_force(30e3, 5e3, 0.2) - service.clamp_force(30e3, 5e3, 0.2)
    assert change == pytest.approx(5e3)


def test_load_entering_at_the_interface_leaves_the_fastener_alone():
    assert service.load_factor(3e-6, 1e-6, 0.0) == 0.0
    assert service.load_factor(3e-6, 1e-6, 1.0) == pytest.approx(0.25)


def test_more_joint_friction_needs_less_preload():
    assert service.preload_for_no_slip(3e3, 0.3, 1, 0.0, 0.2) < service.preload_for_no_slip(
        3e3, 0.2, 1, 0.0, 0.2
    )
