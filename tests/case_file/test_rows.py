"""Every row of the list of keys: its example is read, a wrong value refused, its default listed."""

from __future__ import annotations

import copy
import tomllib

import pytest

from preloadmc.case import Assumption
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Table
from preloadmc.case_file.law_keys import LAW_KEYS
from preloadmc.case_file.new_case import Answers, case_text, filled
from preloadmc.case_file.shipped_suspects import library
from preloadmc.chance.laws import LAWS
from preloadmc.errors import CaseError
from preloadmc.inputs import INPUT_KINDS, NOT_GIVEN

LAYERS = {"joint": {}, "clamped": [{"material": "steel", "thickness": "32 mm"}]}
HOT = {
    **LAYERS,
    "temperature.assembly": "20 degC",
    "temperature.state": [{"name": "hot", "fastener": "60 degC", "clamped": "60 degC"}],
}
PAST_YIELD = {
    **LAYERS,
    "fastener.strength": "usual",
    "fastener.plastic_strain": "6 %",
    "requirement.maximum_plastic_elongation": "200 um",
}
ANGLE = {
    **PAST_YIELD,
    "tightening": {"method": "torque then angle", "torque": "40 N·m", "angle": "60 deg"},
}
TENSIONER = {
    "tightening": {
        "method": "hydraulic tensioning",
        "pump_force": "50 kN",
        "transfer_ratio": 0.8,
    }
}
STATED = {"tightening": {"method": "stated scatter", "preload": "35 kN"}}
TYPICAL = {
    "tightening": {
        "method": "stated scatter",
        "preload": {
            "typical": "by feel, Machinery's Handbook",
            "nominal": "35 kN",
            "coverage": "2 sd",
        },
    }
}
CAPABLE = {"tightening.tool": {"tolerance": "6 %", "cmk": 1.2, "cm": 1.4, "shift": "low"}}
RUNDOWNS = {"tightening.tool": {"rundowns": "rundowns.csv", "target": "50 N·m"}}
TOLERANCE = {"tightening.tool": {"tolerance": "6 %", "coverage": "2 sd"}}
WATCHED = {"tightening.accept": {"angle": ["20 deg", "45 deg"]}}
WEDGES = {"securing": {"element": "wedge-locking washers", "source": "a test"}}
GUIDE = {
    **LAYERS,
    "settling.embedding": {
        "roughness": "10 to 40 um",
        "load_direction": "axial",
        "per_coated_interface": "4 um",
    },
}
TIRING = {
    "load.axial": "6 kN",
    "fatigue": {"endurance_limit": "50 MPa", "cycles": 500_000},
}
TIRING_BY_GUIDE = {
    "load.axial": "6 kN",
    "fatigue.endurance_limit": {"guide": "rolled before heat treatment"},
}
# It is hot for a third of each day, paint creeps there, and something is done in service.
OFTEN = {
    **LAYERS,
    "temperature.assembly": "20 degC",
    "temperature.state": [
        {
            "name": "hot",
            "fastener": "60 degC",
            "clamped": "60 degC",
            "start": "1 h",
            "duration": "8 h",
            "every": "1 day",
        }
    ],
}
PAINT = {"name": "paint", "rate": "3 %", "reference": "1 h"}
WARM_PAINT = {**PAINT, "temperature": "60 degC", "doubling": "10 K"}
CHECKED = {"friction.change_per_tightening": "5 %", "service.times": ["5 years"]}
CHECKED["service.action"] = [{"at": "1 year", "do": "check"}]
PINNED = {"securing": {"element": "castle nut with pin"}}
READING = {"fastener": "1", "kind": "residual preload", "value": "20 kN", "sd": "1 kN"}
GAUGE = {"name": "gauge A", "bias_sd": "3 %"}
FOUND = {
    "evidence": [READING],
    "suspect": [{"name": "dry", "friction": {"thread": 0.2, "bearing": 0.2}}],
}
EIGHT = {"fasteners": 8, "circle": "200 mm"}
INTERACTING = {"group": {**EIGHT, "interaction": {"neighbours": ["10 %"]}}}
# Where a row applies: the case of the longest beginning of its path, beside the base case.
APPLIES = {
    "": {},
    "fastener.segment": {"fastener.segment": [{"diameter": "12 mm", "length": "10 mm"}]},
    "fastener.engagement": {
        "fastener.mate_tensile_strength": "900 MPa",
        "fastener.nut_width_across_flats": "18 mm",
    },
    "clamped": LAYERS,
    "joint.cone_half_angle": LAYERS,
    "joint.compliance": {"joint": {}},
    "friction.correlation": {
        "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "9 %"},
        "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "9 %"},
    },
    "friction.nut_factor": {"friction": {}},
    "friction.total": {"friction": {}},
    "tightening.angle": ANGLE,
    "tightening.seating_angle": ANGLE,
    "tightening.detector_ratio": {**PAST_YIELD, "tightening": {"method": "yield point sensed"}},
    "tightening.pump_force": TENSIONER,
    "tightening.transfer_ratio": TENSIONER,
    "tightening.gauge_length": {
        "tightening": {"method": "elongation measured", "elongation": "100 um"},
        "clamped": [{"material": "steel", "thickness": "45 mm"}],
    },
    "tightening.elongation": {"tightening": {"method": "elongation measured"}},
    "tightening.preload": STATED,
    "tightening.preload.": TYPICAL,
    "tightening.accept.torque": ANGLE,
    "tightening.accept.threshold": WATCHED,
    "tightening.accept.reading": WATCHED,
    "tightening.tool.": TOLERANCE,
    "tightening.tool.tolerance": CAPABLE,
    "tightening.tool.cm": CAPABLE,
    "tightening.tool.shift": CAPABLE,
    "tightening.tool.rundowns": RUNDOWNS,
    "tightening.tool.target": RUNDOWNS,
    "securing": WEDGES,
    "cost.tool_price": {"cost.tool_life": 200_000},
    "securing.remaining": {
        **WEDGES,
        "load.transverse": "2 kN",
        "friction.joint": 0.2,
    },
    "securing.worn_prevailing_torque": {
        "securing": {"element": "prevailing-torque nut"},
        "tightening.prevailing_torque": "4 N·m",
    },
    "securing.breakaway_torque": {"securing": {"element": "adhesive"}},
    "settling.embedding.": GUIDE,
    "settling.over_time": {"settling.over_time": [PAINT]},
    "settling.over_time[].state": {**OFTEN, "settling.over_time": [PAINT]},
    "settling.over_time[].temperature": {**HOT, "settling.over_time": [WARM_PAINT]},
    "settling.over_time[].doubling": {**HOT, "settling.over_time": [WARM_PAINT]},
    "temperature.state": HOT,
    "temperature.state[].start": OFTEN,
    "temperature.state[].duration": OFTEN,
    "temperature.state[].every": OFTEN,
    "tightening.tightened_before": {"friction.change_per_tightening": "5 %"},
    "service.action": CHECKED,
    "load.slip_faces": {"load.transverse": "2 kN"},
    "load.load_introduction": {"load.axial": "5 kN"},
    "fatigue": TIRING,
    "fatigue.endurance_limit.": TIRING_BY_GUIDE,
    "securing.play": PINNED,
    "requirement.minimum_preload.": {
        "load.transverse": "2 kN",
        "friction.joint": 0.2,
        "requirement.minimum_preload": {"from": "no slip"},
    },
    "requirement.maximum_preload.": {
        "requirement.maximum_preload": {"from": "yield", "fraction": 0.9}
    },
    "requirement.maximum_plastic_elongation": {
        **PAST_YIELD,
        "tightening": {"method": "yield point sensed", "detector_ratio": 1.0},
    },
    "deterministic": {"deterministic.uncertainty": "25 %"},
    "sampling": {"sampling": {}},
    "rotation": {**FOUND, "rotation.angle": "30 deg"},
    "missed": {**FOUND, "missed.preload_share": "10 %"},
    "missed.torque_share": {
        **FOUND,
        "missed.share": "5 %",
        "missed.preload_share": "10 %",
    },
    "setting": FOUND,
    "seat": FOUND,
    "investigation": FOUND,
    "investigation.measurement": {
        **FOUND,
        "investigation.measurement": [{"kind": "paint", "price": 10}],
    },
    "investigation.circle": {
        **FOUND,
        "investigation.circle.fasteners": 8,
        "investigation.circle.diameter": "200 mm",
    },
    "investigation.instrument": {**FOUND, "investigation.instrument": [GAUGE]},
    "evidence": FOUND,
    "evidence[].instrument": {**FOUND, "investigation.instrument": [GAUGE]},
    "evidence[].error": {**FOUND, "evidence": [{**READING, "kind": "mark", "value": "turned"}]},
    "evidence[].part": {
        **FOUND,
        **HOT,
        "evidence": [{**READING, "kind": "temperature", "value": "60 degC", "sd": "3 K"}],
    },
    "evidence[].limit": {**FOUND, "evidence": [{"kind": "loose count", "value": "3 of 20"}]},
    "suspect": FOUND,
    "requirement.confidence": {
        "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "9 %", "tests": 9}
    },
    "group": {"group": EIGHT},
    "group.row": {"group": {"fasteners": 8}},
    "group.positions": {"group": {"fasteners": 2}},
    "group.axial": {"group": EIGHT},
    "group.axial_shares": {"group": {"fasteners": 4, "axial": "40 kN"}},
    "group.transverse_shares": {"group": {"fasteners": 4, "transverse": "4 kN"}},
    "group.transverse_direction": {
        "group": {**EIGHT, "transverse": "4 kN", "torsional_moment": "1 kN·m"}
    },
    "group.bending_direction": {"group": {**EIGHT, "bending_moment": "1 kN·m"}},
    "group.order": INTERACTING,
    "group.tools_at_once": INTERACTING,
    "group.passes": INTERACTING,
    "group.final_round": INTERACTING,
    "group.spread": INTERACTING,
    "group.interaction.matrix": {"group": {"fasteners": 2}},
    "group.interaction.ring": {
        "group": {
            **EIGHT,
            "interaction": {
                "ring_thickness": "28 mm",
                "ring_width": "60 mm",
                "ring_modulus": "200 GPa",
            },
        }
    },
    "group.allowed": {
        "group": {**EIGHT, "at_least": 6, "transverse": "4 kN", "minimum_total_clamp": "80 kN"},
        "friction.joint": 0.2,
        "requirement.minimum_clamp": "4 kN",
    },
    "group.exception": {
        "group.fasteners": 8,
        "group.circle": "200 mm",
        "group.exception": [{"fasteners": [1], "friction": {"thread": 0.2}}],
    },
    "alternative": {"alternative": [{"name": "other", "friction": {"thread": 0.1}}]},
}
APPLIES["evidence[].state"] = APPLIES["evidence[].part"]
APPLIES["evidence[].error"]["evidence"][0].pop("sd")

