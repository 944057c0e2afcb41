"""Strengths of a fastener: from the class, one from the other, and what is refused."""

from __future__ import annotations

import pytest

from preloadmc.errors import CaseError

YIELD, TENSILE = "fastener.yield_strength", "fastener.tensile_strength"


@pytest.mark.parametrize("name", ["4.6", "6.8", "A2-70"])
def test_a_usual_excess_is_refused_where_none_is_known(make_case, name):
    # Common practice, no published source: soft, cold-worked and stainless fasteners lie above the
    # minimum by no usual share; only quenched and tempered ones do.
    words = f"{name} has no usual excess over its minimum; those that have one: 8.8, 9.8, 10.9"
    with pytest.raises(CaseError, match=words):
        make_case({"fastener.property_class": name, "fastener.strength": "usual"})


@pytest.mark.parametrize("name", ["8.8", "SAE 8", "ASTM A325"])
def test_quenched_and_tempered_grades_have_a_usual_excess(make_case, name):
    case = make_case({"fastener.property_class": name, "fastener.strength": "usual"})
    assert case.laws[YIELD].sd / case.laws[YIELD].mean == pytest.approx(0.04)
