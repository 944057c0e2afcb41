"""First hours with a case file: what people type is understood in its one meaning, or refused
with the cure in the words.
"""

import textwrap
import tomllib

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from preloadmc import check, load_case
from preloadmc.case_file.schema import case_schema
from preloadmc.cli.main import main
from preloadmc.errors import CaseError
from preloadmc.report.text.case import check_text

# An M12 of class 10.9 through 32 mm of steel. It breaks at 87.64 kN: 84.27 mm2 of stress area, by
# d - 0.938194 P (ISO 898-1), of 1040 MPa.
LINES = {
    "fastener.thread": '"M12"',
    "fastener.property_class": '"10.9"',
    "fastener.bearing_outer_diameter": '"16.6 mm"',
    "fastener.hole_diameter": '"13.5 mm"',
    "friction.thread": '{ law = "lognormal", mean = 0.13, cov = "12 %" }',
    "friction.bearing": '{ law = "lognormal", mean = 0.13, cov = "12 %" }',
    "tightening.method": '"torque"',
    "tightening.torque": '"90 N·m"',
    "tightening.tool": '{ law = "normal", half_width = "6 %", coverage = "2 sd" }',
    "requirement.minimum_preload": '"33 kN"',
    "requirement.maximum_preload": '{ from = "yield", fraction = 0.9 }',
    "requirement.allowed_under": "1e-2",
    "requirement.allowed_over": "1e-2",
}
LAYER = {"material": '"steel"', "thickness": '"32 mm"'}


def text_of(lines, layer, more):
    rows = [f"{key} = {value}" for key, value in {**LINES, **lines}.items() if value is not None]
    layer = ", ".join(f"{key} = {value}" for key, value in {**LAYER, **layer}.items() if value)
    return "\n".join([*rows, f"clamped = [{{ {layer} }}]", textwrap.dedent(more), ""])


@pytest.fixture(scope="module")
def schema():
    return Draft202012Validator(case_schema())


@pytest.fixture
def hour(tmp_path, schema):
    """A function that reads a case with some lines typed otherwise; what is read validates."""

    def hour(layer=None, more="", **lines):
        path = tmp_path / "joint.toml"
        lines = {key.replace("__", "."): value for key, value in lines.items()}
        text = text_of(lines, layer or {}, more)
        path.write_text(text, encoding="utf-8")
        case = load_case(path)
        assert schema.is_valid(tomllib.loads(text))
        return case

    return hour


def problems(hour, *arguments, **lines):
    with pytest.raises(CaseError) as caught:
        hour(*arguments, **lines)
    return [str(problem) for problem in caught.value.problems]


def problem(hour, *arguments, **lines):
    (found,) = problems(hour, *arguments, **lines)
    return found


def mean(case, name):
    return case.laws[name].mean


