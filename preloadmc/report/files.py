"""The files of each question's report folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256
from pathlib import PurePath

from preloadmc.case import Case
from preloadmc.case_file import AS_FOUND
from preloadmc.questions.aim import AimResult
from preloadmc.questions.compare import CompareResult
from preloadmc.questions.decay import DecayResult
from preloadmc.questions.fit import DERIVED, FitResult
from preloadmc.questions.infer import InferResult
from preloadmc.questions.rank import RankResult
from preloadmc.questions.run import RunResult
from preloadmc.questions.survey import SurveyResult
from preloadmc.report.documents.page import Page, page_html
from preloadmc.report.documents.survey import survey_document
from preloadmc.report.figures.aim import aim_figures
from preloadmc.report.figures.compare import compare_figures
from preloadmc.report.figures.decay import decay_figures
from preloadmc.report.figures.fit import fit_figures
from preloadmc.report.figures.flange import flange_figure
from preloadmc.report.figures.indices import ranking_figure
from preloadmc.report.figures.infer import infer_figures
from preloadmc.report.figures.rankings import rank_figures
from preloadmc.report.figures.run import run_figures
from preloadmc.report.figures.survey import survey_figures
from preloadmc.report.folder import INPUTS, MARK, Content
from preloadmc.report.tables.survey import register_csv, register_jsonl, register_xlsx
from preloadmc.report.text.aim import aim_report, aim_text
from preloadmc.report.text.as_found import as_found_text
from preloadmc.report.text.blocks import Paragraph, Report, Section, folded
from preloadmc.report.text.case import assumption_section, input_section, story
from preloadmc.report.text.compare import compare_report, compare_text
from preloadmc.report.text.decay import decay_report, decay_text
from preloadmc.report.text.derive import derivation_sections
from preloadmc.report.text.fit import fit_report, fit_text
from preloadmc.report.text.fit_table import derived_table
from preloadmc.report.text.infer import infer_report, infer_text
from preloadmc.report.text.investigation import investigation_report, reviewer_sections
from preloadmc.report.text.justification import (
    aim_justification,
    compare_justification,
    run_justification,
)
from preloadmc.report.text.rank import rank_report, rank_text
from preloadmc.report.text.reproduction import reproduction_sections
from preloadmc.report.text.run import run_report, run_text
from preloadmc.report.text.survey import survey_report, survey_text
from preloadmc.report.text.survey_rows import SurveyRows, survey_rows

# Templates that the page of a survey shows.
_SHOWN_TEMPLATES = 20


def run_files(
    result: RunResult, document: str, system: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file; the page ends with the derivation."""
    case = result.case
    copies = _copies(case)
    page = Page(
        "How likely does this joint end outside its preload window?",
        replace(run_report(result, system), opening=story(case, system)),
        run_figures(result, system),
        (
            *reproduction_sections(result.seed, command, copies),
            *folded(
                derivation_sections(result.derivation, system),
                f"report.txt, or by preloadmc derive {next(iter(copies))} --full",
            ),
        ),
    )
    sheet = run_justification(result, system)
    text = run_text(result, system, derived=True)
    return _report_files(text, page, document, copies, sheet, png=png)


