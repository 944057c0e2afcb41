"""The joints of a survey as files: a row a joint, ranked by risk, streamed."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from preloadmc.engine import OUTCOMES
from preloadmc.inputs import input_kind
from preloadmc.questions.survey import ANY_LIMIT, Document, SurveyResult
from preloadmc.report.tables.data_table import Cell, DataTable, data_table
from preloadmc.report.tables.spreadsheet import csv_cell, streamed_workbook
from preloadmc.report.text.survey_rows import (
    SurveyRows,
    dominating,
    known_numbers,
    problem_words,
    survey_rows,
    worst_limit,
)
from preloadmc.units import Dimension, to_unit

_HEAD = ("rank", "joint", "line", "case", "lot", "tool", "notes", "status", "verdict")
_SETTING = ("setting.input", "setting.value", "setting.unit")
_EVENT = ("probability", "low", "high", "allowed", "verdict")
_BAND = "band.upper"
_OF_GROUP = ("any_under", "any_over", "any_outside")
_WORST = ("limit", "state", "probability", "high", "allowed", "verdict")
_SIDES = ("under_preload", "over_preload")
_BEST = ("to_set", "verdict", "probability", "high")
# Bytes that are handed on at once, about.
_PIECE = 1 << 16


def register_columns(result: SurveyResult, rows: SurveyRows) -> tuple[str, ...]:
    """Return the columns of the table of joints; those that no row fills are left out."""
    event = (*_EVENT[:3], _BAND, *_EVENT[3:]) if rows.with_band else _EVENT
    group = [f"group.{name}" for name in _OF_GROUP] if rows.with_group else []
    return (
        *_HEAD,
        *_SETTING,
        *(f"{name}.{key}" for name in OUTCOMES for key in event),
        *(f"{name}.{key}" for name in group for key in event),
        *(f"{ANY_LIMIT}.{key}" for key in _EVENT[:3]),
        *(f"worst_limit.{key}" for key in _WORST),
        "other_limits",
        *(f"dominates.{side}" for side in _SIDES),
        *(f"best_setting.{key}" for key in _BEST if result.aimed),
        "together",
        "reliable",
        "problems",
    )


def register_rows(
    result: SurveyResult, system: str = "metric", rows: SurveyRows | None = None
) -> Iterator[dict[str, Cell]]:
    """Yield the cells of each row of a register by column, those at highest risk first.

    Probabilities are shares; settings are in the unit beside them. A row that was not judged has
    its problems in words, and no rank. Where an estimate is not reliable, its numbers are those of
    plain samples.
    """
    columns = register_columns(result, survey_rows(result) if rows is None else rows)
    for rank, row in enumerate(result.rows(), 1):
        cells = _cells(row, rank, system)
        yield {name: cells.get(name) for name in columns}


def _cells(row: Document, rank: int, system: str) -> dict[str, Cell]:
    notes = [f"{name}: {text}" for name, text in row["notes"].items()]
    cells: dict[str, Cell] = {
        **{name: row[name] for name in ("joint", "line", "case", "lot", "tool", "status")},
        "notes": "; ".join(notes),
        "problems": "; ".join(problem_words(row)) if "problems" in row else "",
    }
    if row["status"] != "judged":
        return cells
    setting = row["setting"]
    dimension = input_kind(setting["input"]).dimension
    unit = dimension.unit(system)
    worst = worst_limit(row)
    events = {**row["outcomes"]}
    for name in _OF_GROUP:
        event = row.get("group", {"outcomes": {}})["outcomes"].get(name)
        if event is not None:
            events[f"group.{name}"] = event
    cells |= {
        "rank": rank,
        "verdict": row["verdict"],
        "setting.input": setting["input"],
        "setting.value": _shown(setting["value"], unit, dimension),
        "setting.unit": unit,
        **{key: cell for name, event in events.items() for key, cell in _event(name, event)},
        **{f"{ANY_LIMIT}.{key}": cell for key, cell in row[ANY_LIMIT].items()},
        "other_limits": 0 if worst is None else worst.more,
        **{f"dominates.{side}": dominating(row, side) for side in _SIDES},
        "together": row["together"],
        "reliable": all(each.get("reliable", True) for each in events.values()),
    }
    if worst is not None:
        named = dict(_event("worst_limit", worst.event))
        cells |= named | {"worst_limit.limit": worst.name, "worst_limit.state": worst.state}
    best = row.get("best_setting")
    if best is not None:
        to_set = best["to_set"]
        cells |= {
            "best_setting.to_set": None if to_set is None else _shown(to_set, unit, dimension),
            "best_setting.verdict": best["verdict"],
            "best_setting.probability": best["probability"],
            "best_setting.high": best["high"],
        }
    return cells


def _shown(value: float, unit: str, dimension: Dimension) -> float:
    """Return a setting in its unit without the last digits, which conversion makes."""
    return float(f"{to_unit(value, unit, dimension):.12g}")


def _event(name: str, event: Mapping[str, Any]) -> Iterator[tuple[str, Cell]]:
    numbers = dict(zip(("probability", "low", "high"), known_numbers(event), strict=True))
    found = {**numbers, "allowed": event["allowed"], "verdict": event["verdict"]}
    if "band" in event:
        found[_BAND] = event["band"]["upper"]
    return ((f"{name}.{key}", cell) for key, cell in found.items())


def register_table(result: SurveyResult, system: str = "metric") -> DataTable:
    """Return the table of joints whole, for a data frame."""
    rows = survey_rows(result)
    columns = register_columns(result, rows)
    cells = tuple(tuple(each.values()) for each in register_rows(result, system, rows))
    return DataTable("joints", columns, cells)


def register_csv(
    result: SurveyResult, system: str = "metric", rows: SurveyRows | None = None
) -> Iterator[bytes]:
    """Yield the pieces of a CSV file (RFC 4180, UTF-8); a formula-like text comes after a '."""
    rows = survey_rows(result) if rows is None else rows
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(map(csv_cell, register_columns(result, rows)))
    for cells in register_rows(result, system, rows):
        writer.writerow(map(csv_cell, cells.values()))
        if text.tell() >= _PIECE:
            yield text.getvalue().encode()
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode()