class TestTwelveFirstHours:
    def test_one_number_for_the_tool(self, hour):
        """The data sheet says 4 %: which coverage, only its owner knows."""
        for typed in ('"4 %"', "0.04", '"0,04"'):
            words = problem(hour, tightening__tool=typed)
            assert '{ tolerance = "4 %", coverage = "2 sd" }' in words, typed
            assert "coverage says how many lie within the tolerance" in words
        words = problem(hour, tightening__tool='"±4 %"')
        assert '{ law = "normal", half_width = "4 %", coverage = "2 sd" }' in words
        words = problem(hour, tightening__tool='{ tolerance = "4 %" }')
        assert "tool.coverage: missing; how the tolerance is meant: one of '1 sd'" in words
        case = hour(tightening__tool='{ tolerance = "±4 %", coverage = "2 sigma" }')
        assert case.laws["tightening.tool"].sd == pytest.approx(0.02)

    def test_an_american_data_sheet(self, hour):
        case = hour(
            {"thickness": '"1 1/4 in"', "modulus": '"30 Msi"'},
            fastener__thread='"1/2 UNC"',
            fastener__property_class='"Gr. 8"',
            fastener__bearing_outer_diameter="'0.75\"'",
            fastener__hole_diameter='"17/32 inch"',
            tightening__torque='"70 ft-lbs"',
            requirement__minimum_preload='"7000 lbs"',
        )
        assert case.joint.thread.designation == "1/2-13 UNC"
        assert case.joint.grade == "SAE J429 grade 8"
        # 1 lbf·ft = 1355.8179 N·mm and 1 lbf = 4.4482216 N (NIST SP 811, Appendix B.8).
        assert mean(case, "tightening.torque") == pytest.approx(70 * 1355.8179, rel=1e-7)
        assert mean(case, "requirement.minimum_preload") == pytest.approx(
            7000 * 4.4482216, rel=1e-7
        )
        assert case.joint.parts[0].thickness == pytest.approx(1.25 * 25.4)
        # 30e6 psi of 6.894757e-3 MPa each (NIST SP 811, Appendix B.8).
        assert case.joint.parts[0].material.modulus == pytest.approx(30e6 * 6.894757e-3, rel=1e-6)

    def test_commas_before_the_decimals(self, hour):
        case = hour(
            fastener__thread='"M12 x 1,25"',
            fastener__property_class='"10,9"',
            fastener__bearing_outer_diameter='"16,6 mm"',
            friction__thread='{ law = "lognormal", mean = "0,13", cov = "12,5 %" }',
        )
        assert case.joint.thread.designation == "M12x1.25"
        assert case.joint.grade == "10.9"
        assert case.joint.geometry.head_face == 16.6
        assert case.laws["friction.thread"].sd == pytest.approx(0.13 * 0.125)
        assumed = {each.path: each.value for each in case.assumptions if "comma" in each.source}
        assert assumed == {
            "fastener.bearing_outer_diameter": "16.6 mm",
            "friction.thread.mean": "0.13",
            "friction.thread.cov": "12.5 %",
        }
        # Thousands or decimals: only its owner knows.
        words = problem(hour, requirement__minimum_preload='"33,000 N"')
        assert "'33.000 N' or '33000 N': the comma may be either" in words

    def test_units_without_the_shift_key(self, hour):
        case = hour(
            {"modulus": '"205 gpa"', "limiting_pressure": '"7100 bar"'},
            tightening__torque='"90 nm"',
            requirement__minimum_preload='"33 KN"',
        )
        assert mean(case, "tightening.torque") == pytest.approx(90e3)
        assert mean(case, "requirement.minimum_preload") == pytest.approx(33e3)
        assert case.joint.parts[0].material.modulus == pytest.approx(205e3)
        assert case.joint.parts[0].limiting_pressure == pytest.approx(710.0)
        words = problem(hour, requirement__minimum_preload='"33 mn"')
        assert "write which" in words
        words = problem(hour, requirement__minimum_preload='"3300 kg"')
        assert "'kg' is a mass: write a force in kgf, N or kN" in words

    def test_percent_signs_forgotten(self, hour):
        law = '{{ law = "lognormal", mean = 0.13, cov = {} }}'
        for typed in ("11", '"11"'):
            assert "is 11 % meant?" in problem(hour, friction__thread=law.format(typed))
        assert "is 3 % meant?" in problem(hour, requirement__allowed_under="3")
        assert "is 5 % meant?" in problem(hour, settling__relaxation="5")
        assert "is 5 % meant?" not in problem(hour, settling__relaxation='"500 %"')
        maximum = '{ from = "yield", fraction = 90 }'
        assert "is 90 % meant?" in problem(hour, requirement__maximum_preload=maximum)

    def test_spreads_in_one_text(self, hour):
        cases = {
            "tightening__torque": (
                ('"90 N·m ±10%"', 'mean = "90 N·m", half_width = "10 %", coverage = "2 sd"'),
                ('"90 ± 5 N·m"', 'mean = "90 N·m", half_width = "5 N·m", coverage = "2 sd"'),
                ('["80 N·m", "100 N·m"]', 'law = "uniform", low = "80 N·m", high = "100 N·m"'),
            ),
            "friction__thread": (
                ('"0.10-0.16"', 'law = "uniform", low = 0.1, high = 0.16'),
                ('"0.10 to 0.16"', 'law = "uniform", low = 0.1, high = 0.16'),
                # 10 % of 0.13.
                ('"0.13 +/-10 %"', "mean = 0.13, half_width = 0.013"),
            ),
        }
        for key, typed in cases.items():
            for text, law in typed:
                assert law in problem(hour, **{key: text}), text
        words = problem(hour, fastener__hole_diameter='"13.5 mm ±0.1"')
        assert "fastener.hole_diameter: one number without ±" in words

    def test_keys_of_other_programs_and_textbooks(self, hour):
        typed = '{ law = "gaussian", mu = 0.13, sigma = 0.015 }'
        found = problems(hour, friction__thread=typed)
        assert [each.partition("; known")[0] for each in found] == [
            "friction.thread.mu: unknown key; here it is called 'mean'",
            "friction.thread.sigma: unknown key; here it is called 'sd'",
        ]
        found = problems(hour, friction__thread='{ law = "Uniform", min = 0.10, max = 0.16 }')
        assert "'low'" in found[0]
        assert "'high'" in found[1]
        words = problem(hour, fastener__torque='"90 N·m"')
        assert "fastener.torque: unknown key" in words
        assert "it is a key of [tightening]; see `preloadmc keys`" in words

    def test_a_material_that_no_table_has(self, hour):
        words = problem(hour, {"material": '"brass"'})
        assert "`preloadmc tables materials` lists all" in words
        assert 'modulus = "205 GPa" and expansion = "11.5 ppm/K"' in words
        words = problem(hour, {"material": '{ name = "brass", modulus = "105 GPa" }'})
        assert (
            "one of your own is stated by its modulus and expansion in place of material" in words
        )
        own = {"material": None, "modulus": '"105 GPa"', "expansion": '"20.5e-6/K"'}
        part = hour(own).joint.parts[0].material
        assert (part.modulus, part.expansion) == (pytest.approx(105e3), pytest.approx(20.5e-6))
        assert hour({"material": '"steel (S355)"'}).joint.parts[0].material.name == "steel S355"
        assert "nearest: steel S355" in problem(hour, {"material": '"S 355"'})

    def test_numbers_that_no_joint_has(self, hour):
        case = hour({"modulus": '"72 MPa"'}, friction__thread="1.25", friction__bearing="0.13")
        assert case.warnings[:2] == (
            "clamped[1].modulus: 72 MPa; usual is 1 GPa to 700 GPa (engineering judgement); is 72 "
            "GPa meant?",
            "friction.thread: 1.25; usual is 0.02 to 0.6 (engineering judgement); is 0.125 meant?",
        )
        assert "3000 mm; usual is 0.02 mm to 2 m" in hour({"thickness": '"3000 mm"'}).warnings[0]
        # Beside a problem they are told too.
        with pytest.raises(CaseError) as caught:
            hour({"modulus": '"72 MPa"'}, tightening__torque='"90"')
        assert caught.value.warnings == case.warnings[:1]
        assert "\nAlso unusual:\n  - clamped[1].modulus: 72 MPa; usual" in str(caught.value)

    def test_a_window_that_the_fastener_cannot_meet(self, hour):
        case = hour(requirement__minimum_preload='"203 kN"', requirement__maximum_preload=None)
        assert case.warnings == (
            "requirement.minimum_preload: 203 kN, and the fastener breaks at 87.64 kN in tension: "
            "no tightening reaches it; is 20.3 kN meant?",
        )
        # 90 N·m with friction 0.13 makes about 41 kN.
        warnings = check(hour(requirement__minimum_preload='"44 kN"')).warnings
        assert warnings[0] == (
            "At nominal values the preload is outside its own window: minimum preload is missed "
            "(settled)."
        )
        for typed in ('"90% yield"', '"90 % of yield"', "0.9", '"0,9 Rp0.2"'):
            words = problem(hour, requirement__maximum_preload=typed)
            assert '{ from = "yield", fraction = 0.9 }' in words, typed
        assert '{ from = "no slip" }' in problem(hour, requirement__minimum_preload='"no slip"')

    def test_keys_that_do_nothing(self, hour):
        shared = 'shared = { by = "lot", fraction = 0.6 }'
        law = f'{{ law = "lognormal", mean = 0.13, cov = "12 %", {shared} }}'
        case = hour(
            friction__thread=law,
            friction__joint="0.2",
            fastener__plastic_strain='"6 %"',
            requirement__confidence='"95 %"',
            cost__per_joint="1.10",
        )
        assert case.warnings == (
            "friction.thread.shared has no effect here: the case is one fastener, without [group] "
            "and [[evidence]]; a survey of many joints uses it.",
            "fastener.plastic_strain has no effect here: 'torque' is meant to stay elastic.",
            "friction.joint has no effect here: no transverse load is stated.",
            "cost.per_joint has no effect here: it counts between alternatives, and no "
            "[[alternative]] is stated.",
            "requirement.confidence has no effect here: no law is stated by its tests.",
        )
        # With what they go with, they have one.
        slips = hour(friction__joint="0.2", load__transverse='"2 kN"')
        assert slips.warnings == ()
        compared = hour(
            more="""
            [[alternative]]
            name = "pulled"
            load.transverse = "2 kN"
            """,
            cost__per_joint="1.10",
            friction__joint="0.2",
        )
        assert compared.warnings == ()

    def test_money_and_counts(self, hour):
        for typed in ('"900 EUR"', '"EUR 900"'):
            words = problem(hour, cost__per_under=typed, cost__per_over="1")
            assert '900 alone, with currency = "EUR" once in [cost]' in words
        assert hour(sampling__samples="1e6").sampling.samples == 1_000_000
        assert hour(sampling__samples='"1_000_000"').sampling.samples == 1_000_000
        assert "a whole number" in problem(hour, sampling__samples="1.5")
        words = problem(hour, requirement__allowed_under='"1 in 1000"')
        assert "'1/1000', for 1 in 1000" in words
        hot = """
            [[temperature.state]]
            name = "hot"
            fastener = "140C"
            clamped = "140 C"
            """
        case = hour(more=hot, temperature__assembly='"20 °C"')
        assert mean(case, "temperature.state.hot.fastener") == pytest.approx(413.15)


