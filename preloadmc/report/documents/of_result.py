"""The JSON document of any result, its table as a data frame, and its part of a notebook."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from preloadmc.errors import PreloadError
from preloadmc.questions.aim import AimResult
from preloadmc.questions.compare import CompareResult
from preloadmc.questions.decay import DecayResult
from preloadmc.questions.fit import FitResult
from preloadmc.questions.infer import InferResult
from preloadmc.questions.rank import RankResult
from preloadmc.questions.run import RunResult
from preloadmc.questions.survey import SurveyResult
from preloadmc.report.documents.aim import aim_document
from preloadmc.report.documents.compare import compare_document
from preloadmc.report.documents.decay import decay_document
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.fit import fit_document
from preloadmc.report.documents.infer import infer_document
from preloadmc.report.documents.page import notebook_html
from preloadmc.report.documents.rank import rank_document
from preloadmc.report.documents.run import run_document
from preloadmc.report.documents.survey import survey_document
from preloadmc.report.tables.result_tables import result_tables
from preloadmc.report.tables.survey import register_table
from preloadmc.report.text.aim import aim_report
from preloadmc.report.text.blocks import Report
from preloadmc.report.text.compare import compare_report
from preloadmc.report.text.decay import decay_report
from preloadmc.report.text.fit import fit_report
from preloadmc.report.text.infer import infer_report
from preloadmc.report.text.rank import rank_report
from preloadmc.report.text.run import run_report
from preloadmc.report.text.survey import survey_report
from preloadmc.results import Result

if TYPE_CHECKING:
    from pandas import DataFrame

_DOCUMENTS: dict[type[Result], Callable[[Any], dict[str, Any]]] = {
    RunResult: run_document,
    RankResult: rank_document,
    AimResult: aim_document,
    CompareResult: compare_document,
    InferResult: infer_document,
    FitResult: fit_document,
    DecayResult: decay_document,
    SurveyResult: survey_document,
}
_REPORTS: dict[type[Result], Callable[[Any], Report]] = {
    RunResult: lambda result: run_report(result, result.case.unit_system),
    RankResult: lambda result: rank_report(result, result.case.unit_system),
    AimResult: aim_report,
    CompareResult: lambda result: compare_report(result, result.case.unit_system),
    InferResult: lambda result: infer_report(result, result.case.unit_system),
    FitResult: fit_report,
    DecayResult: decay_report,
    SurveyResult: survey_report,
}


def result_document(result: Result) -> dict[str, Any]:
    """Return the JSON document of a result as it is read from its text."""
    document: dict[str, Any] = json.loads(as_json(_DOCUMENTS[type(result)](result)))
    return document


def result_frame(result: Result) -> DataFrame:
    """Return the first table of a result as a data frame; PreloadError without pandas."""
    try:
        from pandas import DataFrame
    except ImportError as error:
        raise PreloadError("a data frame needs pandas: pip install pandas") from error
    if isinstance(result, SurveyResult):
        # Its rows are not in its document.
        table = register_table(result)
    else:
        table = result_tables(result_document(result), None)[0]
    rows = [[math.nan if cell is None else cell for cell in row] for row in table.rows]
    return DataFrame(rows, columns=list(table.columns))


def result_html(result: Result) -> str:
    """Return the answer and first tables of a result, in the units of its thread."""
    return notebook_html(_REPORTS[type(result)](result))
