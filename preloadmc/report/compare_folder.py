"""The files of a comparison's report folder."""

from __future__ import annotations

from preloadmc.questions.compare import CompareResult
from preloadmc.report.compare_figures import compare_figures
from preloadmc.report.compare_text import compare_text
from preloadmc.report.folder import MARK
from preloadmc.report.justification import justification_text


def compare_files(result: CompareResult, document: str, system: str) -> dict[str, bytes]:
    """Return name and content of each file: texts, JSON, a copy of the case, figures."""
    files = {
        "report.txt": compare_text(result, system).encode(),
        "justification.txt": justification_text(result, system).encode(),
        MARK: document.encode(),
        "case.toml": result.case.text.encode(),
    }
    for figure in compare_figures(result, system):
        files[f"{figure.name}.png"] = figure.png()
        files[f"{figure.name}.svg"] = figure.svg()
    return files
