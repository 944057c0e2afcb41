"""A case file from a few answers: asked one by one, from a pipe, or by options."""

import io
import shlex
import sys

import click
import pytest
from click.testing import CliRunner

from preloadmc import check, load_case
from preloadmc.case_file.new_case import questions, reading
from preloadmc.case_file.new_case.heads import head
from preloadmc.cli.main import main
from preloadmc.mechanics.friction_table import known_friction_classes, known_nut_factors
from preloadmc.mechanics.grades import grade

# A joint that every option describes, so that leaving one out asks for that one alone.
WHOLE = {
    "title": "Gearbox foot",
    "thread": "M12",
    "property-class": "10.9",
    "head": "hexagon",
    "bearing-outer-diameter": "16.6 mm",
    "hole-diameter": "13.5 mm",
    "mate": "nut",
    "part": ["steel, 12 mm", "grey cast iron, 20 mm"],
    "friction": "B",
    "method": "torque",
    "torque": "84 N·m",
    "tool": "6 %, 2 sd",
    "roughness": "10 to 40 um",
    "needs": "20 kN",
    "axial": "none",
    "transverse": "none",
    "state": ["hot, 90 degC, 95 degC"],
    "assembly": "20 degC",
    "maximum": "90 % of yield",
    "allowed-under": "0.1 %",
    "allowed-over": "1 %",
}


# What is not asked, since few have it at hand: pressures, engaged threads, a measured stiffness.
NOT_ASKED = ("Not judged, since", "The stiffness is taken as exact")


def warned(file):
    """What `check` warns of in a file, but for what is not asked."""
    return [words for words in check(load_case(file)).warnings if not words.startswith(NOT_ASKED)]


def new(*words, answers=""):
    return CliRunner().invoke(main, ["new", *map(str, words)], input=answers)


def options(**changes):
    """Return the options of the whole joint, with changes; None leaves one out."""
    stated = WHOLE | {key.replace("_", "-"): value for key, value in changes.items()}
    return [
        word
        for key, value in stated.items()
        if value is not None
        for each in (value if isinstance(value, list) else [value])
        for word in (f"--{key}", each)
    ]


def test_the_options_of_a_whole_joint_leave_nothing_to_ask(tmp_path):
    file = tmp_path / "joint.toml"
    told = new(file, *options())
    assert told.exit_code == 0, told.output
    assert "[" not in told.stdout.partition("Written")[0].partition("Not judged")[0]
    assert "Left at examples" not in told.stdout
    case = load_case(file)
    assert case.title == "Gearbox foot"
    assert [part.thickness for part in case.joint.parts] == [12.0, 20.0]
    assert case.joint.judged_states == ("settled", "hot")
    assert (case.requirement.allowed_under, case.requirement.allowed_over) == (1e-3, 1e-2)
    # 2.56 % of 84 N·m is what a tolerance of 6 % at 2 s.d. is not: its s.d. is 3 %.
    assert case.laws["tightening.tool"].sd == pytest.approx(0.03)


