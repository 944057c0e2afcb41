"""The JSON Schema of the case file: what is read validates, what is of a wrong shape does not."""

from __future__ import annotations

import re
import shutil
import tomllib

import hypothesis
import pytest
from hypothesis import HealthCheck, Phase, settings
from jsonschema import Draft202012Validator
from mutated_cases import BASES, CASES, mutated_cases
from test_rows import ROWS, VALUES, example, stated

from preloadmc import load_case
from preloadmc.case_file import keys
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.new_case import Answers, case_text, filled
from preloadmc.case_file.parsing import tables_of
from preloadmc.case_file.quantity_pattern import quantity_pattern
from preloadmc.case_file.schema import case_schema
from preloadmc.case_file.shipped_suspects import library
from preloadmc.case_file.word_kinds import Word
from preloadmc.errors import CaseError
from preloadmc.inputs import INPUT_KINDS, InputKind
from preloadmc.typed_numbers import split_quantity
from preloadmc.unit_words import spellings
from preloadmc.units import DIMENSIONS, FORCE, LENGTH, SMALL_LENGTH, parse_quantity

# Of any dimension one of these is another.
UNITS = ("5 kN", "5 mm")


@pytest.fixture(scope="module")
def schema():
    return Draft202012Validator(case_schema())


@pytest.fixture(scope="module")
def definitions():
    """A function that returns the schema of one definition."""
    defined = case_schema()["$defs"]

    def named(name):
        reference = f"#/$defs/{name.replace(' ', '-')}"
        return Draft202012Validator({"$defs": defined, "$ref": reference})

    return named


@pytest.fixture
def tables(write_case):
    """A function that returns the base case with overrides, as tables."""

    def made(overrides=None):
        return tomllib.loads(write_case(overrides).read_text(encoding="utf-8"))

    return made


def messages(schema, data):
    return [f"{error.json_path}: {error.message[:200]}" for error in schema.iter_errors(data)]


def references(shape):
    """Every definition that a schema refers to."""
    if isinstance(shape, dict):
        if "$ref" in shape:
            yield shape["$ref"].removeprefix("#/$defs/")
        for each in shape.values():
            yield from references(each)
    elif isinstance(shape, list):
        for each in shape:
            yield from references(each)


def test_it_is_a_schema_of_its_draft_and_defines_what_it_refers_to():
    schema = case_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(schema)
    referred = set(references(schema))
    assert referred <= schema["$defs"].keys()
    assert len(referred) > 30
    assert "judged by the program alone" in schema["description"]


def test_what_is_shipped_validates(schema, case_files):
    texts = {path.name: path.read_text(encoding="utf-8") for path in case_files}
    texts["new"] = case_text(filled(Answers()))
    for name, text in texts.items():
        assert messages(schema, tomllib.loads(text)) == [], name
    for base in BASES:
        assert messages(schema, base) == []


def test_each_shipped_suspect_validates_where_it_is_written_out(schema, tables):
    suspects = [{"name": name, **entry} for name, entry in library().items()]
    assert len(suspects) > 10
    assert messages(schema, tables({"suspect": suspects})) == []


def test_the_example_of_every_row_validates(schema, tables):
    for row in VALUES.values():
        assert messages(schema, tables(stated(row.path, example(row)))) == [], row.path


def test_a_value_of_a_wrong_type_is_refused_at_every_row(schema, tables):
    for row in ROWS.values():
        of_items = row.path.endswith("[]") and not isinstance(row.kind, Table)
        wrong = tables(stated(row.path, [3.5, {}] if of_items else [3.5]))
        assert not schema.is_valid(wrong), row.path


def test_a_unit_of_another_dimension_is_refused_at_every_quantity(schema, tables):
    checked = 0
    for row in VALUES.values():
        kind = row.kind
        if isinstance(kind, LawOf):
            dimension = kind.input.dimension
        elif isinstance(kind, Quantity):
            dimension = kind.dimension
        else:
            continue
        unit = UNITS[dimension is FORCE]
        wrong = [unit] if row.is_list else unit
        assert not schema.is_valid(tables(stated(row.path, wrong))), row.path
        if isinstance(kind, LawOf):
            law = {"law": "uniform", "low": unit, "high": unit}
            assert not schema.is_valid(tables(stated(row.path, [law] if row.is_list else law)))
        checked += 1
    assert checked > 90


def test_a_word_that_is_none_of_those_allowed_is_refused(schema, tables):
    rows = [row for row in VALUES.values() if isinstance(row.kind, Word)]
    assert len(rows) > 10
    for row in rows:
        assert not schema.is_valid(tables(stated(row.path, "no such word"))), row.path


