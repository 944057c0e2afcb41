"""Problems inside a case file: where, what was given, what is allowed; all of them at once."""

import math
import re

import pytest

from preloadmc.errors import CaseError


def problems(make_case, overrides):
    with pytest.raises(CaseError) as caught:
        make_case(overrides)
    return [str(problem) for problem in caught.value.problems]


def normal(**parameters):
    return {"law": "normal", **parameters}


BAD = {
    # unknown keys and words
    "fastner": ({"fastner": {"thread": "M12"}}, "fastner: unknown key; nearest: 'fastener'"),
    "tourque": (
        {"tightening.tourque": "90 N·m"},
        r"tightening\.tourque: unknown key; nearest: 'torque', .*; see `preloadmc keys`$",
    ),
    "sdd": (
        {"friction.thread": normal(mean=0.13, sd=0.01, sdd=1)},
        r"friction\.thread\.sdd: unknown key; nearest: 'sd'",
    ),
    "law": (
        {"friction.thread": {"law": "lognormall", "mean": 0.13, "cov": "12 %"}},
        r"friction\.thread\.law: unknown word; nearest: 'lognormal', 'normal'; `preloadmc keys",
    ),
    "no law": (
        {"friction.thread": {"mean": 0.13}},
        r"friction\.thread\.law: missing; law of the quantity: one of",
    ),
    "thread": ({"fastener.thread": "M13"}, r"fastener\.thread: unknown thread 'M13'; nearest"),
    "no thread": ({"fastener.thread": None}, r"fastener\.thread: missing; a thread such as M12"),
    "thread 12": ({"fastener.thread": 12}, r"fastener\.thread: a thread such as.*\(given: 12\)"),
    "class": (
        {"fastener.property_class": "10.8"},
        r"fastener\.property_class: unknown property class or grade '10\.8'; nearest: 10\.9",
    ),
    "material": ({"fastener.material": "stel"}, r"fastener\.material: unknown.*nearest: steel"),
    "material 1": ({"fastener.material": 1}, r"fastener\.material: the name of a material, as te"),
    "head": ({"fastener.head": "round"}, r"fastener\.head: one of 'hexagon', 'socket'"),
    "method": ({"tightening.method": "torqe"}, r"tightening\.method: one of .*nearest: 'torque'"),
    "no method": (
        {"tightening.method": None},
        r"tightening\.method: missing; tightening method: one of 'torque'",
    ),
    # units and dimensions
    "no unit": ({"tightening.torque": "90"}, r"tightening\.torque: a torque needs a unit"),
    "bare": ({"tightening.torque": 90}, r"tightening\.torque: a torque needs a unit.*\(given: 90"),
    "dimension": (
        {"tightening.torque": "90 kN"},
        r"tightening\.torque: a torque is wanted \(N·m or lbf·ft\); 'kN' is another dimension",
    ),
    "in a law": (
        {"settling.embedding": normal(mean="8 kN", cov="30 %")},
        r"settling\.embedding\.mean: a length is wanted",
    ),
    "table": ({"settling": 3}, r"settling: a table of keys, such as { embedding = .* \(given: 3\)"),
    "tables": ({"clamped": {"thickness": "3 mm"}}, r"clamped: an array of tables, each.*\[\[clamp"),
    "tables of 1": ({"clamped": [1]}, r"clamped: an array of tables"),
    "title": ({"title": 7}, r"title: a title, as text"),
    "blank": ({"title": "  "}, r"title: a title, as text"),
    # impossible values
    "negative cov": (
        {"friction.thread": normal(mean=0.13, cov="-12 %")},
        r"friction\.thread\.cov: a ratio above 0 \(given: '-12 %'\)",
    ),
    "zero sd": ({"friction.thread": normal(mean=0.13, sd=0)}, r"thread\.sd: a ratio above 0"),
    "nan": ({"friction.thread": math.nan}, r"friction\.thread: a finite number \(given: nan\)"),
    "infinite": ({"friction.thread": math.inf}, r"friction\.thread: a finite number"),
    "nan in a law": (
        {"friction.thread": normal(mean=math.nan, sd=0.01)},
        r"friction\.thread\.mean: a finite number",
    ),
    "huge": ({"friction.thread": 1e308}, r"thread: a ratio between 1e-20 and 1e\+20, apart from"),
    "tiny": (
        {"tightening.torque": "1e-300 kN·m"},
        r"a torque between 1e-20 and 1e\+20 N·mm, apart",
    ),
    "a long number": ({"tightening.torque": "8" * 1000 + " N·m"}, r"torque: a finite number with"),
    "negative torque": ({"tightening.torque": "-5 N·m"}, r"torque: a quantity that is above 0"),
    "zero friction": ({"friction.thread": 0.0}, r"friction\.thread: a quantity that is above 0"),
    "friction below 0": (
        {"friction.thread": normal(mean=0.12, cov="30 %")},
        r"friction\.thread: a quantity that is above 0; this law is not with probability 0\.00043 "
        r"\(lognormal or truncated normal stay there\)",
    ),
    "embedding below 0": (
        {"settling.embedding": normal(mean="8 um", cov="50 %")},
        r"settling\.embedding: a quantity that is 0 or above; this law is not",
    ),
    "relaxation of all": (
        {"settling.relaxation": {"law": "uniform", "low": "50 %", "high": "110 %"}},
        r"settling\.relaxation: a share, at most 1 \(a beta law from 0 to 1 stays there\)",
    ),
    "minimum above maximum": (
        {"requirement.minimum_preload": "80 kN"},
        r"requirement\.minimum_preload: a minimum below the maximum_preload \(given: '80 kN'\)",
    ),
    "minimum law above maximum": (
        {"requirement.minimum_preload": normal(mean="62 kN", cov="5 %")},
        r"requirement\.minimum_preload: a minimum below the maximum_preload",
    ),
    "low above high": (
        {"friction.thread": {"law": "uniform", "low": 0.2, "high": 0.1}},
        r"friction\.thread: .*low",
    ),
    "mode outside": (
        {"friction.thread": {"law": "triangular", "low": 0.1, "mode": 0.3, "high": 0.2}},
        r"friction\.thread: .*mode",
    ),
    "hole above face": (
        {"fastener.hole_diameter": "20 mm"},
        r"fastener\.bearing_outer_diameter: an outer diameter above the hole diameter",
    ),
    "seat angle": (
        {"fastener.seat_half_angle": "100 deg"},
        r"fastener\.seat_half_angle: an angle at most 90 deg \(given: '100 deg'\)",
    ),
    "length": ({"fastener.hole_diameter": "-1 mm"}, r"hole_diameter: a length above 0"),
    "a cov of ten": (
        {"friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "10"}},
        r"friction\.thread\.cov: a ratio at most 1; is 10 % meant\? \(given: '10'\)",
    ),
    "one number for the tool": (
        {"tightening.tool": "10 %"},
        r"tightening\.tool: a scatter about the set value: .*is stated as bias",
    ),
    "allowed of what makes the window": (
        {
            "load.transverse": "2 kN",
            "friction.joint": 0.2,
            "requirement.minimum_preload": {"from": "no slip"},
            "requirement.allowed": {"slip": 1e-5},
        },
        r"requirement\.allowed\.slip: remove it: here 'slip' makes the preload window, state "
        r"allowed_under",
    ),
    "allowed": (
        {"requirement.allowed_under": 1.5},
        r"allowed_under: a ratio at most 1; is 1.5 % meant",
    ),
    "correlation": (
        {"friction.correlation": 1.1},
        r"correlation: a ratio at most 1",
    ),
    "correlation of constants": (
        {"friction.correlation": 0.4},
        r"friction\.correlation: nothing unless both scatter: friction\.thread does not",
    ),
    # sampling
    "samples 0": (
        {"sampling.samples": 0},
        r"samples: a whole number from 1 to 200000000",
    ),
    "samples 1e12": ({"sampling.samples": 10**12}, r"samples: a whole number from 1 to 200000000"),
    "samples text": ({"sampling.samples": "many"}, r"sampling\.samples: a whole number"),
    "samples true": ({"sampling.samples": True}, r"sampling\.samples: a whole number"),
    "seed": ({"sampling.seed": -1}, r"sampling\.seed: a whole number from 0"),
    "precision": (
        {"sampling.samples": None, "sampling.precision": "0 %"},
        r"sampling\.precision: a ratio above 0",
    ),
    "both": ({"sampling.precision": "5 %"}, r"sampling\.precision: either samples or a precision"),
    # what must be there
    "no torque": ({"tightening.torque": None}, r"tightening\.torque: missing; the set torque"),
    "no friction": (
        {"friction.thread": None},
        r"friction\.thread: missing; thread friction, or the total or a nut_factor for both",
    ),
    "no minimum": (
        {"requirement.minimum_preload": None},
        r"requirement\.minimum_preload: missing; a force, or \{ from = \"no slip\" \}",
    ),
    "no maximum": (
        {"requirement.maximum_preload": None, "fastener.property_class": None},
        r"requirement\.maximum_preload: missing; a force, or \{ from = \"yield\", fraction",
    ),
    "no fraction": (
        {"requirement.maximum_preload": {"from": "yield"}},
        r"requirement\.maximum_preload\.fraction: missing; share of the yield preload, in tension "
        r"with torsion \(a ratio above 0, at most 2\)",
    ),
    "fraction of what": (
        {
            "requirement.maximum_preload": {"from": "yield", "fraction": 0.9},
            "fastener.property_class": None,
        },
        r"requirement\.maximum_preload\.from: \[fastener\] property_class or yield_strength",
    ),
    "from": (
        {"requirement.maximum_preload": {"from": "yeild", "fraction": 0.9}},
        r"requirement\.maximum_preload\.from: one of 'yield'; nearest: 'yield'",
    ),
    "no bearing": (
        {"fastener.bearing_outer_diameter": None},
        r"fastener\.bearing_diameter: missing; give it, or bearing_outer_diameter and hole_diamet",
    ),
    "bearing and factor": (
        {"friction.nut_factor": 0.2, "friction.thread": None},
        r"friction\.bearing: remove it: the nut factor holds the friction under the head",
    ),
    "slip of nothing": (
        {"requirement.minimum_preload": {"from": "no slip"}, "friction.joint": 0.2},
        r"requirement\.minimum_preload\.from: a \[load\] transverse to derive it from",
    ),
    "slip without friction": (
        {"requirement.minimum_preload": {"from": "no slip"}, "load.transverse": "2 kN"},
        r"requirement\.minimum_preload\.from: \[friction\] joint, the friction between the clamped",
    ),
    "separation of nothing": (
        {"requirement.minimum_preload": {"from": "no separation"}},
        r"requirement\.minimum_preload\.from: a \[load\] axial to derive it from",
    ),
    "faces": ({"load.slip_faces": 0}, r"load\.slip_faces: a whole number from 1 to 20"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_problem_says_where_what_and_what_is_allowed(make_case, name):
    overrides, words = BAD[name]
    found = problems(make_case, overrides)
    assert len(found) == 1, found
    assert re.search(words, found[0]), found


def test_all_problems_at_once(make_case):
    found = problems(
        make_case,
        {
            "fastener.thread": "M13",
            "friction.thread": normal(mean=0.13, cov="-12 %"),
            "tightening.torque": "90",
            "tightening.tol": "5 %",
            "requirement.allowed_over": 2,
            "sampling.samples": 0,
        },
    )
    paths = [problem.partition(":")[0] for problem in found]
    assert sorted(paths) == [
        "fastener.thread",
        "friction.thread.cov",
        "requirement.allowed_over",
        "sampling.samples",
        "tightening.tol",
        "tightening.torque",
    ]


def test_the_message_counts_its_problems(make_case):
    with pytest.raises(CaseError, match=r"joint\.toml: 2 problems\n  - .*\n  - .*$"):
        make_case({"sampling.samples": 0, "sampling.seed": -1})


def test_a_strength_that_cannot_be_read_is_one_problem(make_case):
    overrides = {"fastener.property_class": "11.9", "requirement.maximum_preload": None}
    assert len(problems(make_case, overrides)) == 1


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        (
            {"joint.compliance": "4 um/kN"},
            r"joint\.fastener_compliance: either the total compliance or its two parts",
        ),
        (
            {
                "joint.fastener_compliance": None,
                "joint.clamped_compliance": None,
                "joint.compliance": "4 um/kN",
                "load.axial": "5 kN",
                "requirement.minimum_preload": {"from": "no separation"},
            },
            r"requirement\.minimum_preload\.from: \[joint\] fastener_compliance and clamped_compl.*"
            "their total does not say what share of an axial load the fastener takes",
        ),
        (
            {
                "joint.fastener_compliance": None,
                "joint.clamped_compliance": None,
                "joint.compliance": "4 um/kN",
                "clamped": [{"material": "steel", "thickness": "20 mm"}],
                "temperature": {
                    "assembly": "20 degC",
                    "state": [{"name": "hot", "fastener": "90 degC", "clamped": "90 degC"}],
                },
            },
            r"joint\.compliance: fastener_compliance and clamped_compliance apart: each softens",
        ),
    ],
)
def test_a_total_compliance_is_refused_where_its_parts_are_needed(make_case, overrides, words):
    found = problems(make_case, overrides)
    assert any(re.search(words, problem) for problem in found), found


@pytest.mark.parametrize(
    ("overrides", "paths"),
    [
        # What follows from a value that cannot be read is no further problem.
        (
            {
                "fastener.hole_diameter": "13.5",
                "joint": {},
                "clamped": [{"material": "steel", "thickness": "20 mm"}],
            },
            ["fastener.hole_diameter"],
        ),
        (
            {"joint": {}, "clamped": [{"material": "steel", "thickness": "20"}]},
            ["clamped[1].thickness"],
        ),
        # What does not follow is listed at once.
        (
            {"joint": {}, "sampling.seed": -1},
            ["clamped", "sampling.seed"],
        ),
        (
            {"fastener.bearing_outer_diameter": None, "sampling.seed": -1},
            ["fastener.bearing_diameter", "sampling.seed"],
        ),
    ],
)
def test_one_cause_is_one_problem_and_no_cause_hides_another(make_case, overrides, paths):
    found = problems(make_case, overrides)
    assert [problem.partition(": ")[0] for problem in found] == paths


def test_many_problems_of_one_kind_are_each_told(make_case):
    layers = [{"material": "steel", "thickness": f"{n}"} for n in range(1, 151)]
    found = problems(make_case, {"joint": {}, "clamped": layers})
    assert [problem.partition(":")[0] for problem in found] == [
        f"clamped[{n}].thickness" for n in range(1, 151)
    ]


def test_the_first_of_very_many_problems_are_told(make_case):
    values = [f"{n} kN" for n in range(40_000)]
    found = problems(make_case, {"friction.thread": {"law": "tabulated", "values": values}})
    assert [problem.partition(":")[0] for problem in found[:2]] == [
        f"friction.thread.values[{n}]" for n in (1, 2)
    ]
    assert len(found) == 201
    assert found[-1] == "file: these are the first 200 problems: mend them to see the rest"


# Costs of a list grow with its length, those of alternatives and suspects faster.
@pytest.mark.parametrize(
    ("key", "item", "most"),
    [
        ("clamped", {"material": "steel", "thickness": "1 mm"}, 200),
        ("alternative", {"friction": {"thread": 0.13}}, 200),
        ("suspect", {"friction": {"thread": 0.13}}, 50),
        ("evidence", {"fastener": "1", "kind": "gap", "value": "no"}, 1000),
    ],
)
def test_a_list_has_an_end(make_case, key, item, most):
    found = problems(make_case, {key: [{"name": f"no. {n}", **item} for n in range(most + 1)]})
    assert f"{key}: at most {most:,} of them (given: {most + 1})" in found


# A line break, an escape of the terminal, what writes from right to left, an isolate.
@pytest.mark.parametrize("mark", ["\n", "\x1b", "\u202e", "\u2066", "\u2028", "\x85"])
@pytest.mark.parametrize(
    "path", ["title", "name", "temperature.state", "alternative", "suspect", "fastener.thread"]
)
def test_a_name_is_one_line_of_printable_characters(make_case, path, mark):
    name = f"a{mark}b"
    lists = ("temperature.state", "alternative", "suspect")
    given = [{"name": name}] if path in lists else name
    found = problems(make_case, {path: given})
    (problem,) = [each for each in found if "control characters" in each]
    assert problem.startswith(f"{path}[1].name: " if path in lists else f"{path}: ")
    assert "in one line and without control characters (given: 'a" in problem
    assert mark not in problem


@pytest.mark.parametrize("path", ["title", "name", "fastener.material", "fastener.property_class"])
def test_a_name_is_short(make_case, path):
    assert problems(make_case, {path: "é" * 101})[0].startswith(f"{path}: ")
    assert "at most 100 characters long" in problems(make_case, {path: "é" * 101})[0]


@pytest.mark.parametrize(
    "path",
    [
        "title",
        "fastener.thread",
        "tightening.method",
        "tightening.torque",
        "friction.thread",
        "sampling.seed",
        "clamped",
        "securing.element",
    ],
)
@pytest.mark.parametrize("given", ["x" * 100_000, ["x" * 1000] * 100, "84 " + "m" * 100_000])
def test_what_was_given_is_shortened(make_case, path, given):
    for problem in problems(make_case, {path: given}):
        assert len(problem) < 1000
