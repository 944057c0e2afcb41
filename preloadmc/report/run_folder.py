"""The files of a run's report folder."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.questions.derive import derive
from preloadmc.questions.run import RunResult
from preloadmc.report.case_text import story
from preloadmc.report.derive_text import derivation_sections
from preloadmc.report.figures import run_figures
from preloadmc.report.page import Page
from preloadmc.report.report_files import report_files
from preloadmc.report.reproduction import reproduction_section
from preloadmc.report.run_text import run_report, run_text

QUESTION = "How likely does this joint end outside its preload window?"


def run_files(result: RunResult, document: str, system: str, command: str) -> dict[str, bytes]:
    """Return name and content of each file; the page ends with the derivation."""
    case = result.case
    copies = {"case.toml": case.text}
    page = Page(
        QUESTION,
        replace(run_report(result, system), opening=story(case, system)),
        run_figures(result, system),
        (
            reproduction_section(result.seed, command, copies),
            *derivation_sections(derive(case), system),
        ),
    )
    return report_files(run_text(result, system, derived=True), page, document, copies)