ROWS = {(place, row.path): row for place, row in enumerate(all_fields())}
VALUES = {key: row for key, row in ROWS.items() if not isinstance(row.kind, Table)}


def applying(path):
    """The case where the row of a path applies."""
    found = max((start for start in APPLIES if path.startswith(start)), key=len)
    return copy.deepcopy(APPLIES[found])


def stated(path, value):
    """That case, with a value under the path."""
    case = applying(path)
    array, bracket, key = path.partition("[]")
    if not bracket or not key:
        return {**case, array: value}
    items = case[array]
    items[0][key.removeprefix(".").removesuffix("[]")] = value
    return {**case, array: items}


def unstated(path):
    """That case, without the path."""
    case = applying(path)
    array, bracket, key = path.partition("[].")
    if bracket:
        case[array][0].pop(key, None)
        return case
    form, _, key = path.rpartition(".")
    if form in case and isinstance(case[form], dict):
        case[form].pop(key, None)
        return case
    return {**case, path: None}


def example(row):
    """The example of a row, read as it would be typed; a list has one item here, of one layer."""
    value = tomllib.loads(f"x = {row.example}")["x"]
    return value[:1] if row.is_list else value


@pytest.fixture(autouse=True)
def files(tmp_path):
    """The files that a case may name: rundowns of a tool, and findings."""
    rows = [f"{joint},{50 + n % 3} N·m" for joint in ("hard", "soft") for n in range(6)]
    (tmp_path / "rundowns.csv").write_text("\n".join(["joint,torque", *rows]), encoding="utf-8")
    (tmp_path / "found.csv").write_text(
        "fastener,kind,value,sd\n7,residual preload,20 kN,1 kN\n", encoding="utf-8"
    )


