"""The files of a comparison's report folder."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.questions.compare import CompareResult
from preloadmc.report.case_text import input_section, story
from preloadmc.report.compare_figures import compare_figures
from preloadmc.report.compare_text import compare_report, compare_text
from preloadmc.report.justification import justification_text
from preloadmc.report.page import Page
from preloadmc.report.report_files import report_files
from preloadmc.report.reproduction import reproduction_section

QUESTION = "Which alternative keeps this joint best in its preload window?"


def compare_files(
    result: CompareResult, document: str, system: str, command: str
) -> dict[str, bytes]:
    """Return name and content of each file; the page has the inputs of the first alternative."""
    copies = {"case.toml": result.case.text}
    inputs = replace(
        input_section(result.case, system), title=f"Inputs and their laws: {result.first.name}"
    )
    report = compare_report(result, system).before_cautions(inputs)
    page = Page(
        QUESTION,
        replace(report, opening=story(result.case, system)),
        compare_figures(result, system),
        (reproduction_section(result.seed, command, copies),),
    )
    return {
        **report_files(compare_text(result, system), page, document, copies),
        "justification.txt": justification_text(result, system).encode(),
    }
