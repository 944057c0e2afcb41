"""A new case like one that is there, and one for an investigation."""

import re
from pathlib import Path

import pytest

from preloadmc import load_case
from preloadmc.case_file.new_case import shipped, shipped_cases
from preloadmc.case_file.shipped_suspects import library
from preloadmc.evidence import KINDS
from preloadmc.mechanics.thread import thread

CASES = Path(__file__).parent.parent.parent / "cases"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_shipped_case_is_copied_with_its_comments(call, folder):
    told = call("new", "mine.toml", "--like", "conveyor_bracket")
    assert told.exit_code == 0, told.output
    original = (CASES / "conveyor_bracket.toml").read_text(encoding="utf-8")
    assert Path("mine.toml").read_text(encoding="utf-8") == original
    told_of = " ".join(told.stdout.split())
    assert "Change to your own: - title = " in told_of
    case = load_case("mine.toml")
    for words in (
        f'- [fastener] thread = "{case.joint.thread.designation}"',
        "- [[clamped]] material = ",
        '- [tightening] method = "torque"',
        "- [requirement] minimum_preload",
        "preloadmc run mine.toml",
    ):
        assert words in told_of


def test_a_case_by_its_path_brings_the_csv_files_that_it_names(call, folder):
    told = call("new", "mine.toml", "--like", CASES / "loosened_cover.toml")
    assert told.exit_code == 0, told.output
    assert {path.name for path in folder.iterdir()} == {"mine.toml", "loosened_cover.csv"}
    copied, original = load_case("mine.toml"), load_case(CASES / "loosened_cover.toml")
    assert copied.investigation.evidence.findings == original.investigation.evidence.findings
    assert "preloadmc infer mine.toml" in told.stdout
    # A table with the same content stays, another one is not overwritten.
    assert call("new", "second.toml", "--like", "loosened_cover").exit_code == 0
    Path("loosened_cover.csv").write_text("fastener,kind,value\n", encoding="utf-8")
    told = call("new", "third.toml", "--like", "loosened_cover")
    assert told.exit_code == 2
    assert "loosened_cover.csv: exists" in told.stderr
    assert not Path("third.toml").exists()


def test_a_wrong_name_lists_what_is_shipped(call, folder):
    told = call("new", "mine.toml", "--like", "conveyor_braket")
    assert told.exit_code == 2
    assert "'conveyor_braket'; nearest: 'conveyor_bracket'; shipped:" in told.stderr
    for path in CASES.glob("*.toml"):
        assert f"\n  {path.stem}: " in told.stderr
    assert list(folder.iterdir()) == []


def test_answers_beside_a_copy_are_refused(call, folder):
    told = call("new", "mine.toml", "--like", "conveyor_bracket", "--thread", "M10")
    assert told.exit_code == 2
    assert "--thread: --like copies a case as it is" in told.stderr


def test_a_copy_onto_itself_is_refused(call, folder):
    assert call("new", "mine.toml", "--like", "sensor_lid").exit_code == 0
    told = call("new", "mine.toml", "--like", "mine.toml", "--overwrite")
    assert told.exit_code == 2
    assert "which is read; name another file" in told.stderr


class Entry:
    """A file of an installed distribution, as `importlib.metadata` tells it."""

    def __init__(self, path):
        self._path = path

    def as_posix(self):
        return f"../../../share/preloadmc/cases/{self._path.name}"

    def locate(self):
        return self._path


def test_the_cases_of_an_install_are_found_by_its_list_of_files(folder, monkeypatch):
    monkeypatch.setattr(shipped, "__file__", str(folder / "a" / "b" / "c" / "shipped.py"))
    assert shipped_cases.__module__ == shipped.__name__
    monkeypatch.setattr(shipped, "files", lambda _: [Entry(path) for path in CASES.iterdir()])
    found = shipped_cases()
    assert set(found) == {path.stem for path in CASES.glob("*.toml")}
    monkeypatch.setattr(shipped, "files", lambda _: None)
    assert shipped_cases() == {}


def test_an_install_has_the_cases():
    text = (CASES.parent / "pyproject.toml").read_text(encoding="utf-8")
    assert f'"{shipped.INSTALLED.rstrip("/")}" = ["cases/*"]' in text


def uncommented(block):
    return "\n".join(line.removeprefix("# ") for line in block.split("\n"))


@pytest.mark.parametrize("units", ["metric", "inch"])
def test_an_investigation_has_an_example_of_every_finding_and_suspect(call, folder, units):
    told = call("new", "mine.toml", "--investigation", "--units", units)
    assert told.exit_code == 0, told.output
    text = Path("mine.toml").read_text(encoding="utf-8")
    case, _, example = text.partition("# # Why joints came loose")
    assert load_case("mine.toml").investigation is None
    assert re.findall(r'^# kind = "([^"]+)"', example, re.MULTILINE) == list(KINDS)
    assert re.findall(r'^# library = "([^"]+)"', example, re.MULTILINE) == list(library())
    assert all(len(line) <= 130 for line in example.split("\n"))
    # All of it holds once the # is taken, with what some findings ask of the case.
    stated = (
        '[load]\ntransverse = "1 kN"\n[seat]\nhardness = 190\npaint = "2 %"\nwasher = "2 %"\n'
        '[temperature]\nassembly = "20 degC"\n[[temperature.state]]\nname = "hot"\n'
        'fastener = "80 degC"\nclamped = "80 degC"\n'
    )
    case = case.replace("correlation = 0.5", "correlation = 0.5\njoint = 0.2")
    contradict = 'kind = "thread bottomed"'
    assert contradict in example
    blocks = [
        block for block in uncommented(f"# #{example}").split("\n#\n") if contradict not in block
    ]
    Path("mine.toml").write_text("\n".join((case, stated, *blocks)), encoding="utf-8")
    found = load_case("mine.toml").investigation
    assert len(found.suspects) >= len(library())


def test_a_metric_thread_between_sizes_is_answered_with_its_neighbours():
    with pytest.raises(ValueError, match=r"'M13'; nearest: M12, M14, M10, M16$"):
        thread("M13")
    with pytest.raises(ValueError, match=r"'M12x1\.3'; nearest: M12x1\.25, M12x1\.5"):
        thread("M12x1.3")