def refused(make_case, overrides):
    """The paths of the problems of a case."""
    with pytest.raises(CaseError) as caught:
        make_case(overrides)
    return [problem.path for problem in caught.value.problems]


@pytest.mark.parametrize("key", VALUES, ids=lambda key: key[1])
def test_the_example_of_a_row_is_accepted(make_case, key):
    row = VALUES[key]
    make_case(stated(row.path, example(row)))


@pytest.mark.parametrize("key", ROWS, ids=lambda key: key[1])
def test_a_value_of_a_wrong_kind_is_refused_at_its_path(make_case, key):
    path = ROWS[key].path
    of_items = path.endswith("[]") and path in VALUES
    wrong = stated(path, [3.5, {}] if of_items else [3.5])
    concrete = path.removesuffix("[]").replace("[]", "[1]")
    assert any(found.startswith(concrete) for found in refused(make_case, wrong))


@pytest.mark.parametrize("key", ROWS, ids=lambda key: key[1])
def test_a_row_says_what_it_is(key):
    row = ROWS[key]
    assert row.meaning
    assert row.kind.allowed
    assert bool(row.example) != isinstance(row.kind, Table)
    assert row.default is None or row.default.words
    assert not (row.needed and row.default)


@pytest.mark.parametrize(
    "key", [key for key, row in ROWS.items() if row.needed], ids=lambda key: key[1]
)
def test_what_a_table_needs_is_asked_for(make_case, key):
    row = ROWS[key]
    with pytest.raises(CaseError) as caught:
        make_case(unstated(row.path))
    words = [str(problem) for problem in caught.value.problems]
    assert f"{row.path.replace('[]', '[1]')}: missing; {row.asked}" in words


