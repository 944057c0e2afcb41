"""The service of a joint on the command line: `run --until`, and the other questions to its end."""

import json
from pathlib import Path

import pytest

from preloadmc import run
from preloadmc.report.figures.life import life_figure
from preloadmc.report.text.life import life_sections
from preloadmc.report.text.run import run_text
from preloadmc.report.text.screen import render_screen
from preloadmc.report.text.screens import run_screen

YEAR = 365.25 * 86400.0
SERVED = {
    "friction.nut_factor": {"law": "lognormal", "mean": 0.16, "cov": "8 %"},
    "friction.thread": None,
    "friction.bearing": None,
    "friction.change_per_tightening": "3 %",
    "settling.embedding": "3 um",
    "settling.relaxation": "0 %",
    "settling.over_time": [
        {
            "name": "paint",
            "rate": {"law": "lognormal", "mean": "3 %", "cov": "40 %"},
            "reference": "1 h",
        }
    ],
    "requirement": {
        "minimum_preload": "22 kN",
        "maximum_preload": "62 kN",
        "allowed_under": "1 %",
        "allowed_over": "1 %",
    },
    "sampling": {"samples": 2000, "seed": 7},
}
CHECKED = {
    **SERVED,
    "service.times": ["1 day", "5 years"],
    "service.action": [{"at": "1 year", "do": "check", "pass_torque": "50 N·m"}],
}


@pytest.fixture
def served(write_case, tmp_path, monkeypatch):
    """A case file that creeps, in the current folder."""
    monkeypatch.chdir(tmp_path)
    return write_case(SERVED, "served.toml").name


def test_the_life_of_a_joint_in_the_document(call, served):
    result = call("run", served, "--until", "6 d", "--json", "-")
    document = json.loads(result.stdout)
    life = document["life"]
    assert [point["time"] for point in life] == [
        3600.0,
        86400.0,
        6 * 86400.0,
    ]
    for point in life:
        assert point.keys() == {"time", "unit", "under_preload", "over_preload", "by_then"}
        assert point["unit"] == "s"
    values = [point["by_then"]["probability"] for point in life]
    assert values == sorted(values)
    assert values[-1] > 0.0
    assert document["outcomes"]["under_preload"]["probability"] == values[-1]
    assert "life" not in json.loads(call("run", served, "--json", "-").stdout)


@pytest.mark.parametrize(
    ("until", "words"),
    [
        ("5", "'5': a time"),
        ("0 h", "above 0"),
        ("-1 year", "-1 year"),
        ("5 month", "'month' has no fixed length: write days"),
        ("5 kN", "a time is wanted"),
        ("soon", "a finite number with its unit"),
        ("", "a finite number with its unit"),
    ],
)
def test_a_time_that_is_none(call, served, until, words):
    result = call("run", served, "--until", until)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in " ".join(result.stderr.split())


@pytest.fixture(scope="module")
def checked(session_case):
    """What a run finds of a joint that is checked after a year."""
    return run(session_case(CHECKED))


def test_screen_and_report_tell_of_service(checked):
    screen = " ".join(render_screen(run_screen(checked, "metric")).split())
    assert "within 5 years" in screen
    text = " ".join(run_text(checked).split())
    for words in (
        "With nothing done, by 5 years: ",
        "good joints read ",
        "For the work sheet, 1 year: expect ",
    ):
        assert words in text
    for words in ("1 day", "5 years"):
        assert any(row[0] == words for row in rows_of(checked))
    assert "audit torque" not in text


def rows_of(result):
    """The rows of the table of times."""
    (section,) = life_sections(result)
    assert section.title == "Over the years of service"
    return section.blocks[0].rows


def test_tables_and_figure_of_a_service(checked):
    assert len(checked.to_frame()) > 0
    figure = life_figure(checked).figure
    first, second = figure.axes[:2]
    assert first.get_ylabel() == "settled preload (kN)"
    assert second.get_ylabel() == "too little, per million"
    assert first.get_xlabel() == second.get_xlabel() == "time in service"
    assert first.get_xlim()[1] > 5 * YEAR
    lines = [line.get_xdata()[0] for line in first.lines if len(set(line.get_xdata())) == 1]
    assert pytest.approx(YEAR) in lines


@pytest.mark.slow
def test_a_joint_of_several_fasteners_creeps(call, write_case, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    case = write_case({**CHECKED, "group": {"fasteners": 6, "circle": "200 mm"}}).name
    result = call("run", case, "--json", "-")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert [point["time"] for point in document["life"]] == [86400.0, pytest.approx(5 * YEAR)]
    (check,) = document["service"]["checks"]
    assert check["time"] == pytest.approx(YEAR)


STAGES = {
    "rank": ["--json", "-"],
    "aim": ["--json", "-"],
    "compare": ["--json", "-"],
    "derive": ["--full"],
    "check": [],
}
RETIGHTENED = {**CHECKED, "service.action": [{"at": "1 year", "do": "retighten"}]}


@pytest.mark.parametrize(
    "question",
    [
        "rank",
        "derive",
        "check",
        *(pytest.param(each, marks=pytest.mark.slow) for each in ("aim", "compare")),
    ],
)
def test_other_questions_are_asked_to_the_end(call, write_case, tmp_path, monkeypatch, question):
    monkeypatch.chdir(tmp_path)
    (paint,) = SERVED["settling.over_time"]
    worse = {"name": "worse", "settling": {"over_time": [{**paint, "rate": "9 %"}]}}
    more = {"alternative": [worse]} if question == "compare" else {}
    case = write_case({**RETIGHTENED, **more}).name
    result = call(question, case, *STAGES[question])
    assert (result.exit_code, result.stderr) == (0, "")
    told = " ".join(result.stdout.split())
    if question == "rank":
        assert "settling.over_time.paint.rate" in told
    if question == "derive":
        assert "after 5 years" in told
    if question == "compare":
        found = json.loads(result.stdout)["alternatives"]
        low, high = (each["outcomes"]["under_preload"]["probability"] for each in found)
        assert low < high


def test_a_best_setting_takes_checks_as_read_alone(call, write_case):
    # A fastener that is set higher may just pass the check, and is then not retightened.
    result = call("aim", write_case(CHECKED))
    assert result.exit_code == 0
    assert "checks in service are taken as read alone" in " ".join(result.stdout.split())


def test_a_register_is_surveyed_to_the_end_of_its_template(call, write_case, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("joints.csv").write_text("joint;tightening.torque [N·m]\na;77,4\nb;60\n", encoding="utf-8")
    expected = []
    for times in (["1 day"], ["5 years"]):
        template = write_case({**SERVED, "service.times": times}, "template.toml").name
        result = call(
            *("survey", "joints.csv", "--template", template, "--workers", 1, "--worst", 0),
            *("--json", "-"),
        )
        assert (result.exit_code, result.stderr) == (0, "")
        document = json.loads(result.stdout)
        assert document["counts"]["judged"] == 2
        expected.append(document["expected"]["under_preload"]["value"])
    # Joint b holds 31 kN when it is new: creep loosens more of it in five years than in a day.
    assert expected[1] > 2 * expected[0] > 0.0