def register_jsonl(result: SurveyResult) -> Iterator[bytes]:
    """Yield each row as a line of JSON, those at highest risk first."""
    for row in result.rows():
        yield (json.dumps(row, ensure_ascii=False) + "\n").encode(errors="backslashreplace")


def register_xlsx(
    result: SurveyResult,
    document: dict[str, Any],
    system: str = "metric",
    rows: SurveyRows | None = None,
) -> Iterator[bytes]:
    """Yield the pieces of a workbook: joints, changes, lots and tools; rows are not kept.

    Parameters
    ----------
    result : SurveyResult
        A survey.
    document : dict
        That of the survey, which has changes and parts.
    system : {"metric", "inch"}
        Whose units settings are in.
    rows : SurveyRows, optional
        What `survey_rows` gathered; done here unless given.
    """
    rows = survey_rows(result) if rows is None else rows
    joints = (tuple(each.values()) for each in register_rows(result, system, rows))
    sheets: list[tuple[str, tuple[str, ...], Iterable[tuple[Cell, ...]]]] = [
        ("joints", register_columns(result, rows), joints)
    ]
    for name, key in (("changes", "changes"), ("lots and tools", "parts")):
        table = data_table(name, document[key])
        sheets.append((table.name, table.columns, table.rows))
    return streamed_workbook(sheets)


def register_table_file(file: Path, result: SurveyResult, system: str = "metric") -> bytes:
    """Return the table of joints as a file of the kind that its name says, .csv or .xlsx."""
    if file.suffix.lower() == ".xlsx":
        return b"".join(register_xlsx(result, result.to_dict(), system))
    return b"".join(register_csv(result, system))