# What a session is asked in turn: the questions of a line, a bad answer, what is said of it, a good
# one, and what then stands in the file. Empty for a bad answer: only the good one is given.
BEGUN = [
    ("thread", "M13", "nearest: M12, M14, M10, M16", "m12 x 1,5", 'thread = "M12x1.5"'),
    ("property_class", "8.9", "nearest: 8.8", "10,9", 'property_class = "10.9"'),
]
NUT = [
    ("head", "hexagram", "nearest: 'hexagon'", "Hex", 'property_class = "10.9"\nbearing_outer'),
    (
        "bearing_outer_diameter hole_diameter",
        "16.6 mm, 9 mm",
        "a diameter above 12 mm, that of M12x1.5: it must pass",
        "16,6 mm, 13,5 mm",
        'bearing_outer_diameter = "16.6 mm"\nhole_diameter = "13.5 mm"',
    ),
    ("mate", "bolt", "one of 'nut', 'tapped hole'", "nut", ""),
]
PARTS = [
    (
        "part",
        "steel",
        "such as 'steel, 12 mm' or 'steel, 12 mm, 34 mm'",
        "Aluminum 6082, 15,33 mm, 34 mm",
        'material = "aluminium 6082"\nthickness = "15.33 mm"\nouter_diameter = "34 mm"',
    ),
    (
        "part",
        "cast, 20 mm",
        "have 'cast': grey cast iron, alu",
        "grey cast; 20 mm",
        "grey cast iron",
    ),
    ("part", "", "", "", ""),
    ("friction", "soap", "a word of the tables", "graphite", "# Friction class A of VDI 2230-1"),
]
ENDED = [
    ("allowed_under allowed_over", "2", "at most 1", "1e-4, 0,5 %", 'over = "0.5 %"'),
]
SESSIONS = {
    "a bolt with a nut by torque": [
        ("title", "\x07", "printable characters", "Pump 3, left", 'title = "Pump 3, left"'),
        *BEGUN,
        *NUT,
        *PARTS,
        ("method", "torqe", "nearest: 'torque'", "Torque", 'method = "torque"'),
        ("torque", "45 kg", "'kg' is a mass: write a force in kgf", "45 Nm", 'torque = "45 Nm"'),
        ("tool", "6 %, 2 ds", "nearest: '2 sd'", "6 %, rect", 'coverage = "rectangular"'),
        (
            "roughness",
            "10 or 40 µm",
            "nearest: '10 to 40 um'",
            "below",
            'roughness = "below 10 um", load_direction = "transverse"',
        ),
        ("needs", "no slp", "nearest: 'no slip'", "no slip", '{ from = "no slip" }'),
        (
            "axial transverse",
            "none, none",
            "a [load] transverse to derive it from",
            ", 3 kN",
            '[load]  # on one fastener\ntransverse = "3 kN"',
        ),
        ("joint_friction", "0", "above 0", "0,18", "joint = 0.18  #"),
        (
            "state",
            "cold",
            "a name and the temperatures of fastener and parts",
            "cold, -35 °C",
            'name = "cold"\nfastener = "-35 °C"\nclamped = "-35 °C"',
        ),
        ("state", "cold, 5 °C", "a unique name", "hot, 90 °C, 95 °C", 'clamped = "95 °C"'),
        ("state", "", "", "no more", ""),
        ("assembly", "20 grd", "nearest: rad", "20 °C", 'assembly = "20 °C"'),
        ("maximum", "a lot", "a finite number", "85 % of yield", '"yield", fraction = "85 %"'),
        *ENDED,
    ],
    "a countersunk screw in a tapped hole by angle": [
        ("title", "", "", "Lid", 'title = "Lid"'),
        BEGUN[0],
        (
            "property_class",
            "940 MP, 1040 MPa",
            "unknown unit 'MP'",
            "940 MPa, 1040 MPa",
            'yield_strength = "940 MPa"\ntensile_strength = "1040 MPa"',
        ),
        ("head", "conical", "one of 'hexagon'", "countersunk", 'head = "socket"  # countersunk'),
        ("bearing_outer_diameter hole_diameter", "11 mm", "above 12 mm", "24 mm", '"24 mm"'),
        ("seat_half_angle", "45", "needs a unit", "45 deg", 'seat_half_angle = "45 deg"'),
        ("mate", "", "", "tapped", 'mate = "tapped hole"'),
        (
            "mate_material engagement mate_tensile_strength",
            "alu, 18 mm",
            "several materials have 'alu': aluminium 2024,",
            "gjs-500, 18,5 mm, 500 MPa",
            'mate_material = "ductile iron GJS-500"\nengagement = "18.5 mm"\n'
            'mate_tensile_strength = "500 MPa"',
        ),
        *PARTS,
        ("method", "", "", "torque then angle", 'method = "torque then angle"'),
        ("torque", "30", "needs a unit", "30 N·m", 'torque = "30 N·m"'),
        ("angle", "30 mm", "'mm' is another dimension", "30 °", 'angle = "30 °"'),
        ("tool", "cov 3 mm", "another dimension", "cov 3 %", 'law = "normal", cov = "3 %"'),
        ("roughness", "embedding 8", "needs a unit", "embedding 8 um", 'embedding = "8 um"'),
        ("needs", "clamp 5", "needs a unit", "clamp force 5 kN", 'minimum_clamp = "5 kN"'),
        ("axial transverse", "6", "needs a unit", "6 kN", 'axial = "6 kN"\n\n'),
        ("state", "", "", "none", ""),
        ("maximum", "2 kNm", "another dimension", "52 kN", 'maximum_preload = "52 kN"'),
        *ENDED,
    ],
    "a flange bolt that yields": [
        ("title", "", "", "Rod", 'title = "Rod"'),
        *BEGUN,
        ("head", "", "", "flange", 'plastic_strain = "6 %"\nhead = "hexagon"  # flange'),
        *NUT[1:],
        (
            "nut_bearing_outer_diameter",
            "16 mm2",
            "another dimension",
            "16,6 mm",
            'nut_bearing_outer_diameter = "16.6 mm"',
        ),
        *PARTS,
        ("method", "", "", "yield", 'method = "yield point sensed"'),
        ("detector_ratio", "{ law = ", "a law as in a case file", "1.0", "detector_ratio = 1.0"),
        ("roughness", "", "", "none", ""),
        ("needs", "", "", "structural", '{ from = "structural preloading" }'),
        ("axial transverse", "", "", "", ""),
        ("state", "", "", "", ""),
        (
            "maximum",
            "50 kN",
            "a minimum below the maximum_preload",
            "plastic elongation 200 um",
            "elongation =",
        ),
        ("plastic_strain", "6 mm", "another dimension", "6 %", 'plastic_strain = "6 %"'),
        *ENDED,
    ],
    "a bolt by a tensioner": [
        ("title", "", "", "Stud", ""),
        *BEGUN,
        ("head", "", "", "none", 'head = "none"  # a stud'),
        *NUT[1:],
        *PARTS,
        ("method", "", "", "hydraulic", 'method = "hydraulic tensioning"'),
        ("pump_force", "51 kNm", "another dimension", "51 kN", 'pump_force = "51 kN"'),
        (
            "transfer_ratio",
            "-1",
            "a quantity that is above 0",
            'law = "normal", mean = 0.8, cov = "4 %"',
            'transfer_ratio = { law = "normal", mean = 0.8, cov = "4 %" }',
        ),
        ("tool", "", "", "none", 'cov = "4 %" }\n\n'),
        ("roughness", "", "", "", 'roughness = "10 to 40 um"'),
        (
            "needs",
            "nothing",
            "a force, 'clamp force' and a force, or one of 'no slip'",
            "21,5 kN",
            'minimum_preload = "21.5 kN"',
        ),
        ("axial transverse", "", "", "-3 kN", 'axial = "-3 kN"'),
        ("state", "", "", "", ""),
        ("maximum", "", "", "", 'fraction = "90 %"'),
        *ENDED,
    ],
    "a bolt by its elongation": [
        ("title", "", "", "Cover", ""),
        *BEGUN,
        *NUT,
        *PARTS,
        ("method", "", "", "elongation measured", 'method = "elongation measured"'),
        ("elongation", "much", "a finite number with its unit (µm", "80 µm", '"80 µm"'),
        *[("", "", "", "", "")] * 6,
        *ENDED,
    ],
    "a bolt of which the preload is known": [
        ("title", "", "", "Cover", ""),
        *BEGUN,
        *NUT,
        *PARTS,
        ("method", "", "", "stated", 'method = "stated scatter"'),
        (
            "preload",
            "35",
            "a force needs a unit",
            '{ law = "normal", mean = "35 kN", cov = "12 %" }',
            'preload = { law = "normal", mean = "35 kN", cov = "12 %" }',
        ),
        *[("", "", "", "", "")] * 5,
        *ENDED,
    ],
}


