"""The tables of a ranking: shares in the variance and in the misses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.report.tables.data_table import DataTable, Row, data_table

_COLUMNS = ("of", "measure", "name", "members", "value", "low", "high", "confidence")


def rank_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield every share in one table, then those of each kind with all that is known of them."""
    ranking = document["ranking"]
    yield data_table("rank", _shares(ranking), _COLUMNS)
    yield from index_tables(ranking)
    yield data_table("misses", miss_rows(ranking["misses"]))
    yield data_table(
        "convergence",
        (
            {"base_samples": part["base_samples"], **row}
            for part in ranking["convergence"]
            for row in part["inputs"]
        ),
    )


def index_tables(ranking: Row) -> Iterator[DataTable]:
    """Yield the indices of the variance, those of pairs, and the Shapley shares."""
    yield data_table("ranking", ranking["inputs"])
    yield data_table("pairs", ranking["pairs"])
    yield data_table("shapley", ranking["shapley"]["inputs"])


def miss_rows(misses: Mapping[str, Row]) -> Iterator[Row]:
    """Yield what dominates the misses of each outcome, or why that cannot be said."""
    for outcome, found in misses.items():
        if not found["inputs"]:
            yield {"outcome": outcome, "note": found["note"]}
        for row in found["inputs"]:
            behind = {key: found[key] for key in ("confidence", "effective_misses", "model_calls")}
            yield {"outcome": outcome, **row, **behind}


def _shares(ranking: Row) -> Iterator[Row]:
    """Yield a row for each share: of what, by which measure, and of which input."""
    shapley = ranking["shapley"]
    sure = {"confidence": ranking["confidence"]}
    for measure in ("first", "total"):
        for row in ranking["inputs"]:
            ends = {"low": row[f"{measure}_low"], "high": row[f"{measure}_high"]}
            cost = {"base_samples": ranking["base_samples"], "model_calls": ranking["model_calls"]}
            yield {**_of(ranking["quantity"], measure, row), **ends, **sure, **cost}
    for row in shapley["inputs"]:
        ends = {"low": row["low"], "high": row["high"]}
        cost = {"samples": shapley["samples"], "model_calls": shapley["model_calls"]}
        yield {**_of(ranking["quantity"], "share", row), **ends, **sure, **cost}
    for outcome, found in ranking["misses"].items():
        for row in found["inputs"]:
            yield {
                **_of(outcome, "share", row),
                "low": row["share_low"],
                "high": row["share_high"],
                **{key: found[key] for key in ("confidence", "effective_misses", "model_calls")},
            }


def _of(what: str, measure: str, row: Row) -> Row:
    return {
        "of": what,
        "measure": measure,
        "name": row["name"],
        "members": row["members"],
        "value": row[measure],
    }
