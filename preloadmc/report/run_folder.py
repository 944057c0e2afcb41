"""The files of a run's report folder."""

from __future__ import annotations

from preloadmc.questions.run import RunResult
from preloadmc.report.figures import run_figures
from preloadmc.report.folder import MARK
from preloadmc.report.run_text import run_text


def run_files(result: RunResult, document: str, system: str) -> dict[str, bytes]:
    """Return name and content of each file: text, JSON, a copy of the case, figures."""
    files = {
        "report.txt": run_text(result, system, derived=True).encode(),
        MARK: document.encode(),
        "case.toml": result.case.text.encode(),
    }
    for figure in run_figures(result, system):
        files[f"{figure.name}.png"] = figure.png()
        files[f"{figure.name}.svg"] = figure.svg()
    return files