@pytest.mark.parametrize("session", SESSIONS)
def test_a_bad_answer_is_asked_again_at_once(tmp_path, session):
    file = tmp_path / "joint.toml"
    asked = SESSIONS[session]
    lines = [line for _, bad, _, good, _ in asked for line in ((bad, good) if bad else (good,))]
    told = new(file, answers="\n".join(lines) + "\n")
    assert told.exit_code == 0, told.output
    said = " ".join(told.stdout.split())
    assert said.count("Again, please: ") == sum(bool(words) for _, _, words, *_ in asked)
    assert [words for _, _, words, *_ in asked if words not in said] == []
    assert not [words for words in warned(file) if "no effect" in words or "unusual" in words]
    text = file.read_text(encoding="utf-8")
    assert [line for *_, line in asked if line not in text] == []
    assert load_case(file).title


def test_every_question_has_a_bad_and_a_good_answer_here():
    asked = {
        key for rows in SESSIONS.values() for keys, bad, *_ in rows if bad for key in keys.split()
    }
    assert asked == {question.key for question in questions()}


def test_an_empty_answer_takes_what_is_offered_and_every_offer_has_its_unit(tmp_path):
    file = tmp_path / "joint.toml"
    told = new(file, answers="Cover\n" + "\n" * 30)
    assert told.exit_code == 0, told.output
    asked = [line for line in told.stdout.split("\n") if line.endswith("]: ")]
    assert all(len(line) <= 80 for line in told.stdout.partition("Written")[0].split("\n"))
    offered = [line.rpartition("[")[2].removesuffix("]: ") for line in asked]
    assert len(asked) == 15  # without the title, which was answered
    assert offered == [
        "M12",
        "8.8",
        "hexagon",
        "16.63 mm, 13.2 mm",
        "nut",
        "two of steel, 15 mm",
        "B: 0.08 to 0.16, uniform",
        "63 N·m",
        "6 %, 2 sd",
        "10 to 40 um",
        "16 kN",
        "none, none",
        "none",
        "90 % of yield",
        "0.1 %, 0.1 %",
    ]
    assert "Left at examples" not in told.stdout


