"""The joint as found as a case file, and the alternatives of another file set against it."""

import math
import shutil

import pytest
from case_text import case_text

from preloadmc import load_case
from preloadmc.case_file import AS_FOUND, After, as_found, load_as_found
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.parsing import tables_of
from preloadmc.case_file.toml_text import toml_text
from preloadmc.chance.laws import Constant
from preloadmc.errors import CaseError, UsageError

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
FOUND = {
    "friction.thread": LAW,
    "friction.bearing": LAW,
    "tightening.bias": {"law": "normal", "mean": "0 %", "sd": "2 %"},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %"},
    "settling.relaxation": {"law": "triangular", "low": "0 %", "mode": "3 %", "high": "6 %"},
    "clamped": [{"material": "steel", "thickness": "30 mm"}],
    "temperature": {
        "assembly": "20 degC",
        "state": [
            {"name": "hot", "fastener": "90 degC", "clamped": "95 degC"},
            {
                "name": "cold",
                "fastener": {"law": "normal", "mean": "-10 degC", "sd": "4 K"},
                "clamped": [{"law": "normal", "mean": "-12 degC", "sd": "4 K"}],
            },
        ],
    },
    "evidence": [{"fastener": 1, "kind": "residual preload", "value": "24 kN", "sd": "2 kN"}],
    "suspect": [
        {"library": "dry thread"},
        {"library": "missed tightening"},
        {"name": "hot", "prior": 2, "settling": {"relaxation": "20 %"}, "seat": {"paint": "5 %"}},
    ],
}
ALTERNATIVES = [{"name": "more", "tightening": {"torque": "90 N·m"}, "securing": "none"}]
TO_END = 1.6448536269514722


def suspect_of(case, name):
    return next(each for each in case.investigation.suspects if each.name == name)


def written(case, name="as designed", after=None):
    return as_found(case, suspect_of(case, name), after or {}, "inputs")


def read(text, folder):
    path = folder / AS_FOUND
    path.write_text(text, encoding="utf-8")
    return load_case(path)


@pytest.mark.parametrize("stem", [
    "conveyor_bracket", "pump_cover", "sensor_lid", "crane_bracket", "tool_choice",
    "securing_choice", "loosened_cover", "benchmark",
])  # fmt: skip
def test_a_shipped_case_is_the_same_tables_written_anew(case_files, stem):
    (path,) = (each for each in case_files if each.stem == stem)
    tables = tables_of(path.read_text(encoding="utf-8"))
    again = toml_text(tables, all_fields(), {})
    assert tables_of(again) == tables
    # Sections have headers, laws stand in one line.
    assert "\n[tightening]\n" in again
    assert max(line.count("[[") for line in again.splitlines()) <= 1


def test_keys_and_texts_that_need_quotes():
    tables = {"title": 'a "b" \\ µ', "requirement": {"allowed": {"pressure under head": 0.01}}}
    text = toml_text(tables, all_fields(), {"title": "beside"})
    assert tables_of(text) == tables
    assert "[requirement.allowed]\n" in text
    assert text.splitlines()[0].endswith("  # beside")


def test_the_tables_of_the_suspect_are_merged_in(make_case, tmp_path):
    case = make_case(FOUND)
    made = read(written(case, "hot").text, tmp_path)
    assert made.laws["settling.relaxation"] == Constant(0.2)
    assert made.laws["friction.thread"] == case.laws["friction.thread"]
    assert (made.name, made.title) == ("as found", "Test joint, as found")
    # Findings, suspects and what only an inspection shows are none of it.
    assert made.investigation is None
    data = tables_of((tmp_path / AS_FOUND).read_text(encoding="utf-8"))
    assert not {"evidence", "suspect", "seat", "missed"} & data.keys()


def after(case, name, low, median, high):
    return {name: After(case.laws[name], low, median, high, 0.4)}


