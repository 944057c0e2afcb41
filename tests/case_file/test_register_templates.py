"""Templates: where a column may stand, and the case of a row, equal to that of a whole file."""

import pickle
import time

import pytest
from register_files import CASES, read_whole, row_of, without_words

from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.register.template import load_template, place_of, put
from preloadmc.errors import CaseError, Problem

SHIPPED = sorted(CASES.glob("*.toml"))
# Cells that most of the shipped cases take; those that one does not take are refused alike.
CELLS = (
    {},
    {"tightening.torque": "21 N·m"},
    {"friction.thread.mean": 0.135, "friction.bearing": 0.12},
    {"requirement.minimum_preload": "5 kN", "settling.embedding.cov": "20 %"},
    {"fastener.property_class": "12.9", "tightening.bias": "1 %", "load.slip_faces": 2},
    {"friction.thread": 0.45, "settling.relaxation.mean": "6 %"},  # unusual: a warning
    {"clamped[1].thickness": "8 mm", "temperature.assembly": "25 degC"},
    {"temperature.state[1].clamped.sd": "6 K", "tightening.torque": "much"},
    {"friction.thread.mean": -1, "requirement.allowed_under": 2},
)


def result(make):
    try:
        return without_words(make())
    except CaseError as error:
        return error.problems, error.warnings


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_the_case_of_a_row_is_that_of_a_whole_file(path):
    template = load_template(path)
    made = []
    for cells in CELLS:
        try:
            whole = without_words(read_whole(path, cells))
        except CaseError as error:
            whole = error.problems, error.warnings
        except (IndexError, KeyError, AttributeError, TypeError):
            continue  # a table that this template has not
        assert result(lambda cells=cells: template.case_of(row_of(cells))) == whole, cells
        made.append(whole)
    assert len(made) >= 5
    assert isinstance(made[-1], tuple), "the last one is refused"


def test_files_of_tests_and_rundowns_are_read_once(tmp_path):
    text = (CASES / "benchmark.toml").read_text(encoding="utf-8")
    law = 'thread = { law = "lognormal", mean = 0.13, cov = "10 %" }'
    tested = 'thread = { law = "lognormal", tests = "tests.csv", column = "mu" }'
    case, tests = tmp_path / "a.toml", tmp_path / "tests.csv"
    case.write_text(text.replace(law, tested), encoding="utf-8")
    tests.write_text("mu\n" + "".join(f"0.1{n}\n" for n in range(20, 40)), encoding="utf-8")
    rundowns = "joint,torque\n" + "".join(
        f"{joint},{90 + 0.1 * (7 * n % 25)} N·m\n" for joint in ("hard", "soft") for n in range(25)
    )
    (tmp_path / "runs.csv").write_text(rundowns, encoding="utf-8")
    with_tool = tmp_path / "b.toml"
    with_tool.write_text(
        text.replace(
            'tool = { law = "normal", cov = "3 %" }',
            'tool = { rundowns = "runs.csv", target = "91 N·m" }',
        ),
        encoding="utf-8",
    )
    cells = {"tightening.torque": "70 N·m"}
    wanted = [without_words(read_whole(path, cells)) for path in (case, with_tool)]
    templates = [load_template(path) for path in (case, with_tool)]
    sent = [pickle.dumps(template) for template in templates]
    for path in tmp_path.iterdir():
        path.unlink()
    assert [without_words(pickle.loads(each).case_of(row_of(cells))) for each in sent] == wanted
    assert set(templates[0].files) == {"a.toml", "tests.csv"}
    assert templates[1].files["runs.csv"] == rundowns


def test_what_a_template_lacks_may_come_from_a_row(tmp_path):
    text = (CASES / "benchmark.toml").read_text(encoding="utf-8")
    path = tmp_path / "a.toml"
    path.write_text(
        text.replace('thread = "M12"\n', "").replace('torque = "90 N·m"', ""), encoding="utf-8"
    )
    template = load_template(path)
    cells = {"fastener.thread": "M12", "tightening.torque": "90 N·m"}
    assert without_words(template.case_of(row_of(cells))) == without_words(read_whole(path, cells))
    with pytest.raises(CaseError, match=r"fastener.thread: missing") as caught:
        template.case_of(row_of({"tightening.torque": "90 N·m"}))
    assert [problem.path for problem in caught.value.problems] == ["fastener.thread"]
    # What is wrong in the row already is not missing besides.
    wrong = Problem("fastener.thread", "'?'", "a thread")
    with pytest.raises(CaseError) as caught:
        template.case_of(row_of({"tightening.torque": "-9 N·m"}, problems=(wrong,)))
    paths = [problem.path for problem in caught.value.problems]
    assert paths == ["fastener.thread", "tightening.torque"]


def test_rows_leave_the_template_as_it_was():
    template = load_template(CASES / "motor_flange.toml")
    before = template.case_of(row_of({}))
    cells = {
        "clamped[1].thickness": "20 mm",
        "temperature.state[1].fastener.mean": "50 degC",
        "friction.thread": 0.2,
    }
    assert template.case_of(row_of(cells)) != before
    assert template.case_of(row_of({})) == before
    assert before.name == "J"