def test_parts_are_asked_one_by_one_until_an_empty_answer(tmp_path):
    file = tmp_path / "joint.toml"
    answers = "steel, 12 mm\nsteel\ngrey cast iron; 22 mm; 60 mm\n\n"
    told = new(file, *options(part=None), answers=answers)
    assert told.exit_code == 0, told.output
    assert "such as 'steel, 12 mm' or 'steel, 12 mm, 34 mm'" in " ".join(told.stdout.split())
    assert "Read as grey cast iron, 22 mm, 60 mm" in told.stdout
    parts = load_case(file).joint.parts
    assert [(part.thickness, part.outer_diameter) for part in parts] == [(12.0, None), (22.0, 60.0)]


def test_each_part_is_a_layer_so_that_their_interfaces_embed(tmp_path):
    file = tmp_path / "joint.toml"
    assert new(file, *(["--part", "steel, 7.75 mm"] * 4)).exit_code == 0
    case = load_case(file)
    assert [part.thickness for part in case.joint.parts] == pytest.approx([7.75] * 4)
    # VDI 2230, guide values from memory, Rz 10 to 40 um, transverse: thread 3, seats 2 x 4.5,
    # three inner interfaces of 2.5 um
    assert case.laws["settling.embedding"].mean == pytest.approx(19.5e-3)


@pytest.mark.parametrize("word", ["1,000 lbf", "1,234.5 N", "1.234,5 N", "12,345 kN"])
def test_a_comma_that_may_be_of_thousands_is_asked_about(tmp_path, word):
    file = tmp_path / "joint.toml"
    told = new(file, *options(needs=None), answers=f"{word}\n20,25 kN\n")
    assert told.exit_code == 0, told.output
    assert "Again, please: a number without doubt, '1" in told.stdout
    assert "Read as 20.25 kN" in told.stdout
    assert load_case(file).laws["requirement.minimum_preload"].mean == pytest.approx(20250.0)


