"""The files of a ranking's report folder."""

from __future__ import annotations

from preloadmc.questions.rank import RankResult
from preloadmc.report.folder import MARK
from preloadmc.report.rank_figures import rank_figures
from preloadmc.report.rank_text import rank_text
from preloadmc.report.ranking_figures import ranking_figure


def rank_files(result: RankResult, document: str, system: str) -> dict[str, bytes]:
    """Return name and content of each file: text, JSON, a copy of the case, figures."""
    files = {
        "report.txt": rank_text(result, system).encode(),
        MARK: document.encode(),
        "case.toml": result.case.text.encode(),
    }
    for figure in (*rank_figures(result), ranking_figure(result)):
        files[f"{figure.name}.png"] = figure.png()
        files[f"{figure.name}.svg"] = figure.svg()
    return files
