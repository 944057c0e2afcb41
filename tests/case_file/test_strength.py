"""Strengths of a fastener: from the class, one from the other, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.errors import CaseError
from preloadmc.joint import evaluate
from preloadmc.joint.shape import engaged_thread
from preloadmc.limits import margins, unjudged
from preloadmc.mechanics.grades import grade, grades_with_usual_excess
from preloadmc.report.text.changes import change_lines

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


LAW = {"law": "normal", "mean": "1010 MPa", "cov": "3 %"}
# ISO 898-1:2013, class 10.9: R_p0.2 940 MPa over R_m 1040 MPa, the smallest of both.
RATIO = 940 / 1040


def drawn(case, n=20_000):
    z = np.random.default_rng(3).standard_normal((n, len(case.uncertain)))
    return case.inputs(z, case.uncertain)


@pytest.mark.parametrize(("name", "other", "factor"), [
    (YIELD, TENSILE, 1 / RATIO), (TENSILE, YIELD, RATIO),
])  # fmt: skip
def test_the_strength_that_nobody_states_follows_the_one_that_scatters(
    make_case, name, other, factor
):
    # A normal law of yield, 1010 MPa and 3 %, passes the smallest tensile strength, 1040 MPa, in
    # Q(30/30.3) = 16 % of fasteners: none of which there are.
    case = make_case({name: LAW})
    assert case.uncertain == (name,)
    x = drawn(case)
    assert np.asarray(x[other]) == pytest.approx(factor * np.asarray(x[name]), rel=1e-12)
    assert case.means[other] == pytest.approx(factor * 1010.0, rel=1e-12)
    (said,) = (item for item in case.assumptions if item.path == other)
    assert said.value.startswith(f"{factor:.4g} times the ")
    assert "ISO 898-1" in said.source


def test_what_follows_a_constant_keeps_its_minimum_unless_both_are_as_usual(make_case):
    minimum = make_case({YIELD: "950 MPa"})
    assert minimum.laws[TENSILE].mean == 1040.0
    usual = make_case({YIELD: "950 MPa", "fastener.strength": "usual"})
    assert usual.means[TENSILE] == pytest.approx(950 / RATIO, rel=1e-12)


def test_stripping_takes_the_strength_that_follows(make_case):
    # Alexander, SAE paper 770420: where the fastener's thread is the weaker by far, the stripping
    # force is in proportion to its tensile strength.
    engaged = {
        "fastener.mate": "tapped hole",
        "fastener.engagement": "12 mm",
        "fastener.mate_tensile_strength": "5000 MPa",
    }
    case = make_case({**engaged, YIELD: LAW})
    x = case.inputs(np.array([[-1.0], [0.0], [2.0]]), case.uncertain)
    strips = {
        margin.limit.name: margin.reference
        for margin in margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=True)
    }["thread stripping"]
    stated = make_case({**engaged, YIELD: "900 MPa", TENSILE: f"{1010 / RATIO} MPa"})
    mean = engaged_thread(stated.joint.geometry, stated.joint.thread, 1010 / RATIO).stripping_force
    assert strips[1] == pytest.approx(mean, rel=1e-12)
    assert strips / strips[1] == pytest.approx(x[YIELD] / 1010, rel=1e-12)


CROSSING = [
    # Q((1040 - 1010)/30.3) = 0.161
    (LAW, "1040 MPa", "with these laws it is not with probability 0.16"),
    # The same by a law of the tensile strength: 1010 and 940 MPa, Q(70/30.3) = 0.0104
    ("940 MPa", LAW, "with these laws it is not with probability 0.01"),
    # Independent: the difference is normal, Q((1110 - 1010)/hypot(30.3, 33.3)) = 0.0132
    (LAW, {**LAW, "mean": "1110 MPa"}, "with these laws it is not with probability 0.013"),
    ("1040 MPa", "1040 MPa", "it is not above 1040 MPa"),
]


@pytest.mark.parametrize(
    ("kind", "yielding", "tensile", "words"),
    [
        *((kind, *rest) for rest in CROSSING for kind in ("10.9", None)),
        ("10.9", "1050 MPa", None, "it is not above 1050 MPa"),
    ],
)
def test_a_yield_strength_above_the_tensile_strength_is_refused(
    make_case, kind, yielding, tensile, words
):
    with pytest.raises(CaseError, match=rf"fastener\.tensile_strength.*{words}"):
        make_case({"fastener.property_class": kind, YIELD: yielding, TENSILE: tensile})


def test_strengths_that_are_far_apart_need_no_class(make_case):
    # Q((1300 - 1010)/30.3) = 5e-22
    case = make_case({"fastener.property_class": None, YIELD: LAW, TENSILE: "1300 MPa"})
    assert case.laws[TENSILE].mean == 1300.0


@pytest.mark.parametrize("name", grades_with_usual_excess())
def test_usual_strengths_never_cross(name):
    # Both normal, means 1.1 and cov 4 % times the minima, correlated by 0.95: the difference is
    # normal, and its mean is more than 6 s.d. (1e-9) above zero.
    found = grade(name, 10.0)
    low, high = 1.1 * found.yield_strength, 1.1 * found.tensile_strength
    spread = 0.04 * math.sqrt(low**2 + high**2 - 2 * 0.95 * low * high)
    assert high - low > 6.0 * spread


def test_an_alternative_says_what_its_strength_follows(make_case):
    base = {"alternative": [{"name": "tested lot", "fastener": {"yield_strength": LAW}}]}
    case = make_case(base)
    lines = change_lines(case, case.alternatives[0], "metric")
    assert any(line.startswith("tensile strength: 1.106 times the yield") for line in lines)


SENSED = {
    "fastener.plastic_strain": 0.05,
    "clamped": [{"material": "steel", "thickness": "40 mm", "limiting_pressure": "900 MPa"}],
    "tightening": {"method": "yield point sensed", "detector_ratio": 1.0},
    "requirement": {"minimum_preload": "28 kN", "maximum_plastic_elongation": "0.4 mm"},
    "fastener.mate": "tapped hole",
    "fastener.engagement": "12 mm",
    "fastener.mate_tensile_strength": "500 MPa",
}
ANGLE = {
    **SENSED,
    "tightening": {"method": "torque then angle", "torque": "20 N·m", "angle": "90 deg"},
}
BEARS = ("pressure under head", "thread stripping")


class TestAMethodThatPullsToYield:
    """The preload is the strength of each fastener: the minimum says nothing of too much."""

    def missed(self, case, name, n=20_000):
        """Share of fasteners that miss a limit at assembly."""
        x = drawn(case, n)
        found = margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=True)
        (margin,) = (
            each for each in found if (each.limit.name, each.limit.state) == (name, "assembly")
        )
        return float(np.mean(np.asarray(margin.values) < 0.0))

    def test_a_maximum_at_the_mean_strength_is_passed_by_half_of_all_fasteners(self, make_case):
        # The usual yield strength of 10.9 is normal about 1.1 x 940 MPa; without other scatter the
        # preload is F_y of each fastener, in proportion to it, and above that mean in one half.
        case = make_case(SENSED)
        mean = float(evaluate(case.joint, case.means).assembled)
        at_mean = {"requirement": {"minimum_preload": "28 kN", "maximum_preload": f"{mean} N"}}
        case = make_case({**SENSED, **at_mean})
        # 20000 fasteners: 4 s.d. of the share are 1.4 %.
        assert self.missed(case, "maximum preload") == pytest.approx(0.5, abs=0.015)

    def test_pressure_is_judged_on_the_strength_that_fasteners_have(self, make_case):
        # The ring under the head bears F_y of a fastener one s.d. above the mean: missed in 15.9 %.
        case = make_case(SENSED)
        strong = 1.04 * float(evaluate(case.joint, case.means).assembled)
        pressure = strong / (math.pi / 4 * (16.63**2 - 13.5**2))
        layer = {**SENSED["clamped"][0], "limiting_pressure": f"{pressure} MPa"}
        case = make_case({**SENSED, "clamped": [layer]})
        # 4 s.d. of the share are 1 %.
        assert self.missed(case, "pressure under head") == pytest.approx(0.1587, abs=0.011)

    @pytest.mark.parametrize("given", [SENSED, ANGLE], ids=["sensed", "angle"])
    def test_the_usual_strength_is_assumed_and_said(self, make_case, given):
        case = make_case(given)
        assert case.laws[YIELD].mean == pytest.approx(1.1 * 940.0)
        (said,) = (item for item in case.assumptions if item.path == "fastener.strength")
        assert said.value.startswith("usual: ")
        assert "value from memory" in said.source
        assert not set(BEARS) & set(unjudged(case.joint, case.requirement, case.means))

    @pytest.mark.parametrize("given", [SENSED, ANGLE], ids=["sensed", "angle"])
    @pytest.mark.parametrize(
        "strength", [{"fastener.strength": "minimum"}, {YIELD: "950 MPa", TENSILE: "1050 MPa"}]
    )
    def test_one_figure_leaves_what_must_bear_the_preload_unjudged(
        self, make_case, given, strength
    ):
        case = make_case({**given, **strength})
        x = case.means
        found = margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=True)
        assert not set(BEARS) & {margin.limit.name for margin in found}
        reasons = unjudged(case.joint, case.requirement, x)
        assert all("a law of yield_strength" in reasons[name] for name in BEARS)
        # A stronger fastener only has more of the minimum, and stretches less past yield.
        stronger = {**x, YIELD: 1.1 * x[YIELD], TENSILE: 1.1 * x[TENSILE]}
        more = margins(case.joint, case.requirement, stronger, evaluate(case.joint, stronger))
        for margin in more:
            (before,) = (each for each in found if each.limit == margin.limit)
            assert margin.values >= before.values - 1e-9

    @pytest.mark.parametrize(
        "strength", [{"fastener.strength": "minimum"}, {YIELD: "950 MPa", TENSILE: "1050 MPa"}]
    )
    def test_one_figure_cannot_be_held_against_a_maximum_force(self, make_case, strength):
        window = {"requirement": {"minimum_preload": "28 kN", "maximum_preload": "80 kN"}}
        with pytest.raises(CaseError, match=r"maximum_preload.*a law of yield_strength, or stren"):
            make_case({**SENSED, **window, **strength})

    @pytest.mark.parametrize("name", ["4.6", "A2-70"])
    def test_a_class_without_a_usual_excess_asks_for_a_law(self, make_case, name):
        with pytest.raises(CaseError) as caught:
            make_case({**SENSED, "fastener.property_class": name})
        (problem,) = caught.value.problems
        assert problem.path == YIELD
        assert f"{name} has no usual excess over its minimum" in str(problem)
        assert make_case(
            {**SENSED, "fastener.property_class": name, "fastener.strength": "minimum"}
        ).joint.has_no_upper_end

    def test_methods_below_yield_keep_the_minimum(self, make_case):
        assert make_case({}).laws[YIELD].mean == 940.0
        assert not make_case({}).joint.has_no_upper_end


@pytest.mark.parametrize(
    ("thread", "name", "warned"),
    # ISO 3506-1:2009: classes 70 and 80 up to M24, above as agreed (value from memory).
    [("M24", "A2-70", False), ("M27", "A2-70", True), ("M27", "A2-50", False)],
)
def test_a_size_that_the_standard_leaves_to_agreement_is_warned_of(make_case, thread, name, warned):
    sizes = {"bearing_outer_diameter": "40 mm", "hole_diameter": "30 mm", "material": "steel"}
    case = make_case({"fastener": {"thread": thread, "property_class": name, **sizes}})
    words = f"property_class {name} above M24: the standard leaves the strengths to agreement"
    assert any(warning.startswith(words) for warning in case.warnings) is warned