@pytest.mark.parametrize(
    ("word", "rows"),
    [
        ("oil", ["B", "C", "D", "steel, machine oil", "phosphate and oil, tests"]),
        ("MoS2", ["A", "B", "molybdenum disulphide paste"]),
        ("zinc", ["C", "D", "E", "zinc plated", "zinc flake", "zinc, tests"]),
    ],
)
def test_a_lubricant_shows_the_rows_of_the_tables_with_their_laws_and_sources(tmp_path, word, rows):
    told = new(tmp_path / "joint.toml", *options(friction=None), answers=f"{word}\n{rows[-1]}\n")
    assert told.exit_code == 0, told.output
    lines = told.stdout.split("\n")
    shown = {row: [line for line in lines if line.startswith(f"    {row}: ")] for row in rows}
    assert all(len(found) == 1 for found in shown.values()), shown
    said = " ".join(told.stdout.split())
    assert "VDI 2230-1, Table A5" in said
    assert "uniform" in said
    assert f"Read as {rows[-1]}: nut factor" in said
    assert "nut_factor = { law = " in (tmp_path / "joint.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("row", [*known_friction_classes(), *known_nut_factors()])
def test_every_row_of_friction_makes_a_case_with_the_source_in_a_comment(tmp_path, row):
    file = tmp_path / "joint.toml"
    told = new(file, "--friction", row)
    assert told.exit_code == 0, told.output
    text = file.read_text(encoding="utf-8")
    assert row in text.partition("[friction]")[0].rpartition("\n\n")[2]
    case = load_case(file)
    assert max(case.laws[name].sd for name in case.laws if name.startswith("friction")) > 0.0
    if row == "zinc, tests":  # the mean that the table states
        assert case.laws["friction.nut_factor"].mean == pytest.approx(0.332, abs=1e-3)
    # The torque that is offered suits the friction.
    assert warned(file) == []
    if row == "E":
        assert "The class has no upper end; 0.4 is yours." in text


@pytest.mark.parametrize(
    ("answer", "line"),
    [
        ("0,12", "thread = 0.12\nbearing = 0.12\n\n"),
        ("K 0.2", "nut_factor = 0.2\n\n"),
        ("nut factor = 0,2", "nut_factor = 0.2\n\n"),
        (
            '{ law = "lognormal", mean = 0.13, cov = "12 %" }',
            'bearing = { law = "lognormal", mean = 0.13, cov = "12 %" }\ncorrelation = 0.5',
        ),
        ("thread = 0.12, bearing = 0.14", "thread = 0.12\nbearing = 0.14\n\n"),
    ],
)
def test_friction_may_be_a_number_a_law_or_keys(tmp_path, answer, line):
    file = tmp_path / "joint.toml"
    told = new(file, *options(friction=None), answers=f"{answer}\n")
    assert told.exit_code == 0, told.output
    assert line in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("key", "answer", "read", "line"),
    [
        ("property_class", "940MPa; 1040MPa", "940MPa, 1040MPa", 'tensile_strength = "1040MPa"'),
        ("needs", ".5 kip", "", 'minimum_preload = ".5 kip"'),
        ("needs", "preload of 5 kip", "5 kip", 'minimum_preload = "5 kip"'),
        ("tool", "±4 %", "4 %, 2 sd", 'tool = { tolerance = "4 %", coverage = "2 sd" }'),
        ("roughness", "embedding = 8 um", "embedding 8 um", 'embedding = "8 um"'),
        ("roughness", "below 10um", "below 10 um", 'roughness = "below 10 um"'),
        ("roughness", "10-40 µm", "10 to 40 um", 'roughness = "10 to 40 um"'),
        ("friction", "MoS2 paste", "molybdenum disulphide paste: nut", "nut_factor = { law"),
        (
            "friction",
            "0,08 to 0.12",
            '{ law = "uniform", low = 0.08, high = 0.12 }',
            'bearing = { law = "uniform", low = 0.08, high = 0.12 }',
        ),
        ("assembly", "RT", "20 degC", 'assembly = "20 degC"'),
        ("maximum", "yield", "100 % of yield", 'fraction = "100 %"'),
        ("maximum", "0,8", "0.8 of yield", "fraction = 0.8"),
        ("torque", 'law = "normal", mean = "84 N·m", sd = "3 N·m"', "{ law", 'mean = "84 N·m", sd'),
    ],
)
def test_other_ways_to_answer(tmp_path, key, answer, read, line):
    file = tmp_path / "joint.toml"
    told = new(file, *options(**{key: None}), answers=f"{answer}\n")
    assert told.exit_code == 0, told.output
    assert ("Read as " in told.stdout) == bool(read)
    assert f"Read as {read}" in told.stdout or not read
    assert line in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("part", "read"),
    [
        ("steel 12 mm", "steel, 12 mm"),
        ("aluminium 6082 12,5 mm 30 mm", "aluminium 6082, 12.5 mm, 30 mm"),
        ("GGG40, 1 1/2 in", "ductile iron GJS-400, 1 1/2 in"),
        ("EN-GJS-400-15 20 mm", "ductile iron GJS-400, 20 mm"),
    ],
)
def test_a_part_may_be_typed_with_blanks_alone_and_by_old_names(part, read):
    assert reading.part(part) == read


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("steel 12", "a length needs a unit, such as mm or in"),
        (
            "aluminium 6083",
            "several materials have|unknown material 'aluminium 6083'; nearest: .*6082",
        ),
    ],
)
def test_a_part_that_cannot_be_says_what_can(part, words):
    with pytest.raises(ValueError, match=words):
        reading.part(part)


def test_a_range_in_place_of_a_quantity_is_answered_with_its_law(tmp_path):
    told = new(tmp_path / "joint.toml", *options(torque="80 to 90 N·m"))
    assert '{ law = "uniform", low = "80 N·m", high = "90 N·m" }' in told.output


@pytest.mark.parametrize(
    ("called", "kind"),
    [
        ("Socket head cap screw", "socket"),
        ("SHCS", "socket"),
        ("hex socket", "socket"),
        ("Allen", "socket"),
        ("hex-head bolt", "hexagon"),
        ("hex flange", "flange"),
        ("countersunk socket", "countersunk"),
        ("stud", "none"),
    ],
)
def test_a_head_may_be_called_as_in_the_shop(called, kind):
    assert head(called) == kind


