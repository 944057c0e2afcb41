"""The files of a ranking's report folder."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.questions.rank import RankResult
from preloadmc.report.case_text import assumption_section, input_section, story
from preloadmc.report.page import Page
from preloadmc.report.rank_figures import rank_figures
from preloadmc.report.rank_text import rank_report, rank_text
from preloadmc.report.ranking_figures import ranking_figure
from preloadmc.report.report_files import report_files
from preloadmc.report.reproduction import reproduction_section

QUESTION = "What dominates the scatter of preload, and what the misses?"


def rank_files(result: RankResult, document: str, system: str, command: str) -> dict[str, bytes]:
    """Return name and content of each file."""
    copies = {"case.toml": result.case.text}
    report = rank_report(result, system).before_cautions(
        input_section(result.case, system), assumption_section(result.case)
    )
    page = Page(
        QUESTION,
        replace(report, opening=story(result.case, system)),
        (*rank_figures(result), ranking_figure(result)),
        (reproduction_section(result.seed, command, copies),),
    )
    return report_files(rank_text(result, system), page, document, copies)
