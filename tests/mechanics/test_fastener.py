"""The fastener's shape: segments, weakest section."""

from __future__ import annotations

import math

import pytest

from preloadmc.mechanics.fastener import (
    Section,
    Shank,
    fastener_segments,
    fastener_terms,
    weakest_section,
)
from preloadmc.mechanics.thread import thread

INCH = 25.4


@pytest.mark.published
def test_stiffness_of_shank_and_thread():
    # Shigley, instructor's solution 8-22: M12, L = 60, grip 45 mm, 30 mm of shank, 466.8 MN/m.
    bolt = thread("M12")
    segments = fastener_segments(bolt, [Shank(12.0, 30.0)], 45.0, bolt.stress_area)
    assert [segment.length for segment in segments] == [30.0, 15.0]
    compliance = sum(segment.length / segment.area for segment in segments) / 207e3
    assert 1 / compliance == pytest.approx(466.8e3, rel=0.002)


def test_segments_fill_the_grip():
    bolt = thread("M10")
    shanks = [Shank(10.0, 20.0), Shank(7.5, 25.0)]
    segments = fastener_segments(bolt, shanks, 60.0, bolt.core_area)
    assert sum(segment.length for segment in segments) == pytest.approx(60.0)
    assert segments[1].area == pytest.approx(math.pi / 4 * 7.5**2)
    assert segments[2].area == bolt.core_area
    threaded = fastener_segments(bolt, [], 60.0, bolt.core_area)
    assert [segment.length for segment in threaded] == [60.0]


def test_a_waist_softens_the_fastener():
    bolt = thread("M10")

    def compliance(diameter):
        segments = fastener_segments(bolt, [Shank(diameter, 40.0)], 60.0, bolt.core_area)
        terms = fastener_terms(segments, 10.0, bolt.core_area, 205e3, "hexagon", "nut", 205e3)
        return sum(term.compliance for term in terms)

    assert compliance(7.0) > compliance(8.0) > compliance(10.0)


def test_weakest_section_is_the_thread_unless_a_waist_is_thinner():
    bolt = thread("M10")
    threaded = Section(bolt.stress_area, bolt.stress_diameter)
    assert weakest_section(bolt, []) == threaded
    assert weakest_section(bolt, [Shank(10.0, 20.0)]) == threaded
    waist = Shank(7.0, 20.0)
    assert weakest_section(bolt, [Shank(10.0, 20.0), waist]) == Section(waist.area, 7.0)


def test_a_shank_longer_than_the_grip_is_refused():
    bolt = thread("M10")
    with pytest.raises(ValueError, match=r"plain lengths of M10 \(50 mm\) exceed the grip \(45 mm"):
        fastener_segments(bolt, [Shank(10.0, 50.0)], 45.0, bolt.core_area)


@pytest.mark.parametrize(
    ("values", "words"), [((0.0, 5.0), "must be above zero"), ((8.0, -1.0), "cannot be negative")]
)
def test_an_impossible_shank_cannot_be_built(values, words):
    with pytest.raises(ValueError, match=words):
        Shank(*values)
