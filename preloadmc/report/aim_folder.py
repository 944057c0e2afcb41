"""The files of an aiming's report folder."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.questions.aim_records import AimResult
from preloadmc.report.aim_figures import aim_figures
from preloadmc.report.aim_text import aim_report, aim_text
from preloadmc.report.case_text import story
from preloadmc.report.page import Page
from preloadmc.report.report_files import report_files
from preloadmc.report.reproduction import reproduction_section

QUESTION = "What setting suits the preload window best, and what scatter does it bear?"


def aim_files(result: AimResult, document: str, command: str) -> dict[str, bytes]:
    """Return name and content of each file."""
    copies = {"case.toml": result.case.text}
    page = Page(
        QUESTION,
        replace(aim_report(result), opening=story(result.case, result.system)),
        aim_figures(result),
        (reproduction_section(result.seed, command, copies),),
    )
    return report_files(aim_text(result), page, document, copies)