def test_a_key_that_no_row_has_is_refused_in_every_table(schema, tables):
    for row in ROWS.values():
        if isinstance(row.kind, Table):
            path = row.path.removesuffix("[]") if not row.is_list else f"{row.path}."
            wrong = tables(stated(f"{path}{'' if row.is_list else '.'}nosuchkey", 1))
            assert not schema.is_valid(wrong), row.path
    assert not schema.is_valid(tables({"nosuchkey": 1}))


TORQUES = (
    "84 N·m",
    " 62 lbf ft",
    "84Nm",
    "8.4e4 N.mm",
    "3/8 kN·m",
    "1_000 lbf-in",
    "0.84 kN*cm",
    "84 N^1·m",
    "84 MPa·mm³",
    "84,5 N·m",
    "84 nm",
    "62 FT-LBS",
    "62 ft.lbf",
    "8½ kgf·m",
    "8.4×10⁴ N·mm",
    "84 000 N mm",
    "744 in-lb",
    "84 newton metres",
    {"law": "Gaussian", "mean": "84,5 nm", "half_width": "±10 %", "coverage": "2 sigma"},
    {"law": "rectangular", "mean": "84 N·m", "half_width": "+/- 5 N·m"},
    {"law": "Log-Normal", "mean": "84 N·m", "cov": "12,5 per cent", "as_good_as": "8"},
    {"law": "normal", "mean": "84 N·m", "sd": "3 N·m"},
    {"law": "normal", "mean": "84 N·m", "sd": "3 %"},
    {"law": "lognormal", "mean": "84 N·m", "scatter_ratio": 1.6, "coverage": "2 sd"},
    {"law": "lognormal", "mean": "84 N·m", "cov": 0.12, "tests": 25, "test_price": 40},
    {"law": "uniform", "low": "80 N·m", "high": "62 lbf·ft"},
    {"law": "uniform", "mean": "84 N·m", "half_width": "5 N·m"},
    {"law": "triangular", "low": "80 N·m", "mode": "84 N·m", "high": "90 N·m"},
    {"law": "truncated normal", "mean": "84 N·m", "cov": "9 %", "low": "60 N·m"},
    {"law": "weibull", "shape": 2.0, "scale": "12 N·m", "location": "70 N·m"},
    {"law": "weibull", "mean": "84 N·m", "cov": "4 %", "as_good_as": 8},
    {"law": "gumbel", "mean": "84 N·m", "half_width": "5 N·m", "coverage": "95 %"},
    {"law": "beta", "alpha": 2, "beta": 3, "low": "70 N·m", "high": "90 N·m"},
    {"law": "beta", "mean": "80 N·m", "sd": "3 N·m", "low": "70 N·m", "high": "90 N·m"},
    {"law": "constant", "value": "84 N·m"},
    {"law": "tabulated", "values": [82, 84, "87 N·m"], "unit": "N·m"},
    {"law": "normal", "tests": ["82 N·m", "84 N·m", "85 N·m"], "measuring": {"sd": "1 N·m"}},
    {
        "law": "normal",
        "mean": "84 N·m",
        "cov": "3 %",
        "shared": {"by": "lot", "fraction": "60 %"},
    },
)


@pytest.mark.parametrize("torque", TORQUES, ids=str)
def test_what_is_read_as_a_torque_validates(schema, tables, make_case, torque):
    overrides = {"tightening.torque": torque}
    assert make_case(overrides).laws["tightening.torque"].mean > 0.0
    assert messages(schema, tables(overrides)) == []