def test_an_engagement_may_be_in_diameters(tmp_path):
    """1.5 times 12 mm."""
    file = tmp_path / "joint.toml"
    given = options(mate="tapped hole", mate_material="steel")
    told = new(file, *given, answers="1,5d, 500 MPa\n")
    assert "Read as 18 mm, 500 MPa" in told.stdout
    assert 'engagement = "18 mm"' in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("thread", "kind", "face"),
    [
        # Least dw of ISO 4762 and ISO 4014 (values from memory).
        ("M10", "socket", '"15.33 mm"  # the least of ISO 4762 (value from memory)'),
        ("M12x1.25", "socket", '"17.23 mm"  # the least of ISO 4762 (value from memory)'),
        ("M10", "hexagon", '"14.63 mm"  # the least of ISO 4014 (value from memory)'),
        # No row: 1.45 times 14 mm, and 1.95 times 10 mm.
        ("M14", "socket", '"20.3 mm"'),
        ("M10", "flange", '"19.5 mm"'),
    ],
)
def test_the_face_that_is_offered_is_that_of_the_standard(tmp_path, thread, kind, face):
    file = tmp_path / "joint.toml"
    assert new(file, "--thread", thread, "--head", kind).exit_code == 0
    assert f"bearing_outer_diameter = {face}\n" in file.read_text(encoding="utf-8")


def test_a_side_that_is_not_given_keeps_its_own_allowed_probability(tmp_path):
    """One in a thousand is what is offered: engineering judgement."""
    file = tmp_path / "joint.toml"
    told = new(file, *options(allowed_under="1", allowed_over=None))
    assert "--allowed-over '0.1 %'" in told.stdout
    requirement = load_case(file).requirement
    assert (requirement.allowed_under, requirement.allowed_over) == (1.0, 1e-3)


def test_a_bare_allowed_probability_is_read_back_in_per_cent(tmp_path):
    told = new(
        tmp_path / "joint.toml", *options(allowed_under=None, allowed_over=None), answers="0.1\n"
    )
    assert "Read as 10 %, 0.1 %" in told.stdout
    assert "allowed_under: 0.1 is 10 %; is 0.1 % meant?" in " ".join(told.stdout.split())


def test_no_slip_asks_for_the_load_and_the_friction_that_it_needs(tmp_path):
    file = tmp_path / "joint.toml"
    given = options(needs=None, axial=None, transverse=None)
    told = new(file, *given, answers="no slip\nnone, none\nnone, 2,4 kN\n0.16\n")
    assert told.exit_code == 0, told.output
    assert "a [load] transverse to derive it from" in " ".join(told.stdout.split())
    case = load_case(file)
    assert case.requirement.minimum_from == "no slip"
    assert case.laws["load.transverse"].mean == pytest.approx(2400.0)
    assert case.laws["friction.joint"].mean == pytest.approx(0.16)


def test_inch_units_are_asked_and_written(tmp_path):
    file = tmp_path / "joint.toml"
    told = new(file, "--units", "inch", answers="Cover\n" + "\n" * 30)
    assert told.exit_code == 0, told.output
    text = file.read_text(encoding="utf-8")
    for words in (told.stdout, text):
        stated = words.replace("10 to 40 um", "").replace("11 um", "").replace("2 um", "")
        stated = stated.replace("below 10 um, 40 to 16 0 um", "")
        assert not [unit for unit in (" mm", " kN", "N·m", "degC", "MPa") if unit in stated]
    assert 'thread = "1/2-13 UNC"' in text
    assert 'torque = "53 lbf·ft"' in text
    assert load_case(file).unit_system == "inch"


