"""The tables of a run."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.report.tables.control import control_rows
from preloadmc.report.tables.data_table import DataTable, Row, data_table, without
from preloadmc.report.tables.events import EVENT_COLUMNS, event_rows
from preloadmc.report.tables.input_units import unit_of_input
from preloadmc.report.tables.rank import index_tables, miss_rows


def run_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield the events of a run, then what stands behind them."""
    yield data_table("run", event_rows(document), EVENT_COLUMNS)
    yield data_table("preload", _named("stage", document["preload"]))
    yield data_table(
        "loss_budget", _budget(document["loss_budget"]), ("cause", "state", "mean", "sd")
    )
    outcomes = document["outcomes"]
    yield data_table(
        "dominates",
        miss_rows({name: outcome["dominates"] for name, outcome in outcomes.items()}),
    )
    yield data_table("likeliest_miss", _likeliest(outcomes))
    yield data_table(
        "check",
        (
            {"outcome": name, **outcome["check"]}
            for name, outcome in outcomes.items()
            if outcome["check"] is not None
        ),
    )
    if document["control"] is not None:
        yield data_table("control", control_rows(document["control"]))
    if document["ranking"] is not None:
        yield from index_tables(document["ranking"])
    if "group" in document:
        yield from _group_tables(document["group"])
    yield data_table("tests_worth_doing", _tests(document.get("tests_worth_doing", ())))
    if document["acceptance"] is not None:
        accepted = document["acceptance"]["accepted"]["preload"]
        rows = ({**row, "unit": "N"} for row in _named("stage", accepted))
        yield data_table("accepted_preload", rows)
    deterministic = document["deterministic"]
    if deterministic is not None:
        beside = {key: deterministic[key] for key in ("sampled", "unit")}
        rows = ({**approach, **beside} for approach in deterministic["approaches"])
        yield data_table("deterministic", rows)


def _named(column: str, records: Mapping[str, Row]) -> Iterator[Row]:
    return ({column: name, **record} for name, record in records.items())


def _budget(budget: Row) -> Iterator[Row]:
    """Yield where preload goes, from the assembled to the residual one."""
    unit = {"unit": budget["unit"]}
    yield {"cause": "assembled", "mean": budget["assembled"], **unit}
    yield from ({**loss, **unit} for loss in budget["losses"])
    yield {"cause": "rotation", "mean": budget["rotation"], **unit}
    yield {"cause": "residual", "mean": budget["residual"], **unit}


def _likeliest(outcomes: Mapping[str, Row]) -> Iterator[Row]:
    for name, outcome in outcomes.items():
        miss = outcome["likeliest_miss"]
        for item in () if miss is None else miss["inputs"]:
            yield {
                "outcome": name,
                **without(miss, "inputs"),
                **item,
                "unit": unit_of_input(item["name"]),
            }


def _tests(tests: Any) -> Iterator[Row]:
    for each in tests:
        for item in each["inputs"]:
            yield {**without(each, "inputs"), **item}


def _group_tables(group: Row) -> Iterator[DataTable]:
    """Yield what is told of all fasteners together, and of each."""
    events = group["outcomes"]
    yield data_table(
        "group",
        ({"name": name, **without(event, "by_fastener")} for name, event in events.items()),
    )
    yield data_table(
        "by_fastener",
        (
            {"name": name, "fastener": place, **single}
            for name, event in events.items()
            for place, single in enumerate(event["by_fastener"] or (), 1)
        ),
    )
    yield data_table("residual", _fasteners(group, group["residual"]))
    yield data_table(
        "passes",
        (
            {"pass": each["pass"], **row, "spread": each["spread"]}
            for each in group["passes"]
            for row in _fasteners(group, each["preload"])
        ),
    )
    yield data_table("orders", group["orders"])
    yield data_table("in_common", _named("name", group["in_common"]))
    yield data_table("lots", () if group["lots"] is None else [group["lots"]])


def _fasteners(group: Row, quantiles: Mapping[str, list[float]]) -> Iterator[Row]:
    """Yield quantiles by fastener, with its position [mm] where there is one."""
    for place in range(group["fasteners"]):
        where = group["positions"]
        position = {} if where is None else dict(zip("xy", where[place], strict=True))
        yield {
            "fastener": place + 1,
            **({"position": {**position, "unit": "mm"}} if position else {}),
            **{name: values[place] for name, values in quantiles.items()},
            "unit": group["unit"],
        }