@pytest.mark.parametrize(
    ("name", "low", "median", "high", "kind"),
    [
        ("friction.thread", 0.18, 0.21, 0.245, "lognormal"),
        ("settling.embedding", 20e-3, 35e-3, 61.25e-3, "lognormal"),
        ("settling.relaxation", 0.06, 0.09, 0.135, "lognormal"),
        # A share that comes near 1 is cut off there.
        ("settling.relaxation", 0.5, 0.6, 0.7, "truncated normal"),
        ("tightening.bias", -0.25, -0.2, -0.15, "normal"),
        ("tightening.tool", 0.8, 0.9, 1.0, "normal"),
        ("temperature.state.cold.fastener", 240.0, 250.0, 260.0, "normal"),
        ("temperature.state.cold.clamped.1", 240.0, 250.0, 260.0, "normal"),
    ],
)
def test_a_law_has_median_and_spread_after_the_evidence(
    make_case, tmp_path, name, low, median, high, kind
):
    case = make_case(FOUND)
    found = written(case, after=after(case, name, low, median, high))
    assert found.kept == ()
    law = read(found.text, tmp_path).laws[name]
    assert law.kind == kind
    # Five digits are written. The ends are those of a normal or lognormal law, to which the ends
    # above are chosen; a truncated one loses a little where it is cut.
    assert law.quantile(0.5) == pytest.approx(median, rel=1e-4)
    rel = 1e-2 if kind == "truncated normal" else 1e-3
    assert law.quantile(0.95) - law.quantile(0.05) == pytest.approx(high - low, rel=rel)
    (line,) = (line for line in found.text.splitlines() if "after the evidence, 5 to 95 %" in line)
    assert line.startswith(name.split(".")[-1] if "clamped" not in name else "clamped")


def test_the_comment_has_the_units_of_a_case_file(make_case):
    case = make_case(FOUND)
    found = written(case, after=after(case, "settling.embedding", 20e-3, 35e-3, 61.25e-3))
    assert "# after the evidence, 5 to 95 %: 20 µm to 61.2 µm" in found.text


def test_two_layers_of_a_state_have_one_comment(make_case, tmp_path):
    law = {"law": "normal", "mean": "-12 degC", "sd": "4 K"}
    state = {"name": "cold", "fastener": "-10 degC", "clamped": [law, law]}
    layers = [{"material": "steel", "thickness": "15 mm"}] * 2
    temperature = {"assembly": "20 degC", "state": [state]}
    case = make_case({**FOUND, "clamped": layers, "temperature": temperature})
    names = [f"temperature.state.cold.clamped.{layer}" for layer in (1, 2)]
    moved = {
        **after(case, names[0], 238.15, 243.15, 248.15),
        **after(case, names[1], 228.15, 233.15, 238.15),
    }
    found = written(case, after=moved)
    assert found.kept == ()
    words = "5 to 95 %: -35 degC to -25 degC; -45 degC to -35 degC"
    (line,) = (line for line in found.text.splitlines() if line.startswith("clamped = "))
    assert line.endswith(words)
    made = read(found.text, tmp_path)
    assert [made.laws[name].mean for name in names] == pytest.approx([243.15, 233.15])


def test_what_the_evidence_did_not_move_stays_as_stated(make_case):
    case = make_case(FOUND)
    law = case.laws["friction.thread"]
    low, median, high = (law.quantile(p) for p in (0.05, 0.5, 0.95))
    # A fifth of the distance from the median to the end decides, at either end.
    for share, moves in ((0.19, False), (0.21, True)):
        up = After(law, low, median, high + share * (high - median), 0.4)
        down = After(law, low + share * (median - low), median, high, 0.4)
        assert (up.moved, down.moved) == (moves, moves)
        text = written(case, after={"friction.thread": up}).text
        assert ("after the evidence" in text) is moves
        assert ('thread = { law = "lognormal", mean = 0.13, cov = "12 %" }' in text) is not moves


def test_an_input_that_follows_from_other_keys_is_named(make_case):
    case = make_case(FOUND)
    strength = case.laws["fastener.yield_strength"].mean
    found = written(
        case, after=after(case, "fastener.yield_strength", strength, 1.1 * strength, 1.2 * strength)
    )
    assert found.kept == ("fastener.yield_strength",)
    assert "property_class" in found.text


def test_laws_that_cannot_stand_together_stay_as_stated(make_case, tmp_path):
    # A yield strength above the tensile strength is refused.
    strengths = {
        "fastener.property_class": None,
        "fastener.yield_strength": {"law": "normal", "mean": "940 MPa", "sd": "5 MPa"},
        "fastener.tensile_strength": "1040 MPa",
    }
    case = make_case({**FOUND, **strengths})
    moved = after(case, "fastener.yield_strength", 1000.0, 1100.0, 1200.0)
    found = written(case, after=moved)
    assert found.kept == ("fastener.yield_strength",)
    made = read(found.text, tmp_path)
    assert made.laws["fastener.yield_strength"] == case.laws["fastener.yield_strength"]


