"""The deterministic check: published forms through a case, and what lies beyond its bounds."""

from __future__ import annotations

import pytest
from plain_lines import section_lines

from preloadmc.engine import sample
from preloadmc.errors import CaseError
from preloadmc.estimates.probability import from_counts
from preloadmc.mechanics.scatter_table import typical_scatter
from preloadmc.questions import bounds as bounds_module
from preloadmc.questions.bounds import sampled_bounds
from preloadmc.questions.derive import derive
from preloadmc.report.documents.bounds import bounds_document
from preloadmc.report.text.bounds import bounds_chapters, bounds_sections

STATED = {"method": "stated scatter", "preload": "40 kN"}
# F_Z = 4 um/(4 um/kN) = 1 kN, then 10 %.
SETTLING = {"embedding": "4 um", "relaxation": "10 %"}
WARM = {
    "clamped": [{"material": "aluminium 6082", "thickness": "30 mm"}],
    "temperature": {
        "assembly": "20 degC",
        "state": [
            {"name": "hot", "fastener": "60 degC", "clamped": "60 degC"},
            {"name": "cold", "fastener": "-20 degC", "clamped": "-20 degC"},
        ],
    },
}


def bounds(case):
    """The bounds of a case, from its derivation."""
    return bounds_module.bounds(derive(case))


def approaches(case):
    return {approach.name: approach for approach in bounds(case).approaches}


def test_without_a_stated_scatter_nothing_is_bounded(make_case):
    case = make_case()
    found = bounds(case)
    assert found.approaches == ()
    text = " ".join(section_lines(bounds_sections(found, "metric")))
    assert "states no scatter" in text
    assert not any(character.isdigit() for character in text)
    kept = sample(case, seed=1, samples=100, precision=None).kept
    assert bounds_document(sampled_bounds(found, kept)) is None
    assert bounds_chapters(found, "metric").lines() == []


def test_largest_and_smallest_preload_by_uncertainty(make_case):
    # NASA-STD-5020A, Sec. 4.3 (form from memory): P_max = c_max (1 + Gamma) P, P_i,min = c_min
    # (1 - Gamma) P, P_min = P_i,min - P_r; 40 kN, 25 %, 5 %: 52.5 and 28.5 kN; 28.5 - 1 less 10 %.
    case = make_case(
        {
            "tightening": STATED,
            "settling": SETTLING,
            "deterministic": {"uncertainty": "25 %", "control_tolerance": "5 %"},
        }
    )
    (found,) = bounds(case).approaches
    assert found.largest_assembled == pytest.approx(52_500)
    assert found.smallest_assembled == pytest.approx(28_500)
    assert found.largest == pytest.approx(52_500)
    assert found.smallest == pytest.approx(27_500 * 0.9)
    assert "as stated in the case file" in found.source


@pytest.mark.parametrize(("tested", "loss"), [(False, 0.05), (True, 0.0)])
def test_relaxation_is_at_least_five_per_cent_unless_tested(make_case, tested, loss):
    case = make_case(
        {
            "tightening": STATED,
            "deterministic": {"uncertainty": 0.25, "relaxation_tested": tested},
        }
    )
    (found,) = bounds(case).approaches
    assert found.smallest == pytest.approx(30_000 * (1 - loss))


def test_averaging_over_fasteners_narrows_the_smallest_alone(make_case):
    case = make_case(
        {
            "tightening": STATED,
            "deterministic": {
                "uncertainty": 0.2,
                "averaged_fasteners": 16,
                "relaxation_tested": True,
            },
        }
    )
    (found,) = bounds(case).approaches
    assert found.smallest == pytest.approx(40_000 * 0.95)
    assert found.largest == pytest.approx(48_000)
    assert "independent" in found.chapter.steps[1].note