# What follows from a value or key that cannot be read is no further problem.
@pytest.mark.parametrize(
    ("lines", "path"),
    [
        ({"fastener__property_class": '"B7"', "fastener__strength": '"minimum"'}, "property_class"),
        ({"fastener__property_clas": '"10.9"', "fastener__property_class": None}, "property_clas"),
        ({"fastener__hole_diametre": '"14 mm"', "fastener__hole_diameter": None}, "hole_diametre"),
        ({"fastener__mate": '"taped whole"'}, "fastener.mate"),
        ({"tightening__metod": '"torque"', "tightening__method": None}, "tightening.metod"),
        ({"tightening__torqe": '"90 N·m"', "tightening__torque": None}, "tightening.torqe"),
        ({"friction__thread": '{ law = "normal", mean = "x", sd = "2 %" }'}, "thread.mean"),
        (
            {
                "friction__joint": '"dry"',
                "load__transverse": '"2 kN"',
                "requirement__minimum_preload": '{ from = "no slip" }',
            },
            "friction.joint",
        ),
        ({"tightening__tool": '{ law = "normal", tolerance = "6 %" }'}, "tightening.tool.law"),
        ({"tightening__tool": '{ tolerence = "6 %", coverage = "2 sd" }'}, "tool.tolerence"),
        ({"deterministic__typical": '"torqe wrench"'}, "deterministic.typical"),
        ({"deterministic__typcal": '"torque wrench"'}, "deterministic.typcal"),
        ({"friction__thread": '{ law = "normal", tests = "x.csv", mean = 0.1 }'}, "thread.tests"),
        (
            {"friction__thread": None, "friction__bearing": None, "friction__totel": "0.13"},
            "friction.totel",
        ),
    ],
)
def test_one_slip_is_one_problem(hour, lines, path):
    strips = {
        "fastener__engagement": '"10 mm"',
        "fastener__mate_tensile_strength": '"900 MPa"',
    }
    # A nut is asked for its width, a hole that is not known to be tapped is not.
    beside = strips if "fastener__mate" in lines else {}
    assert path in problem(hour, **{**beside, **lines})