@pytest.mark.parametrize(
    "torque",
    [
        84,
        True,
        "84",
        "84 MPa",
        "84 N/m",
        "84 Nmn",
        "84 kN·mm^2",
        "1,500 N·m",
        "1.500,5 N·m",
        "±84 N·m",
        "80 to 90 N·m",
        "84 NM/M",
        "84 mn",
        {},
        {"mean": "84 N·m", "sd": "3 N·m"},
        {"law": "normale", "mean": "84 N·m", "sd": "3 N·m"},
        {"law": "normal", "sd": "3 N·m"},
        {"law": "normal", "mean": "84 N·m"},
        {"law": "normal", "mean": "84 N·m", "sd": "3 mm"},
        {"law": "normal", "mean": "84 N·m", "sd": "3 N·m", "cov": "3 %"},
        {"law": "normal", "mean": "84 N·m", "sd": "3 N·m", "low": "70 N·m"},
        {"law": "normal", "mean": "84 N·m", "scatter_ratio": 1.6},
        {"law": "normal", "mean": "84 N·m", "half_width": "3 N·m", "coverage": "2 d.s."},
        {"law": "uniform", "low": "80 N·m"},
        {"law": "triangular", "low": "80 N·m", "high": "90 N·m", "tests": 9},
        {"law": "triangular", "tests": ["80 N·m", "84 N·m", "85 N·m"]},
        {"law": "normal", "tests": ["80 N·m", "84 N·m"]},
        {"law": "normal", "tests": ["80 N·m", "84 N·m", "85 N·m"], "column": "torque"},
        {"law": "tabulated", "values": []},
        {"law": "normal", "mean": "84 N·m", "sd": "3 N·m", "shared": {"by": "lot"}},
    ],
    ids=str,
)
def test_what_is_refused_as_a_torque_for_its_shape_does_not_validate(
    schema, tables, make_case, torque
):
    overrides = {"tightening.torque": torque}
    with pytest.raises(CaseError, match=r"tightening\.torque"):
        make_case(overrides)
    assert not schema.is_valid(tables(overrides))


@pytest.mark.parametrize(
    ("overrides", "validates"),
    [
        ({"tightening.tool": {"law": "normal", "cov": "6 %"}}, True),  # needs no mean
        ({"tightening.tool": {"tolerance": "6 %", "coverage": "2 sd"}}, True),
        ({"tightening.tool": {"tolerance": "6 %"}}, False),
        ({"tightening.tool": {"tolerance": "6 %", "coverage": "2 sd", "law": "normal"}}, False),
        ({"settling.embedding": {"law": "lognormal", "cov": "30 %"}}, False),
        ({"fastener.property_class": 10.9}, True),
        ({"fastener.material": "Stainless 316"}, True),
        ({"fastener.thread": 12}, False),
        ({"fastener.thread": None}, False),
        ({"tightening": None}, False),
        ({"friction.thread": 0}, False),
        ({"sampling.samples": 2.5}, False),
        ({"sampling.seed": -1}, False),
        ({"securing": {"element": " Spring  WASHER"}}, True),
        ({"securing": {"element": "spring washers"}}, False),
        ({"securing": "none"}, False),
        ({"alternative": [{"name": "b", "securing": "none"}]}, True),
        ({"alternative": [{"name": "b", "tightening": {"torque": "90 N·m"}}]}, True),
        ({"alternative": [{"tightening": {"torque": "90 N·m"}}]}, False),
        ({"alternative": [{"name": "b", "tightening": {"torq": "90 N·m"}}]}, False),
        ({"alternative": [{"name": "b", "clamped": [{"material": "steel"}]}]}, False),
        ({"alternative": [{"name": "b", "seat": {"hardness": 180}}]}, False),
        ({"alternative": {"name": "b"}}, False),
        ({"suspect": [{"library": "dry thread"}]}, True),
        ({"suspect": [{"name": "b", "seat": {"hardness": 180}}]}, True),
        ({"suspect": [{"name": "b", "requirement": {"allowed_under": 0.1}}]}, False),
    ],
    ids=str,
)
def test_forms_names_and_changes(schema, tables, overrides, validates):
    assert schema.is_valid(tables(overrides)) is validates