class TestTheEndBeforeTheEnd:
    ANSWERS = "Cover, left\nM10\n8.8\nsocket\n15,5 mm\n\n\nsteel, 12 mm\n"

    def test_of_a_pipe_shows_the_command_that_goes_on(self, tmp_path):
        file = tmp_path / "joint.toml"
        told = new(file, "--torque", "40 N·m", "--units", "metric", answers=self.ANSWERS)
        assert told.exit_code == 2
        assert "the input ended before the last question; nothing was written" in told.stderr
        assert list(tmp_path.iterdir()) == []
        command = told.stderr.strip().split("\n")[-1]
        program, *words = shlex.split(command)
        assert program == "preloadmc"
        on = CliRunner().invoke(main, words, input="\n" * 20)
        assert on.exit_code == 0, on.output
        assert "Thread" not in on.stdout
        case = load_case(file)
        assert (case.title, case.joint.thread.designation) == ("Cover, left", "M10")
        assert [part.thickness for part in case.joint.parts] == [12.0]
        assert case.laws["tightening.torque"].mean == pytest.approx(40e3)

    def test_of_a_pipe_without_any_answer_leaves_the_examples(self, tmp_path):
        file = tmp_path / "joint.toml"
        told = new(file, "--title", 'The "big" one', "--torque", "45 N·m", "--friction", "E")
        assert told.exit_code == 0, told.output
        left = told.stdout.partition("Left at examples, to be replaced by your own:")[2]
        assert "- --thread M12\n" in left
        assert "--torque" not in left
        text = file.read_text(encoding="utf-8")
        assert 'torque = "45 N·m"' in text
        assert load_case(file).title == 'The "big" one'

    @pytest.mark.parametrize(
        ("cause", "code", "words"),
        [
            (KeyboardInterrupt, 130, "interrupted; nothing was written"),
            (EOFError, 2, "the input ended before the last question"),
        ],
    )
    def test_on_a_terminal_keeps_what_was_typed(self, tmp_path, monkeypatch, cause, code, words):
        answers = iter(["Cover, left", "M10"])

        def prompt(*_, **__):
            try:
                return next(answers)
            except StopIteration:
                pass
            try:
                raise cause
            except cause:
                raise click.Abort from None

        monkeypatch.setattr(click.testing._NamedTextIOWrapper, "isatty", lambda _: True)
        monkeypatch.setattr("preloadmc.cli.interview.click.prompt", prompt)
        told = new(tmp_path / "joint.toml", "--investigation")
        assert told.exit_code == code
        assert words in told.stderr
        command = f"{tmp_path / 'joint.toml'} --investigation --title 'Cover, left' --thread M10"
        assert f"To go on:\npreloadmc new {command}\n" in told.stderr
        assert list(tmp_path.iterdir()) == []

    def test_a_closed_input_is_no_terminal(self, tmp_path, monkeypatch):
        monkeypatch.setattr(sys, "stdin", None)
        from preloadmc.cli.new import command

        command.main([str(tmp_path / "joint.toml")], standalone_mode=False)
        assert (tmp_path / "joint.toml").exists()

    def test_answers_that_are_no_text(self, tmp_path, monkeypatch):
        told = new(tmp_path / "joint.toml", answers=b"Cover\nM10\n\xff\xfe\n")
        assert told.exit_code == 2
        assert "the answers are no text in UTF-8" in told.stderr