@pytest.mark.published
def test_scatter_ratio_of_the_worked_example(make_case):
    # VDI 2230-1:2015, a worked example as reprinted: M12, class 8.8, friction 0.14: F_Mmax
    # 41.9 kN, scatter ratio 1.8, F_Mmin 23.3 kN.
    case = make_case(
        {
            "fastener.property_class": "8.8",
            "friction": {"thread": 0.14, "bearing": 0.14},
            "tightening": {"method": "stated scatter", "preload": "30 kN"},
            "requirement": {
                "minimum_preload": "20 kN",
                "maximum_preload": {"from": "yield", "fraction": 0.9},
            },
            "deterministic": {"scatter_ratio": 1.8},
        }
    )
    found = approaches(case)["VDI 2230 style, tightened to the largest allowed preload"]
    assert found.largest_assembled == pytest.approx(41_900, rel=0.01)
    assert found.smallest_assembled == pytest.approx(23_300, rel=0.01)
    assert found.meets_minimum
    assert found.meets_maximum


def test_scatter_ratio_about_the_nominal_preload(make_case):
    # Half width (1.5 - 1)/(1.5 + 1) = 20 %: 48 and 32 kN; (32 - 1) less 10 %.
    case = make_case(
        {"tightening": STATED, "settling": SETTLING, "deterministic": {"scatter_ratio": 1.5}}
    )
    found = approaches(case)["VDI 2230 style, about the nominal preload"]
    assert found.largest == pytest.approx(48_000)
    assert found.smallest_assembled == pytest.approx(32_000)
    assert found.smallest == pytest.approx(31_000 * 0.9)


def test_a_row_of_the_table_by_its_name(make_case):
    row = typical_scatter("torque lubricated, NSTS 08307")
    case = make_case({"tightening": STATED, "deterministic": {"typical": row.name}})
    nasa, about, most = bounds(case).approaches
    assert nasa.largest == pytest.approx(40_000 * (1 + row.high))
    assert about.largest == pytest.approx(nasa.largest)
    assert most.largest == pytest.approx(62_000)
    for approach in (nasa, about, most):
        assert row.name in approach.source
        assert row.source in approach.source


def test_a_stated_half_goes_before_the_row(make_case):
    case = make_case(
        {
            "tightening": STATED,
            "deterministic": {
                "typical": "torque lubricated, NSTS 08307",
                "uncertainty": 0.1,
            },
        }
    )
    nasa, about, _ = bounds(case).approaches
    assert nasa.largest == pytest.approx(44_000)
    assert about.largest == pytest.approx(50_000)


def test_a_stated_ratio_goes_before_the_row(make_case):
    row = {"typical": "torque lubricated, NSTS 08307", "scatter_ratio": 1.5}
    nasa, about, _ = bounds(make_case({"tightening": STATED, "deterministic": row})).approaches
    assert nasa.largest == pytest.approx(50_000)
    assert about.largest == pytest.approx(48_000)


def test_temperature_adds_to_the_largest_and_takes_from_the_smallest(make_case):
    extra = {"tightening": STATED, "deterministic": {"uncertainty": 0.2, "scatter_ratio": 1.5}}
    plain, warm = make_case(extra), make_case({**extra, **WARM})
    for name, found in approaches(warm).items():
        before = approaches(plain)[name]
        assert found.largest > found.largest_assembled
        assert found.smallest < before.smallest
        # Closed form at 40 K, less at most 2 % of the preload for the softer moduli.
        change = (23e-6 - 11.7e-6) * 30 * 40 / 4e-6
        assert change - 0.02 * 40_000 < found.largest - found.largest_assembled < change


def test_the_window_that_bounds_are_held_against(make_case):
    stated = {"deterministic": {"uncertainty": 0.2, "relaxation_tested": True}}
    for minimum, maximum, meets in (
        ("32 kN", "48 kN", (True, True)),
        ("32.1 kN", "47.9 kN", (False, False)),
    ):
        case = make_case(
            {
                "tightening": STATED,
                "requirement": {"minimum_preload": minimum, "maximum_preload": maximum},
                **stated,
            }
        )
        (found,) = bounds(case).approaches
        assert (found.meets_minimum, found.meets_maximum) == meets


