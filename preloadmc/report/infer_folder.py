"""The files of an investigation's report folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePath

from preloadmc.questions.infer import InferResult
from preloadmc.report.case_text import input_section, story
from preloadmc.report.infer_figures import infer_figures
from preloadmc.report.infer_text import infer_report, infer_text
from preloadmc.report.page import Page
from preloadmc.report.report_files import report_files
from preloadmc.report.reproduction import reproduction_section

QUESTION = "Why did these joints come loose?"


def infer_files(result: InferResult, document: str, system: str, command: str) -> dict[str, bytes]:
    """Return name and content of each file, with a copy of the table of evidence."""
    copies = {"case.toml": result.case.text}
    if result.evidence.table_name:
        copies[PurePath(result.evidence.table_name).name] = result.evidence.table_text
    inputs = replace(
        input_section(result.case, system), title="Inputs of the joint as designed, and their laws"
    )
    page = Page(
        QUESTION,
        replace(
            infer_report(result, system).before_cautions(inputs), opening=story(result.case, system)
        ),
        infer_figures(result, system),
        (reproduction_section(result.seed, command, copies),),
    )
    return report_files(infer_text(result, system), page, document, copies)
