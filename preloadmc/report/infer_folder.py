"""The files of an investigation's report folder."""

from __future__ import annotations

from pathlib import PurePath

from preloadmc.questions.infer import InferResult
from preloadmc.report.folder import MARK
from preloadmc.report.infer_figures import infer_figures
from preloadmc.report.infer_text import infer_text


def infer_files(result: InferResult, document: str, system: str) -> dict[str, bytes]:
    """Return name and content of each file: text, JSON, copies of case and table, figures."""
    files = {
        "report.txt": infer_text(result, system).encode(),
        MARK: document.encode(),
        "case.toml": result.case.text.encode(),
    }
    if result.evidence.table_name:
        files[PurePath(result.evidence.table_name).name] = result.evidence.table_text.encode()
    for figure in infer_figures(result, system):
        files[f"{figure.name}.png"] = figure.png()
        files[f"{figure.name}.svg"] = figure.svg()
    return files
