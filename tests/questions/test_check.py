"""A case explained: nominal values, correlations, defaults with their sources, warnings."""

import math

import pytest

from preloadmc import check

STEEL = {"clamped": [{"material": "steel", "thickness": "16 mm"}] * 2, "joint": {}}


def sources(case):
    return {item.path: (item.value, item.source) for item in case.assumptions}


def test_every_default_is_listed_with_its_source(make_case):
    case = make_case({**STEEL, "fastener.material": None, "sampling": {}})
    found = sources(case)
    assert set(found) >= {
        "fastener.material",
        "fastener.modulus",
        "fastener.expansion",
        "fastener.yield_strength",
        "fastener.tensile_strength",
        "fastener.bearing_diameter",
        "clamped[1].modulus",
        "clamped[2].expansion",
        "friction.correlation",
        "tightening.bias",
        "tightening.tool",
        "tightening.prevailing_torque",
        "settling.embedding",
        "settling.relaxation",
        "requirement.allowed_under",
        "requirement.allowed_over",
        "joint.fastener_compliance",
        "joint.clamped_compliance",
        "sampling.samples",
        "sampling.seed",
    }
    assert all(value and source for value, source in found.values())
    assert found["fastener.yield_strength"][0] == "940 MPa, the minimum of 10.9"
    assert "ISO 898-1:2013" in found["fastener.yield_strength"][1]
    assert found["sampling.samples"][0] == "1,000,000"
    assert "Shigley" in found["joint.clamped_compliance"][1]
    assert "from memory" in found["joint.fastener_compliance"][1]


def test_what_is_stated_is_not_assumed(make_case):
    case = make_case(
        {
            "fastener.yield_strength": "950 MPa",
            "fastener.bearing_diameter": "15 mm",
            "tightening.bias": "1 %",
            "settling.embedding": "5 um",
            "requirement.allowed_under": "1 %",
        }
    )
    stated = {
        "fastener.yield_strength",
        "fastener.bearing_diameter",
        "tightening.bias",
        "settling.embedding",
        "requirement.allowed_under",
        "sampling.seed",
        "joint.fastener_compliance",
    }
    assert not stated & set(sources(case))
    assert check(case).nominal.path["assembled"] > 0


def test_a_correlation_and_what_it_makes_of_the_quantities(make_case):
    law = {"law": "lognormal", "mean": 0.13, "cov": 0.3}
    case = make_case({"friction": {"thread": law, "bearing": law, "correlation": 0.4}})
    (found,) = check(case).correlations
    assert found.names == ("friction.thread", "friction.bearing")
    # lognormals: (exp(rho s²) - 1)/(exp(s²) - 1); rank 6/pi asin(rho/2)
    s2 = math.log1p(0.09)
    assert found.linear == pytest.approx(math.expm1(0.4 * s2) / math.expm1(s2), rel=1e-9)
    assert found.rank == pytest.approx(6 / math.pi * math.asin(0.2), rel=1e-12)


def test_no_correlation_is_nothing_to_explain(make_case):
    law = {"law": "lognormal", "mean": 0.13, "cov": 0.3}
    case = make_case({"friction": {"thread": law, "bearing": law, "correlation": 0}})
    assert check(case).correlations == ()
    assert "friction.correlation" not in sources(case)


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        (
            {"tightening.torque": "140 N·m"},
            "the fastener yields: 72.07 kN (16203 lbf) in tightening",
        ),
        (
            {"tightening": {"method": "torque then angle", "torque": "20 N·m", "angle": "90 deg"}},
            "the fastener yields: 70.25 kN (15793 lbf) in tightening, yield",
        ),
        ({"tightening.torque": "200 N·m"}, "the fastener breaks while it is tightened"),
        ({"settling.embedding": "1 mm"}, "At nominal values no preload is left: settled."),
    ],
)
def test_warnings(make_case, overrides, words):
    found = check(make_case(overrides)).warnings
    assert any(words in warning for warning in found), found


def test_an_ordinary_joint_is_warned_only_of_what_is_not_judged(make_case):
    (words,) = check(make_case(STEEL)).warnings
    assert words.startswith("Not judged, since the case does not say enough: pressure under head: ")
    assert "state limiting_pressure of the layer of steel" in words
    assert "thread stripping: state engagement and mate_tensile_strength of [fastener]" in words


@pytest.mark.parametrize(
    ("celsius", "warned"),
    # The table of steel spans -73 to 427 °C; it is taken to hold 100 K below its lower end.
    [(-180, True), (-170, False), (420, False), (430, True)],
)
def test_beyond_the_table_of_modulus_is_warned_of(make_case, celsius, warned):
    at = f"{celsius} degC"
    state = {"name": "there", "fastener": at, "clamped": at}
    case = make_case({**STEEL, "temperature": {"assembly": "20 degC", "state": [state]}})
    found = check(case).warnings
    assert any("there: beyond the table of modulus" in words for words in found) is warned


def test_a_joint_that_has_let_go_has_no_release_torque(make_case):
    assert check(make_case({"settling.embedding": "1 mm"})).nominal.release_torque is None


@pytest.mark.parametrize(("pressure", "warned"), [("200 MPa", True), ("900 MPa", False)])
def test_a_limit_besides_the_window_that_is_missed_is_warned_of(make_case, pressure, warned):
    # 40 kN on the ring between 16.63 and 13.5 mm, 74.1 mm²: 540 MPa.
    layer = {"material": "steel", "thickness": "16 mm", "limiting_pressure": pressure}
    found = check(make_case({**STEEL, "clamped": [layer, layer]})).warnings
    assert (
        any(
            "limit beside the preload window is missed: pressure under head" in words
            for words in found
        )
        is warned
    )


def test_a_limiting_pressure_that_is_not_judged_is_said(make_case):
    gasket = {"material": "steel", "thickness": "2 mm", "limiting_pressure": "10 MPa"}
    plate = {"material": "steel", "thickness": "16 mm"}
    case = make_case({"joint": {}, "clamped": [plate, gasket, plate]})
    assert {face.where for face in case.joint.bearing_faces} == {"layer 1", "layer 3"}
    assert not any("is not judged: the program" in words for words in check(case).warnings)
    # A layer between softer ones is not what gives way.
    soft, hard = ({**plate, "limiting_pressure": each} for each in ("200 MPa", "700 MPa"))
    found = check(make_case({"joint": {}, "clamped": [soft, hard, soft]})).warnings
    said = [words for words in found if "is not judged: the program" in words]
    assert [words.partition(" ")[0] for words in said] == ["clamped[2].limiting_pressure"]
    outer = {**plate, "limiting_pressure": "900 MPa"}
    found = check(make_case({"joint": {}, "clamped": [outer, outer]})).warnings
    assert not any("is not judged: the program" in words for words in found)


@pytest.mark.parametrize(("stated", "missing"), [("under", "over"), ("over", "under")])
def test_a_cost_on_one_side_alone_is_warned_of(make_case, stated, missing):
    found = check(make_case({"cost": {f"per_{stated}": 100.0}})).warnings
    assert any(
        words.startswith(f"cost.per_{missing} is not stated and counts as 0") for words in found
    )
    both = check(make_case({"cost": {"per_under": 100.0, "per_over": 0.0}})).warnings
    assert not any("counts as 0" in words for words in both)