# Defaults that are said elsewhere or are no assumption: of shape, of names, of what costs nothing.
SILENT = {
    "name",
    "fastener.strength",
    "fastener.head",
    "fastener.mate",
    "tightening.turned",
    "tightening.tightened_before",
    "joint.cone_half_angle",
    "tightening.preload.case",
    "securing.source",
    "settling.embedding.coated_interfaces",
    "temperature.state[].once",
    "cost.per_joint",
    "cost.per_reject",
    "cost.per_check",
    "cost.per_retightening",
    "cost.per_replacement",
    "cost.per_loosening",
    "cost.tool_price",
    "cost.per_under",
    "cost.per_over",
    "cost.currency",
    "deterministic.averaged_fasteners",
    "deterministic.relaxation_tested",
    "evidence[].error",
    "evidence[].part",
    "suspect[].source",
}
DEFAULTS = {row.path: row for row in ROWS.values() if row.default is not None}


def assumed(case):
    """What is assumed in a case and in its investigation."""
    return (*case.assumptions, *(case.investigation.assumptions if case.investigation else ()))


@pytest.mark.parametrize("path", DEFAULTS)
def test_a_default_is_listed_with_the_words_of_its_row(make_case, path):
    default = DEFAULTS[path].default
    concrete = path.replace("[]", "[1]")
    listed = [item for item in assumed(make_case(unstated(path))) if item.path == concrete]
    if path in SILENT:
        assert not listed
    else:
        assert listed == [Assumption(concrete, default.words, default.source)]


def test_what_is_assumed_without_a_source_is_a_default_of_a_row(make_case):
    said = {
        (item.path, item.value)
        for row in VALUES.values()
        for item in assumed(make_case(stated(row.path, example(row))))
        if item.source == NOT_GIVEN
    }
    rows = {(path.replace("[]", "[1]"), row.default.words) for path, row in DEFAULTS.items()}
    # What follows from other values has words of its own.
    computed = {
        ("requirement.maximum_preload", "yield in tension with torsion"),
        ("fastener.mate_material", "that of the fastener (steel)"),
        (
            "requirement.allowed_other",
            "0.1 %: the smaller of what both sides of the window are allowed",
        ),
        ("investigation.loose_below", "28 kN: below the minimum preload counts as loose"),
    }
    assert said - computed <= rows
    assert len(said & rows) > 12