def test_whatever_is_read_of_mutated_files_validates(schema, tmp_path):
    for table in CASES.glob("*.csv"):
        shutil.copy(table, tmp_path)
    path = tmp_path / "joint.toml"
    read = 0

    @hypothesis.seed(20)
    @settings(
        max_examples=60,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @hypothesis.given(mutated_cases())
    def check(content):
        nonlocal read
        path.write_bytes(content)
        try:
            load_case(path)
        except CaseError:
            return
        read += 1
        assert messages(schema, tables_of(content.decode("utf-8-sig"))) == []

    check()
    assert read > 5


def units(draw_from, joints, powers):
    """Units of one and two factors, as typed."""
    for first in draw_from:
        yield from (f"{first}{power}" for power in powers)
        for second in draw_from:
            yield from (f"{first}{joint}{second}{power}" for joint in joints for power in powers)


def test_the_pattern_of_a_quantity_is_as_its_reader():
    # Every pair of some units: what the pattern takes is what the reader takes.
    some = ("kN", "lbf", "Nm", "mm", "µm", "in", "MPa", "psi", "K", "°F", "deg", "h", "%", "ppm")
    patterns = {name: re.compile(quantity_pattern(each)) for name, each in DIMENSIONS.items()}
    taken = 0
    for unit in units(some, ("·", "/", " "), ("", "²", "3")):
        # A power of a share is none of anything: it is left to the reader.
        if re.search(r"(%|ppm)[²3]", unit):
            continue
        for name, dimension in DIMENSIONS.items():
            try:
                parse_quantity(f"5 {unit}", dimension)
                reads = True
            except ValueError:
                reads = False
            taken += reads
            assert bool(patterns[name].search(f"5 {unit}")) is reads, (unit, name)
    assert taken > 200


def test_each_word_for_a_unit_is_taken_in_each_letter_case_that_is_read():
    patterns = {name: re.compile(quantity_pattern(each)) for name, each in DIMENSIONS.items()}
    words = {each.word for words in spellings().values() for each in words}
    assert len(words) > 100
    for word in {case(word) for word in words for case in (str, str.upper, str.title)} | {"Nm"}:
        for name, dimension in DIMENSIONS.items():
            try:
                parse_quantity(f"5 {word}", dimension)
                reads = True
            except ValueError:
                reads = False
            assert bool(patterns[name].search(f"5 {word}")) is reads, (word, name)


@pytest.mark.parametrize(
    ("number", "matches"),
    [
        ("15,33", True),
        ("15.33", True),
        ("1_000.5", True),
        ("33 000", True),
        ("33'000,5", True),
        ("1 1/2", True),
        ("1½", True),
        ("½", True),
        ("3/8", True),
        ("−3", True),
        ("1e6", True),
        ("12×10⁻⁶", True),
        ("12·10^-6", True),
        ("12 x 10-6", True),
        ("1,500", False),
        ("33 100,500", False),
        ("1,234,567", False),
        ("1.500,5", False),
        ("nan", False),
        ("", False),
    ],
)
def test_a_number_is_taken_as_it_is_read(number, matches):
    assert (split_quantity(f"{number} mm") is not None) is matches
    assert bool(re.search(quantity_pattern(LENGTH), f"{number} mm")) is matches


@pytest.mark.parametrize(
    ("unit", "dimension", "matches"),
    [
        ("N·mm·mm/mm", "torque", True),
        ("kN·mm^4/mm^3", "torque", True),
        ("K⁻¹", "thermal expansion", True),
        ("K^-1", "thermal expansion", True),
        ("1/K", "thermal expansion", True),
        ("1", "thermal expansion", False),
        ("", "ratio", True),
        ("/K", "thermal expansion", True),
        ("ppm per K", "thermal expansion", True),
        ("um/m/K", "thermal expansion", True),
        ("deg C", "temperature", True),
        ("deg c", "temperature", False),
        ("° F", "temperature", True),
        ("C", "temperature", True),
        ("NM/M", "force", True),
        ("Nm", "length", False),
        ("nm", "length", True),
        ("mN", "force", True),
        ("Mn", "force", False),  # mN or MN
        ('"', "length", True),
        ("in.", "length", True),
        ("lbs.", "force", True),
        ("kgf/cm²", "stress", True),
        ("kg/cm²", "stress", False),
        ("K·K/K", "temperature", False),
        ("furlong", "length", False),
        ("mm per side", "length", False),
        ("N·N·N", "torque", True),  # three factors are left to the reader
    ],
)
def test_units_that_are_odd(definitions, unit, dimension, matches):
    assert definitions(dimension).is_valid(f"5 {unit}") is matches


def test_a_row_that_is_added_is_in_it(monkeypatch, tables):
    creep = InputKind(
        "settling.creep",
        "creep",
        SMALL_LENGTH,
        "settling",
        meaning="length lost by creep",
        example='"2 um"',
    )
    budget = Field("budget.left", Quantity(FORCE), "a key in a section of its own", '"2 kN"')
    added = {"settling.creep": {"law": "constant", "value": "2 um"}, "budget.left": "2 kN"}
    before = Draft202012Validator(case_schema())
    assert len(messages(before, tables(added))) == 2
    monkeypatch.setitem(INPUT_KINDS, creep.name, creep)
    monkeypatch.setattr(keys, "_FACTS", (*keys._FACTS, budget))
    after = Draft202012Validator(case_schema())
    assert messages(after, tables(added)) == []
    changed = {"name": "b", "budget": {"left": "3 kN"}}
    assert after.is_valid(tables({"alternative": [changed]}))
    assert not after.is_valid(tables({"budget.left": "3 mm"}))
