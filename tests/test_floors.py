"""Imports point down only, as the contracts in pyproject.toml say, and through the doors."""

import re
from pathlib import Path

import grimp
from importlinter.cli import lint_imports

ROOT = Path(__file__).parent.parent
_INSIDE_A_QUESTION = re.compile(r"(preloadmc\.questions\.\w+)\.\w+")


def test_imports_point_down_only(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    code = lint_imports(config_filename="pyproject.toml", no_cache=True)
    assert code == 0, capsys.readouterr().out


def test_a_question_of_several_files_is_entered_by_its_door():
    graph = grimp.build_graph("preloadmc", cache_dir=None)
    inside = [name for name in graph.modules if _INSIDE_A_QUESTION.fullmatch(name)]
    assert len(inside) > 20
    around = [
        f"{importer} imports {name}"
        for name in inside
        for importer in graph.find_modules_that_directly_import(name)
        if not importer.startswith(_INSIDE_A_QUESTION.fullmatch(name)[1])
    ]
    assert around == []


def test_three_folder_levels_at_most_and_no_long_file():
    files = [path.relative_to(ROOT) for path in (ROOT / "preloadmc").rglob("*.py")]
    assert [path for path in files if len(path.parts) > 4] == []
    assert [path for path in files if len((ROOT / path).read_text().splitlines()) > 450] == []