def test_a_window_without_a_force_at_its_top_is_not_judged(make_case):
    case = make_case(
        {
            "clamped": [{"material": "steel", "thickness": "32 mm"}],
            "fastener.strength": "minimum",
            "fastener.plastic_strain": 0.05,
            "tightening": {"method": "yield point sensed", "detector_ratio": 1.0},
            "requirement": {"minimum_preload": "28 kN", "maximum_plastic_elongation": "0.1 mm"},
            "deterministic": {"uncertainty": 0.08, "scatter_ratio": 1.2},
        }
    )
    found = bounds(case)
    assert len(found.approaches) == 2
    assert {approach.meets_maximum for approach in found.approaches} == {None}
    assert "  -" in "\n".join(section_lines(bounds_sections(found, "metric")))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"control_tolerance": "5 %"}, "a scatter: uncertainty, scatter_ratio or typical"),
        ({"scatter_ratio": 0.8}, "above 1"),
        ({"uncertainty": "120 %"}, "at most 0.99"),
        ({"typical": "torque lubricatd, NSTS 08307"}, "torque lubricated, NSTS 08307"),
        ({"uncertainty": 0.2, "relaxation_tested": "yes"}, "true or false"),
        (
            {"uncertainty": 0.2, "scatter_ratio": 1.5, "typical": "torque lubricated, NSTS 08307"},
            "remove it: uncertainty and scatter_ratio are stated",
        ),
        ({"uncertanty": 0.2}, "nearest: 'uncertainty'"),
    ],
)
def test_what_the_table_may_not_hold(make_case, given, words):
    with pytest.raises(CaseError, match="deterministic") as error:
        make_case({"deterministic": given})
    assert words in str(error.value)


SCATTERED = {
    "tightening": {
        "method": "stated scatter",
        "preload": {"law": "normal", "mean": "40 kN", "sd": "4 kN"},
    },
    "deterministic": {"uncertainty": "20 %", "relaxation_tested": True, "scatter_ratio": 1.5},
}


@pytest.mark.statistical
def test_how_likely_the_preload_lies_beyond(make_case, seed):
    # Bounds at two s.d. of a normal law: 2.275 % on either side, and not 0.13 % as at three.
    case = make_case(SCATTERED)
    kept = sample(case, seed=seed, samples=100_000, precision=None).kept
    sampled = sampled_bounds(bounds(case), kept)
    found = sampled.beyond[0]
    for probability in (found.below, found.above):
        expected = from_counts(2275, 100_000, 0.9999)
        assert expected.low < probability.value < expected.high
        assert probability.samples == 100_000
        assert probability.value > 0.0013
    low, high = sampled.smallest, sampled.largest
    assert low.low < 40_000 - 3.0902 * 4_000 < low.high
    assert high.low < 40_000 + 3.0902 * 4_000 < high.high


def test_text_and_document_say_the_same(make_case):
    case = make_case({**SCATTERED, "settling": SETTLING})
    kept = sample(case, seed=1, samples=10_000, precision=None).kept
    found = bounds(case)
    sampled = sampled_bounds(found, kept)
    lines = section_lines(bounds_sections(found, "metric", sampled))
    text = " ".join(" ".join(lines).split())
    assert max(map(len, lines)) <= 80
    assert "no stated coverage" in text
    assert "independent errors" in text
    assert "(form from memory)" in text
    document = bounds_document(sampled)
    assert document["unit"] == "N"
    for approach, shown in zip(found.approaches, document["approaches"], strict=True):
        assert shown["smallest"] == approach.smallest
        assert f"{approach.smallest / 1e3:.4g}" in text
        assert shown["meets_minimum"] == approach.meets_minimum
        assert shown["below_smallest"]["samples"] == 10_000
    assert document["sampled"]["residual_p001"] < document["sampled"]["largest_p999"]


def test_each_step_as_shown_gives_the_value_shown(make_case, worked_out):
    case = make_case({**SCATTERED, **WARM, "settling": SETTLING})
    found = bounds(case)
    for approach in found.approaches:
        for step in approach.chapter.steps:
            assert worked_out(step) == pytest.approx(step.value, rel=1e-9), step.title
    lines = bounds_chapters(found, "inch").lines()
    assert max(map(len, lines)) <= 80
    assert any("sqrt(n_f)" in line for line in lines)
