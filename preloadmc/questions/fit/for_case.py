"""The lines that take a fitted law into a case file."""

from __future__ import annotations

from typing import Any

from preloadmc.case_file.toml_text import inline_toml
from preloadmc.chance.laws import Weibull
from preloadmc.questions.fit.answer import has_cov
from preloadmc.questions.fit.derived import TOOL_ERROR
from preloadmc.questions.fit.records import FitResult, Measured, QuantityFit
from preloadmc.units import TEMPERATURE, format_number

# The table of a report folder with what follows from several columns.
DERIVED = "derived.csv"
# Digits that reading back changes no result.
_DIGITS = 6


def summary_table(fit: QuantityFit) -> dict[str, Any]:
    """Return the law of a quantity as a table of a case file, which needs no other file."""
    measured, law = fit.measured, fit.chosen.fit.law
    table: dict[str, Any] = {"law": law.kind}
    if isinstance(law, Weibull):
        table["shape"] = _number(law.shape)
        table["scale"] = _quantity(measured, law.scale)
    else:
        table["mean"] = _quantity(measured, law.mean)
        if has_cov(measured):
            table["cov"] = f"{format_number(100.0 * law.sd / law.mean, _DIGITS)} %"
        else:
            table["sd"] = _width(measured, law.sd)
    table["tests"] = measured.n
    return table


def file_table(result: FitResult, fit: QuantityFit) -> dict[str, Any] | None:
    """Return the law of a quantity as the tests themselves, in a file beside the case file.

    That is the file of tests, or the table of a report folder for what follows from several
    columns; None for the error of a tool.
    """
    measured = fit.measured
    if measured.name == TOOL_ERROR:
        return None
    derived = bool(measured.source)
    table: dict[str, Any] = {
        "tests": DERIVED if derived else result.file.name,
        "column": measured.name,
        "law": fit.chosen.law,
    }
    if result.question.where and not derived:
        table["where"] = dict(result.question.where)
    if result.lot is not None:
        table["lot"] = result.lot
    return table


def case_lines(result: FitResult, fit: QuantityFit) -> str:
    """Return the lines to paste into a case file, the other way to state them as a comment."""
    kind = fit.measured.input
    section, _, key = ("", "", "") if kind is None else kind.name.partition(".")
    before = f"{key} = " if key else ""
    lines = [f"[{section}]"] if section else []
    summary = f"{before}{inline_toml(summary_table(fit))}"
    tests = file_table(result, fit)
    if tests is None:
        return "\n".join([*lines, summary])
    whole = f"{before}{inline_toml(tests)}"
    beside = f", with {DERIVED} (--out)" if fit.measured.source else ""
    if result.lot is None:
        lines += [summary, f"# or{beside}: {whole}"]
    elif fit.measured.source:
        lines += [summary, f"# this leaves out how lots differ, which is kept{beside} by: {whole}"]
    else:
        lines += [whole, f"# or, without what lots differ by: {summary}"]
    return "\n".join(lines)


def _number(value: float) -> float:
    return float(format_number(value, _DIGITS))


def _quantity(measured: Measured, value: float) -> float | str:
    number = format_number(measured.number(value), _DIGITS)
    return f"{number} {measured.unit}" if measured.unit else float(number)


def _width(measured: Measured, value: float) -> float | str:
    number = format_number(measured.width(value), _DIGITS)
    unit = measured.unit
    if measured.dimension is TEMPERATURE:  # a difference has no zero of a scale
        unit = "K" if unit != "degF" else unit
    return f"{number} {unit}" if unit else float(number)