def test_on_a_terminal_it_asks(tmp_path, monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    asked = []

    def prompt(question, **_):
        asked.append(" ".join(question.split()))
        return "M16" if question.startswith("Thread") else ""

    monkeypatch.setattr("preloadmc.cli.interview.click.prompt", prompt)
    monkeypatch.setattr(sys, "stdin", Terminal())
    from preloadmc.cli.new import command

    command.main([str(tmp_path / "joint.toml")], standalone_mode=False)
    # What is offered after the thread fits it: a hole of 1.1 times the diameter.
    assert any("and of the hole [22.49 mm, 17.6 mm]" in question for question in asked)
    assert load_case(tmp_path / "joint.toml").joint.thread.designation == "M16"


@pytest.mark.parametrize(
    ("thread", "grade_name"),
    [
        ("M6", "8.8"),
        ("M10", "10.9"),
        ("M36", "8.8"),
        ("3/8-16 UNC", "SAE 8"),
        ("M12x1.25", "A2-70"),
    ],
)
def test_examples_fit_the_thread_and_class_that_are_given(tmp_path, thread, grade_name):
    file = tmp_path / "joint.toml"
    told = new(file, "--thread", thread, "--property-class", grade_name)
    assert told.exit_code == 0, told.output
    case = load_case(file)
    nominal = check(case).nominal
    found = case.joint.thread
    strength = grade(grade_name, found.diameter).yield_strength
    # The offered torque is for 60 % of yield at a nut factor of 0.16; class B is near that.
    assert 0.5 < nominal.path["assembled"] / (strength * found.stress_area) < 0.7
    assert case.laws["requirement.minimum_preload"].mean < nominal.path["assembled"]


@pytest.mark.parametrize(
    "method",
    [
        ("torque then angle", []),
        ("hydraulic tensioning", []),
        ("elongation measured", []),
        ("pulse or impact", []),
        ("stated scatter", []),
        ("yield point sensed", ["--plastic-strain", "6 %"]),
    ],
    ids=lambda method: method[0],
)
@pytest.mark.parametrize("units", ["metric", "inch"])
def test_examples_of_every_method_make_about_the_same_preload(tmp_path, method, units):
    name, more = method
    file = tmp_path / "joint.toml"
    told = new(file, "--method", name, "--units", units, *more)
    assert told.exit_code == 0, told.output
    nominal = check(load_case(file)).nominal
    share = nominal.path["assembled"] / nominal.yield_preload
    # About 60 % of yield without torsion, two thirds of that with; the tool that senses yield
    # stops there.
    low, high = (0.95, 1.05) if name == "yield point sensed" else (0.55, 0.8)
    assert low < share < high
    assert warned(file) == []


@pytest.mark.parametrize(
    ("grade_name", "material"),
    [("A2-70", "stainless steel A2"), ("A4-80", "stainless steel A4"), ("8.8", "steel")],
)
def test_the_material_of_the_fastener_goes_by_its_class(tmp_path, grade_name, material):
    file = tmp_path / "joint.toml"
    assert new(file, "--property-class", grade_name).exit_code == 0
    case = load_case(file)
    assert case.joint.fastener_material.name == material
    assert case.joint.mate_material.name == material


def test_nothing_is_overwritten_unless_asked(tmp_path):
    file = tmp_path / "joint.toml"
    file.write_text("mine", encoding="utf-8")
    told = new(file)
    assert (told.exit_code, file.read_text(encoding="utf-8")) == (2, "mine")
    assert "exists; name another file" in told.stderr
    assert new(file, "--overwrite").exit_code == 0
    assert file.read_text(encoding="utf-8") != "mine"


def test_what_is_replaced_keeps_its_permissions_and_its_link(tmp_path):
    file, link = tmp_path / "joint.toml", tmp_path / "link.toml"
    file.write_text("mine", encoding="utf-8")
    file.chmod(0o640)
    link.symlink_to("joint.toml")
    assert new(link, "--overwrite").exit_code == 0
    assert link.is_symlink()
    assert file.stat().st_mode & 0o777 == 0o640
    assert load_case(file).title


def test_a_write_that_fails_leaves_the_old_case(tmp_path, monkeypatch):
    file = tmp_path / "joint.toml"
    file.write_text("mine", encoding="utf-8")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    told = new(file, "--overwrite")
    assert told.exit_code == 1
    assert "joint.toml: cannot be written: No space left on device" in told.stderr
    assert file.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--thread", "M13"], "--thread: unknown thread 'M13'; nearest: M12"),
        (["--property-class", "8.9"], "unknown property class or grade '8.9'"),
        (["--property-class", "12.9 x"], "unknown unit"),
        (["--friction", "Z"], "--friction: a word of the tables"),
        (["--torque", "45 kg"], "'kg' is a mass: write a force in kgf, N or kN; a torque"),
        (["--hole-diameter", "9 mm"], "a diameter above 12 mm, that of M12: it must pass"),
        (["--engagement", "12 mm"], "--engagement: remove it, this joint has no such thing"),
        (["--state", "hot, 90 degC", "--state", "hot, 80 degC"], "--state: a unique name"),
    ],
)
def test_an_option_that_cannot_be_leaves_no_file(tmp_path, words, message):
    told = new(tmp_path / "joint.toml", *words)
    assert told.exit_code == 2
    assert message in told.stderr
    assert not (tmp_path / "joint.toml").exists()


def test_an_option_that_cannot_be_is_asked_where_somebody_answers(tmp_path):
    file = tmp_path / "joint.toml"
    told = new(file, *options(title=None, thread="M13"), answers="Cover\nM12\n")
    assert told.exit_code == 0, told.output
    assert "Again, please: --thread: unknown thread 'M13'" in told.stdout
    assert load_case(file).title == "Cover"


def test_what_check_would_warn_of_is_shown_with_the_next_commands(tmp_path):
    file = tmp_path / "joint.toml"
    told = new(file, *options(method="pulse or impact"))
    assert told.exit_code == 0, told.output
    said = " ".join(told.stdout.split())
    assert "tightening.tool scatters by ±9 % (3 s.d.), less than the table" in said
    assert all(warning in said for warning in check(load_case(file)).warnings)
    for command in (f"preloadmc check {file}", f"preloadmc run {file}", "preloadmc keys"):
        assert command in said
