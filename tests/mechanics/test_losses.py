"""Embedding, relaxation and rotation against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.mechanics.losses import (
    EMBEDDING_SOURCE,
    embedding_force,
    embedding_total,
    not_below_zero,
    preload_after_settling,
    rotation_loss,
)

FASTENER = 40 / (205e3 * 58)
SLEEVE = 40 / (70e3 * 300)


def test_embedding_of_a_short_steel_and_aluminium_joint():
    # Closed form: 11 µm over 3.3642e-6 + 1.9048e-6 mm/N, 2088 N.
    assert embedding_force(0.011, FASTENER + SLEEVE) == pytest.approx(2088, rel=1e-3)


@pytest.mark.published
@pytest.mark.parametrize(
    ("roughness", "direction", "thread", "seat", "inner"),
    [
        # VDI 2230-1:2003, Table 5 (values from memory), µm.
        ("below 10 um", "axial", 3, 2.5, 1.5),
        ("below 10 um", "transverse", 3, 3, 2),
        ("10 to 40 um", "axial", 3, 3, 2),
        ("10 to 40 um", "transverse", 3, 4.5, 2.5),
        ("40 to 160 um", "axial", 3, 4, 3),
        ("40 to 160 um", "transverse", 3, 6.5, 3.5),
    ],
)
def test_embedding_table(roughness, direction, thread, seat, inner):
    stud = embedding_total(roughness, direction, 2, 0, 0)
    assert stud * 1e3 == pytest.approx(2 * thread)
    assert embedding_total(roughness, direction, 1, 0, 0) * 1e3 == pytest.approx(thread)
    assert embedding_total(roughness, direction, 1, 2, 0) * 1e3 == pytest.approx(thread + 2 * seat)
    assert embedding_total(roughness, direction, 1, 1, 3) * 1e3 == pytest.approx(
        thread + seat + 3 * inner
    )
    assert "value from memory" in EMBEDDING_SOURCE


def test_unknown_roughness_or_direction_is_refused():
    with pytest.raises(ValueError, match="unknown roughness class 'rough'; known: below 10 um"):
        embedding_total("rough", "axial", 1, 2, 1)
    with pytest.raises(ValueError, match="unknown load direction 'shear'; known: axial"):
        embedding_total("below 10 um", "shear", 1, 2, 1)


@pytest.mark.published
def test_settlement_of_a_five_sixteenths_joint():
    # Common practice, no published source: about 10 % of 4000 lbf. Guide embedding of a through-
    # bolt with one inner interface, class 8.8-like steel joint, grip twice the diameter.
    grip, area = 16.0, 0.0524 * 25.4**2
    fastener = (grip + 1.4 * 7.94) / (205e3 * area)
    loss = embedding_force(embedding_total("10 to 40 um", "axial", 1, 2, 1), fastener * 1.3)
    assert 0.05 < loss / (4000 * 4.448) < 0.20


def test_settling_takes_embedding_first_then_its_share():
    assert preload_after_settling(40e3, 4e3, 0.05) == pytest.approx(34.2e3)
    assert preload_after_settling(40e3, 0.0, 0.0) == 40e3
    # Not limited, so that a margin keeps its sign; a state has no preload below zero.
    settled = preload_after_settling(np.array([1e3, 40e3]), 4e3, 0.05)
    assert settled[0] < 0
    assert not_below_zero(settled) == pytest.approx([0.0, 34.2e3])


def test_a_shorter_grip_loses_more_to_the_same_embedding():
    grip = np.array([5.0, 10.0, 20.0, 40.0, 80.0])
    loss = embedding_force(0.011, grip / (205e3 * 58) + grip / (70e3 * 300))
    assert np.all(np.diff(loss) < 0)


@pytest.mark.published
def test_a_third_of_a_turn():
    # Textbook exercise as quoted in an engineering forum: bolt 20 mm, pitch 2.5 mm, through a tube
    # 40/22 mm, 350 mm long: 241 MPa in the bolt, -86.3 MPa in the tube (207 and 71 GPa inferred).
    bolt, tube = math.pi / 4 * 20**2, math.pi / 4 * (40**2 - 22**2)
    compliance = 350 / (207e3 * bolt) + 350 / (71e3 * tube)
    force = rotation_loss(2 * math.pi / 3, 2.5, compliance)
    assert force / bolt == pytest.approx(241, rel=0.002)
    assert force / tube == pytest.approx(86.3, rel=0.002)