def test_alternatives_go_along_unless_the_joint_as_found_cannot_have_them(make_case, tmp_path):
    found = written(make_case({**FOUND, "alternative": ALTERNATIVES}))
    assert found.has_alternatives
    assert [each.name for each in read(found.text, tmp_path).alternatives] == ["more"]
    # This name is that of the joint as found.
    taken = [{**ALTERNATIVES[0], "name": "as found"}]
    found = written(make_case({**FOUND, "alternative": taken}))
    assert not found.has_alternatives
    assert read(found.text, tmp_path).alternatives == ()


@pytest.fixture
def folder(make_case, tmp_path):
    """A folder with the joint as found under the dry thread."""
    folder = tmp_path / "report"
    folder.mkdir()
    case = make_case({**FOUND, "alternative": ALTERNATIVES})
    moved = after(case, "settling.embedding", 20e-3, 35e-3, 61.25e-3)
    (folder / AS_FOUND).write_text(written(case, "dry thread", moved).text, encoding="utf-8")
    return folder


def test_the_alternatives_of_another_file_change_the_joint_as_found(folder, tmp_path):
    cures = tmp_path / "cures.toml"
    cure = {"name": "oil", "friction": {"thread": LAW, "bearing": LAW}}
    cures.write_text(case_text({"alternative": [cure]}), encoding="utf-8")
    made = load_as_found(folder, cures, "inputs")
    assert made.laws["friction.thread"].mean == pytest.approx(0.22)  # that of a dry thread
    (oil,) = made.alternatives
    assert (oil.name, oil.laws["friction.thread"].mean) == ("oil", 0.13)
    # What the evidence moved holds for the cure too.
    s = math.log(61.25 / 20) / (2 * TO_END)
    assert oil.laws["settling.embedding"].mean == pytest.approx(
        35e-3 * math.exp(s**2 / 2), rel=1e-4
    )
    # The text alone gives the same case again.
    again = read(made.text, tmp_path)
    assert again.laws == made.laws
    assert [each.laws for each in again.alternatives] == [oil.laws]
    assert again.sha256 == made.sha256


def test_what_is_missing_is_said(folder, tmp_path, write_case):
    with pytest.raises(UsageError, match=r"plain.toml: nothing to compare with"):
        load_as_found(folder, write_case({}, "plain.toml"), "inputs")
    cures = write_case({"alternative": ALTERNATIVES}, "cures.toml")
    with pytest.raises(CaseError, match=r"as_found.toml: 1 problem\n.*cannot be read"):
        load_as_found(tmp_path, cures, "inputs")


def test_a_csv_file_is_named_where_its_copy_lies(make_case, tmp_path):
    rows = [f"{joint},{50 + i} N·m" for joint in ("hard", "soft") for i in range(10)]
    text = "\n".join(["joint,torque", *rows])
    (tmp_path / "rundowns.csv").write_text(text, encoding="utf-8")
    tool = {"rundowns": "rundowns.csv", "target": "54 N·m"}
    case = make_case({**FOUND, "tightening.tool": tool, "tightening.bias": None})
    folder = tmp_path / "report"
    (folder / "inputs").mkdir(parents=True)
    shutil.move(tmp_path / "rundowns.csv", folder / "inputs")
    made = read(written(case).text, folder)
    assert made.laws["tightening.tool"] == case.laws["tightening.tool"]
    assert list(made.tables) == ["inputs/rundowns.csv"]


def test_what_a_lot_has_in_common_after_the_evidence_counts_in_a_joint_of_several(
    make_case, tmp_path
):
    """Readings of one joint tell its lot: what is left in common is less than before."""
    case = make_case({**FOUND, "group": {"fasteners": 4}})
    found = written(case, after=after(case, "friction.thread", 0.18, 0.21, 0.245))
    made = read(found.text, tmp_path)
    assert made.group.n == 4
    assert made.group.fractions["friction.thread"] == 0.4
    assert made.group.levels["friction.thread"] == "lot"
    single = written(make_case(FOUND), after=after(case, "friction.thread", 0.18, 0.21, 0.245))
    assert "shared" not in single.text
