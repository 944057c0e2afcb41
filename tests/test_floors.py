"""Imports point down only, as the contract in pyproject.toml says."""

from pathlib import Path

from importlinter.cli import lint_imports

ROOT = Path(__file__).parent.parent


def test_imports_point_down_only(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    code = lint_imports(config_filename="pyproject.toml", no_cache=True)
    assert code == 0, capsys.readouterr().out
