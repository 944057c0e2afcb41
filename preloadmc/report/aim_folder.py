"""The files of an aiming's report folder."""

from __future__ import annotations

from preloadmc.questions.aim_records import AimResult
from preloadmc.report.aim_figures import aim_figures
from preloadmc.report.aim_text import aim_text
from preloadmc.report.folder import MARK


def aim_files(result: AimResult, document: str) -> dict[str, bytes]:
    """Return name and content of each file: text, JSON, a copy of the case, figures."""
    files = {
        "report.txt": aim_text(result).encode(),
        MARK: document.encode(),
        "case.toml": result.case.text.encode(),
    }
    for figure in aim_figures(result):
        files[f"{figure.name}.png"] = figure.png()
        files[f"{figure.name}.svg"] = figure.svg()
    return files