def test_a_problem_of_an_alternative_is_told_by_its_name(hour):
    more = """
        [[alternative]]
        name = "better wrench"
        [alternative.tightening]
        torque = "90"
        [alternative.friction]
        thread = 1.25
        """
    with pytest.raises(CaseError) as caught:
        hour(more=more)
    assert [str(each) for each in caught.value.problems] == [
        "alternative[1].tightening.torque: a torque needs a unit, such as N·m or lbf·ft (given: "
        "'90') (in 'better wrench')"
    ]
    (warning,) = caught.value.warnings
    assert warning.endswith("is 0.125 meant? (in 'better wrench')")


@pytest.mark.parametrize(
    ("of_case", "of_alternative", "path"),
    [
        ('"torque"', '"torqe"', "alternative[1].tightening.method"),
        # Whether the tool of the case still holds, nobody knows.
        ('"torqe"', '"torque"', "tightening.method"),
    ],
)
def test_a_misspelt_method_is_the_one_problem(hour, of_case, of_alternative, path):
    more = f"""
        [[alternative]]
        name = "other"
        tightening = {{ method = {of_alternative}, torque = "95 N·m" }}
        """
    words = problem(hour, more=more, tightening__method=of_case)
    assert words.startswith(f"{path}: one of 'torque', 'torque then angle'")
    assert "nearest: 'torque'" in words