def used_keys(data, rows, table="", law=False):
    """Every key of some tables as the path of a row; a law's own keys as (key of the law,)."""
    for key, value in data.items():
        path = f"{table}.{key}" if table else key
        if law:
            yield ("law", key)
            continue
        yield path
        row = rows.tables[table].get(key)
        below = path if path in rows.tables else f"{path}[]"
        if below in rows.tables:
            for item in value if isinstance(value, list) else [value]:
                changes = row.kind.changes_case
                own = {k: v for k, v in item.items() if not changes or k in rows.tables[below]}
                yield from used_keys(own, rows, below)
                yield from used_keys({k: item[k] for k in item if k not in own}, rows)
        elif isinstance(value, dict):
            form = next((f for f in rows.forms.get(path, ()) if f.key in value), None)
            if form is None:
                yield from used_keys(value, rows, path, law=True)
            else:
                yield from (f"{path}.{k}" for k in value)


def test_every_key_that_is_shipped_is_a_row(case_files):
    rows = all_fields()
    paths = {row.path.removesuffix("[]") for row in rows} | {("law", key.key) for key in LAW_KEYS}
    texts = [path.read_text(encoding="utf-8") for path in case_files]
    texts.append(case_text(filled(Answers())))
    found = {
        key.removesuffix("[]") if isinstance(key, str) else key
        for text in texts
        for key in used_keys(tomllib.loads(text), rows)
    }
    for entry in library().values():
        tables = {key: value for key, value in entry.items() if key not in ("source", "note")}
        found |= set(used_keys(tables, rows))
    assert found <= paths
    assert len(found) > 90


def test_the_keys_of_laws_are_those_that_are_read(make_case, tmp_path):
    words = set()
    for law in LAWS:
        for beside in ({}, {"low": 0.1}, {"alpha": 2}, {"shape": 2}, {"tests": "found.csv"}):
            with pytest.raises(CaseError) as caught:
                make_case({"friction.thread": {"law": law, **beside, "no such key": 1}})
            (known,) = {
                problem.allowed.partition("known: ")[2]
                for problem in caught.value.problems
                if problem.path == "friction.thread.no such key"
            }
            words |= set(known.replace("'", "").split(", "))
    with pytest.raises(CaseError) as caught:
        make_case({"friction.thread": {"law": "normal", "tests": [0.11, 0.12, 0.13], "no": 1}})
    (problem,) = caught.value.problems
    words |= set(problem.allowed.partition("known: ")[2].replace("'", "").split(", "))
    (tmp_path / "tests.csv").write_text("thread\n0.11\n0.12\n0.13\n", encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        make_case({"friction.thread": {"law": "normal", "tests": "tests.csv", "no": 1}})
    (problem,) = caught.value.problems
    words |= set(problem.allowed.partition("known: ")[2].replace("'", "").split(", "))
    assert words == {key.key for key in LAW_KEYS}


def test_what_a_change_replaces_are_keys_of_one_table():
    rows = all_fields()
    changing = [row for row in rows if row.replaces]
    assert len(changing) > 10
    for row in changing:
        table, _, _ = row.path.rpartition(".")
        assert rows.tables[table].keys() >= set(row.replaces), row.path


def test_problems_stand_in_the_order_of_the_rows_each_once(make_case):
    paths = refused(
        make_case,
        {
            "alternative": [{"name": "other", "friction": {"thread": "x"}}],
            "sampling.seed": -1,
            "clamped": [{"material": "steel", "thickness": "x"}, {"material": "stel"}],
            "fastener.hole_diameter": "x",
            "nosuch": {},
        },
    )
    assert paths == [
        "fastener.hole_diameter",
        "clamped[1].thickness",
        "clamped[2].material",
        "clamped[2].thickness",
        "sampling.seed",
        "alternative[1].friction.thread",
        "nosuch",
    ]


@pytest.mark.parametrize("name", [kind.name for kind in INPUT_KINDS.values() if kind.is_share])
def test_a_share_is_at_most_one(make_case, name):
    law = {"law": "uniform", "low": 0.5, "high": 1.1}
    path = name.replace(".*", "[]")
    assert path.replace("[]", "[1]") in refused(make_case, stated(path, law))


def test_a_tool_by_its_tolerance_may_be_shared(make_case):
    case = make_case(
        {
            "tightening.tool": {
                "tolerance": "6 %",
                "coverage": "2 sd",
                "shared": {"by": "tool", "fraction": 0.7},
            }
        }
    )
    assert (case.shared["tightening.tool"].by, case.shared["tightening.tool"].fraction) == (
        "tool",
        0.7,
    )
