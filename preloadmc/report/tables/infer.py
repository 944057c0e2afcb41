"""The tables of an investigation: suspects, how each fits, findings, what to measure next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.evidence import READINGS
from preloadmc.questions.infer import MEAN, SPREAD
from preloadmc.report.tables.data_table import DataTable, Row, data_table, without
from preloadmc.report.tables.input_units import unit_of_input

# Figures of findings that have the unit of their kind; the others are shares and likelihoods.
_MEASURED = (MEAN, SPREAD)


def infer_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield a row for each suspect, then what stands behind them."""
    suspects = document["suspects"]
    yield data_table("infer", map(_suspect, suspects))
    yield data_table(
        "fit",
        (
            {"suspect": each["name"], **row, "unit": _unit(row["finding"])}
            for each in suspects
            for row in each["fit"]
        ),
    )
    yield data_table(
        "laws_after",
        (
            {"suspect": each["name"], **row, "unit": unit_of_input(row["name"])}
            for each in suspects
            for row in each["inputs"]
        ),
    )
    evidence = document["evidence"]
    yield data_table("evidence", ({**each, "unit": _unit(each)} for each in evidence["findings"]))
    yield data_table("counts", evidence["counts"])
    measurements = document["next_measurements"]
    yield data_table("next_measurements", ({**each, "unit": _unit(each)} for each in measurements))
    other = document["other_cause"]
    yield data_table("other_cause", [without(other, "unnamed_suspects")])
    yield data_table("unnamed_suspects", other["unnamed_suspects"])


def _suspect(suspect: Row) -> Row:
    """Return a suspect without what has tables of its own; with the unit of what is oddest."""
    check = suspect["fit_check"]
    if check is not None:
        oddest = check["oddest"]
        unit = _unit(oddest) if oddest["figure"] in _MEASURED else None
        check = {**check, "oddest": {**oddest, "unit": unit}}
    return {**without(suspect, "fit", "inputs"), "fit_check": check}


def _unit(finding: Row) -> str | None:
    """Return the unit of a reading; None for what is seen or counted."""
    kind = READINGS.get(finding.get("kind", ""))
    return None if kind is None else kind.dimension.internal
