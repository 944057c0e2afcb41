"""The tables of a comparison: every event of every alternative, costs, control."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.report.tables.control import control_rows
from preloadmc.report.tables.data_table import DataTable, Row, data_table, without
from preloadmc.report.tables.events import EVENT_COLUMNS, event_rows
from preloadmc.report.tables.input_units import unit_of_input

_COLUMNS = ("alternative", "setting.input", "setting.value", "setting.unit", *EVENT_COLUMNS)
# What has rows of its own.
_EVENTS = ("group", "outcomes", "limits", "acceptance", "not_judged", "securing")


def compare_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield the events of each alternative, then the alternatives, then what control is worth."""
    alternatives = document["alternatives"]
    yield data_table(
        "compare",
        (
            {"alternative": each["name"], "setting": _setting(each["setting"]), **row}
            for each in alternatives
            for row in event_rows(each)
        ),
        _COLUMNS,
    )
    choice = {key: document[key] for key in ("best", "nearest", "not_told_from_best", "meeting")}
    yield data_table("alternatives", (_alternative(each) for each in alternatives))
    yield data_table("best", [choice])
    yield data_table(
        "control",
        (
            {"alternative": name, **row}
            for name, control in document["control"].items()
            for row in control_rows(control)
        ),
    )


def _setting(setting: Row) -> Row:
    return {"input": setting["input"], "value": setting["value"], "unit": _unit(setting)}


def _alternative(each: Row) -> Row:
    setting = {**each["setting"], "unit": _unit(each["setting"])}
    return {**without(each, *_EVENTS), "setting": setting}


def _unit(setting: Row) -> str:
    return unit_of_input(setting["input"])