def test_long_lists_are_shortened_to_the_nearest(hour):
    found = """
        [[evidence]]
        fastener = "1"
        kind = "{}"
        value = "20 kN"
        sd = "1 kN"
        """
    words = problem(hour, more=found.format("residual prelod"))
    assert words == (
        "evidence[1].kind: unknown word; nearest: 'residual preload'; `preloadmc keys kind` lists "
        "all (given: 'residual prelod')"
    )
    # With none like it, the first seven of seventeen.
    assert problem(hour, more=found.format("x" * 9)).count("', '") == 6
    suspect = """
        [[suspect]]
        library = "oily thread"
        """
    words = problem(hour, more=suspect + found.format("residual preload"))
    assert words == (
        "suspect[1].library: a shipped suspect; nearest: 'dry thread'; `preloadmc keys library` "
        "lists all (given: 'oily thread')"
    )


def test_check_tells_what_is_unusual_first_and_of_alternatives_by_name(hour):
    more = """
        [[alternative]]
        name = "dry"
        friction.thread = 1.25
        """
    case = hour({"modulus": '"72 MPa"'}, more=more, requirement__minimum_preload='"60 kN"')
    text = " ".join(check_text(check(case)).split())
    first = text.index("Warning: clamped[1].modulus: 72 MPa")
    assert first < text.index("Warning: At nominal values the preload is outside")
    assert "is 0.125 meant? (in 'dry')" in text


def test_problems_are_wrapped_between_words(tmp_path):
    path = tmp_path / "joint.toml"
    lines = {"tightening.tool": '"4 %"', "fastener.propertyclass": '"10.9"'}
    path.write_text(text_of(lines, {"material": '"brass"'}, ""), encoding="utf-8")
    result = CliRunner().invoke(main, ["check", str(path)])
    assert result.exit_code == 2
    head, *lines = result.stderr.splitlines()
    assert head == f"preloadmc: {path}: 3 problems"
    assert max(map(len, lines)) <= 80
    assert all(line.startswith(("  - ", "    ")) for line in lines)
    with pytest.raises(CaseError) as caught:
        load_case(path)
    assert " ".join(result.stderr.split()) == f"preloadmc: {' '.join(str(caught.value).split())}"


@pytest.mark.parametrize(
    ("typed", "method"), [('"Torque"', "torque"), ('"stated_scatter"', "stated scatter")]
)
def test_letter_case_and_hyphens_do_not_matter_in_words(hour, typed, method):
    beside = {}
    if method == "stated scatter":
        preload = '{ law = "normal", mean = "40 kN", cov = "10 %" }'
        beside = {
            "tightening__torque": None,
            "tightening__tool": None,
            "tightening__preload": preload,
        }
    assert hour(tightening__method=typed, **beside).joint.method.name == method


def test_a_method_in_other_letters_is_no_change_of_method(hour):
    """The set torque and tool of the case stay."""
    more = """
        [[alternative]]
        name = "same"
        tightening.method = "Torque"
        """
    (same,) = hour(more=more).alternatives
    assert mean(same, "tightening.torque") == pytest.approx(90e3)
