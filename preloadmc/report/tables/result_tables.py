"""The tables of a JSON document: first one row for each event, then what stands behind it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from preloadmc.case import Case
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import input_label
from preloadmc.report.tables.aim import aim_tables
from preloadmc.report.tables.compare import compare_tables
from preloadmc.report.tables.data_table import DataTable, Row, data_table, flat
from preloadmc.report.tables.decay import decay_tables
from preloadmc.report.tables.fit import fit_tables
from preloadmc.report.tables.infer import infer_tables
from preloadmc.report.tables.input_units import unit_of_input
from preloadmc.report.tables.rank import rank_tables
from preloadmc.report.tables.run import run_tables
from preloadmc.report.text.laws import law_words

Document = Mapping[str, Any]
_TABLES: Mapping[str, Callable[[Document], Iterator[DataTable]]] = {
    "run": run_tables,
    "rank": rank_tables,
    "aim": aim_tables,
    "compare": compare_tables,
    "infer": infer_tables,
    "fit": fit_tables,
    "decay": decay_tables,
}
# What a document says once, of all that it holds.
_LISTS = ("answer", "warnings", "cautions")


def result_tables(document: Document, case: Case | None) -> tuple[DataTable, ...]:
    """Return the tables of a result: first the tidy one, then the others that are not empty.

    Parameters
    ----------
    document : mapping
        The JSON document, as it is read from its text.
    case : Case, optional
        Whose inputs have a table too; a fit of tests has none.

    Returns
    -------
    tuple of DataTable
        The columns are named as the keys of the document; keys within keys are joined by dots.
    """
    first, *others = _TABLES[document["question"]](document)
    if case is not None:
        others.append(data_table("inputs", _inputs(case)))
    others.append(data_table("assumptions", document.get("assumptions", ())))
    return (first, *(table for table in others if table.rows), _about(document))


def _inputs(case: Case) -> Iterator[Row]:
    """Yield every input with its law, in the unit inside the program and in words."""
    for name, law in case.laws.items():
        best = law.best_estimate()
        yield {
            "name": name,
            "label": input_label(name),
            "law": best.kind,
            "mean": float(best.mean),
            "sd": float(best.sd),
            "unit": unit_of_input(name),
            "words": law_words(name, law),
            "tests": law.source if isinstance(law, Tested) else None,
        }


def _about(document: Document) -> DataTable:
    """Return what the document says once, in two columns."""
    said: list[Row] = []
    for key, value in document.items():
        if key in _LISTS:
            said += [{"key": key, "value": each} for each in value]
        elif not isinstance(value, Mapping | list):
            said.append({"key": key, "value": value})
    for key in ("asked", "capability"):
        within = flat(document.get(key) or {}, f"{key}.")
        said += [{"key": path, "value": value} for path, value in within.items()]
    return data_table("about", said)