def rank_files(
    result: RankResult, document: str, system: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file."""
    copies = _copies(result.case)
    report = rank_report(result, system).before_cautions(
        input_section(result.case, system), assumption_section(result.case.assumptions, system)
    )
    page = Page(
        "What dominates the scatter of preload, and what the misses?",
        replace(report, opening=story(result.case, system)),
        (*rank_figures(result), ranking_figure(result)),
        reproduction_sections(result.seed, command, copies),
    )
    return _report_files(rank_text(result, system), page, document, copies, png=png)


def aim_files(
    result: AimResult, document: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file."""
    copies = _copies(result.case)
    page = Page(
        "What setting suits the preload window best, and what scatter does it bear?",
        replace(aim_report(result), opening=story(result.case, result.system)),
        aim_figures(result),
        reproduction_sections(result.seed, command, copies),
    )
    sheet = aim_justification(result)
    return _report_files(aim_text(result), page, document, copies, sheet, png=png)


def compare_files(
    result: CompareResult, document: str, system: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file; the page has the inputs of the first alternative."""
    copies = _copies(result.case)
    inputs = replace(
        input_section(result.case, system), title=f"Inputs and their laws: {result.first.name}"
    )
    report = compare_report(result, system).before_cautions(inputs)
    page = Page(
        "Which alternative keeps this joint best in its preload window?",
        replace(report, opening=story(result.case, system)),
        compare_figures(result, system),
        reproduction_sections(result.seed, command, copies),
    )
    sheet = compare_justification(result, system)
    text = compare_text(result, system)
    return _report_files(text, page, document, copies, sheet, png=png)


def infer_files(
    result: InferResult, document: str, system: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file."""
    copies = _copies(result.case)
    inputs = replace(
        input_section(result.case, system), title="Inputs of the joint as designed, and their laws"
    )
    page = Page(
        "Why did these joints come loose?",
        replace(
            infer_report(result, system).before_cautions(inputs), opening=story(result.case, system)
        ),
        infer_figures(result, system),
        reproduction_sections(result.seed, command, copies),
    )
    circle = flange_figure(result, system)
    sheet = Page(
        "Why did these joints come loose?",
        investigation_report(result, system),
        () if circle is None else (circle,),
        reviewer_sections(result, system),
        is_sheet=True,
    )
    files = _report_files(infer_text(result, system), page, document, copies, png=png)
    files["investigation.html"] = page_html(sheet).encode()
    files[AS_FOUND] = as_found_text(result, INPUTS).encode()
    return files


def fit_files(
    result: FitResult, document: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file; what follows from several columns has its table."""
    copies = {f"{INPUTS}/{name}": text for name, text in result.files.items()}
    page = Page(
        "What laws do these tests follow, and how sure is that?",
        fit_report(result),
        fit_figures(result),
        reproduction_sections(result.seed, command, copies),
    )
    files = _report_files(fit_text(result), page, document, copies, png=png)
    table = derived_table(result)
    return {**files, DERIVED: table.encode()} if table else files


def decay_files(
    result: DecayResult, document: str, command: str, *, png: bool = False
) -> dict[str, bytes]:
    """Return name and content of each file; nothing of it is drawn, so that there is no seed."""
    copies = {f"{INPUTS}/{name}": text for name, text in result.files.items()}
    page = Page(
        "How much preload is left after vibration, and for how long?",
        decay_report(result),
        decay_figures(result),
        reproduction_sections(None, command, copies),
    )
    return _report_files(decay_text(result), page, document, copies, png=png)


def survey_files(
    result: SurveyResult,
    document: str,
    system: str,
    command: str,
    *,
    rows: SurveyRows | None = None,
    register: bytes | None = None,
    png: bool = False,
    xlsx: bool = False,
) -> dict[str, Content]:
    """Return name and content of each file; those with all rows of the register come in pieces.

    Parameters
    ----------
    result : SurveyResult
        A survey.
    document : str
        Its JSON document as text.
    system : {"metric", "inch"}
        Whose units are printed.
    command : str
        What makes the same report again.
    rows : SurveyRows, optional
        What `survey_rows` gathered; done here unless given.
    register : bytes, optional
        Content of the file of the register, of which a copy lies among the inputs; None where it
        was made of case files.
    png, xlsx : bool
        Whether figures are PNG files too, and the register a workbook (needs openpyxl).
    """
    rows = survey_rows(result) if rows is None else rows
    copies = {f"{INPUTS}/{name}": text for name, text in result.files.items()}
    shown = dict(list(copies.items())[:_SHOWN_TEMPLATES])
    how, *inputs = reproduction_sections(result.seed, command, shown)
    place = f"{INPUTS}/{PurePath(result.source).name}"
    if register is not None:
        words = Paragraph(f"{place}, SHA-256 {sha256(register).hexdigest()}")
        how = replace(how, blocks=(*how.blocks[:2], words, *how.blocks[2:]))
    if len(copies) > len(shown):
        words = Paragraph(f"{len(copies) - len(shown):,} more files are in {INPUTS}.")
        how = replace(how, blocks=(*how.blocks, words))
    page = Page(
        "How many of these joints end outside their preload window, and which?",
        survey_report(result, system, rows=rows),
        survey_figures(result, rows),
        (_all_numbers(xlsx=xlsx), how, *inputs),
    )
    text = survey_text(result, system, rows)
    files: dict[str, Content] = {**_report_files(text, page, document, copies, png=png)}
    if register is not None:
        files[place] = register
    files["register.csv"] = register_csv(result, system, rows)
    files["register.jsonl"] = register_jsonl(result)
    if xlsx:
        files["register.xlsx"] = register_xlsx(result, survey_document(result, rows), system, rows)
    return files


def _all_numbers(*, xlsx: bool) -> Section:
    sheets = " register.xlsx has the same, with sheets of the changes and of lots and tools."
    words = (
        "register.csv has a row a joint, ranked by risk: each probability as a share with the ends "
        "of its 95 % interval, what is allowed and the verdict. register.jsonl has all that is "
        f"known of each joint, a line a joint.{sheets if xlsx else ''}"
    )
    return Section("All numbers", (Paragraph(words),))


def _copies(case: Case) -> dict[str, str]:
    """Return what the command read, as it lies in the report: each in its place beside the case."""
    return {f"{INPUTS}/{name}": text for name, text in case.files.items()}


def _report_files(
    text: str,
    page: Page,
    document: str,
    copies: Mapping[str, str],
    justification: Report | None = None,
    *,
    png: bool,
) -> dict[str, bytes]:
    """Return name and content of each file; ``copies`` are the texts that the command read.

    The justification, where there is one, has the first figure of the page. With ``png`` each
    figure is a PNG file too.
    """
    files = {
        "report.txt": text.encode(),
        "report.html": page_html(page).encode(),
        MARK: document.encode(),
        **{name: copy.encode() for name, copy in copies.items()},
    }
    if justification is not None:
        question = "To be checked and signed" if justification.is_signed else "Not to be signed"
        sheet = Page(question, justification, page.figures[:1], is_sheet=True)
        files["justification.html"] = page_html(sheet).encode()
    for figure in page.figures:
        files[f"{figure.name}.svg"] = figure.svg()
        if png:
            files[f"{figure.name}.png"] = figure.png()
    return files