def test_lots_and_tools_have_an_effect_in_a_survey(tmp_path):
    template = load_template(CASES / "drive_line_joint.toml")
    assert template.without_effect(row_of({})) == ()
    path = tmp_path / "a.toml"
    text = (CASES / "drive_line_joint.toml").read_text(encoding="utf-8")
    path.write_text(text.replace('by = "tool"', 'by = "joint"'), encoding="utf-8")
    (words,) = load_template(path).without_effect(row_of({}))
    assert "tightening.bias.shared has no effect here" in words


def test_a_plain_value_above_a_cell_is_told_in_the_words_of_the_template():
    template = load_template(CASES / "benchmark.toml")
    with pytest.raises(CaseError) as caught:
        template.case_of(
            row_of(
                {
                    "tightening.torque.mean": "95 N·m",
                    "clamped[1].thickness": "9 mm",
                    "settling.embedding.low": "3 um",
                }
            )
        )
    words = str(caught.value)
    assert (
        'tightening.torque.mean: a law in the template, such as torque = { law = ..., mean = "90 '
        "N·m\", ... }; it states '90 N·m' (given: '95 N·m')" in words
    )
    assert "clamped[1].thickness: the template has none of 'clamped' (given: '9 mm')" in words
    # The law of the template has a mean: the reader says what goes with it.
    assert "settling.embedding.low: unknown key" in words
    assert len(caught.value.problems) == 3


def test_every_key_of_a_case_can_be_a_column_or_says_why_not():
    places, refused = set(), {}
    for field in all_fields():
        path = field.path.replace("[]", "[1]")
        try:
            places.add(place_of(f" {path.upper()} ").path)
        except ValueError as error:
            refused[path] = str(error)
    assert {"tightening.torque", "temperature.state[1].clamped[1]", "fastener.thread"} <= places
    assert not places & {*refused}
    assert "template" in refused["group.fasteners"]
    assert "state it in the template" in refused["tightening.accept.torque"]
    assert refused["fastener"] == "one of the keys of this table, such as 'fastener.thread'"
    for path in ("evidence[1].kind", "suspect[1].name", "alternative[1].name", "rotation.angle"):
        assert "a row is one joint as it is built" in refused.get(path, ""), path


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("torque", "unknown key; nearest: 'tightening.torque'; see `preloadmc keys`"),
        ("friction.thred", "nearest: 'friction.thread'"),
        ("frction.thread", "nearest: 'friction.thread'"),
        ("bolt.thread", "nearest: 'friction.thread', 'fastener.thread'"),
        ("friction.thread.maen", "no key of a law that a cell can state; nearest: 'mean'"),
        ("friction.thread.values", "no key of a law that a cell can state"),
        ("friction.thread.mean.x", "no key of a law that a cell can state"),
        ("tightening.tool.rundowns", "no key of a law that a cell can state"),
        ("fastener.thread.x", "'fastener.thread' alone: it has no keys of its own"),
        ("clamped.thickness", "the number of one of them, such as 'clamped[1]'"),
        ("friction[2].thread", "'friction' without a number: there is one only"),
        ("name", "'joint' as the heading of the names of joints"),
    ],
)
def test_headings_that_are_no_place(written, words):
    with pytest.raises(ValueError) as caught:
        place_of(written)
    assert words in str(caught.value)


def test_an_item_beyond_the_list_of_the_template():
    data = {"clamped": [{"thickness": "5 mm"}]}
    assert put(data, "clamped[1].thickness", "6 mm") == ""
    assert put(data, "clamped[2].thickness", "6 mm") == "the template has 1 of 'clamped'"
    assert put(data, "clamped[0].thickness", "6 mm") == "the template has 1 of 'clamped'"
    assert data == {"clamped": [{"thickness": "6 mm"}]}


def test_an_item_of_a_list_of_laws():
    state = {"clamped": ["40 degC", {"law": "normal", "mean": "45 degC", "sd": "2 K"}]}
    data = {"temperature": {"state": [state]}}
    assert put(data, "temperature.state[1].clamped[1]", "50 degC") == ""
    assert put(data, "temperature.state[1].clamped[2].mean", "55 degC") == ""
    found = data["temperature"]["state"][0]["clamped"]
    assert (found[0], found[1]["mean"]) == ("50 degC", "55 degC")
    assert state["clamped"][0] == "40 degC"
    one = put(data, "temperature.state[1].clamped.mean", "55 degC")
    assert one == "one of the list in the template, such as 'clamped[1]'"
    beyond = put(data, "temperature.state[1].clamped[3]", "55 degC")
    assert beyond == "the template has 2 of 'temperature.state[1].clamped'"
    plain = put(data, "temperature.state[1].clamped[1].sd", "1 K")
    assert plain.startswith("a law in the template, such as clamped = { law = ..., sd = ..., ")


def test_a_row_is_read_quickly():
    template = load_template(CASES / "benchmark.toml")
    rows = [
        row_of({"tightening.torque": f"{80 + n / 10} N·m", "friction.thread.mean": 0.1 + n / 1e4})
        for n in range(200)
    ]
    begin = time.process_time()
    for row in rows:
        template.case_of(row)
    # Measured: 1.4 ms on a core of a shared x86_64 machine. A whole file takes ten times as long.
    assert (time.process_time() - begin) / len(rows) < 10e-3
