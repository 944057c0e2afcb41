"""The tables of a fit of tests, and of the plan of a claim."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.report.tables.data_table import DataTable, data_table, without

# What has a table of its own, or stands in the case file.
_LISTS = ("laws", "claims", "groups")
_RECORDS = ("lots", "drift", "farthest", "capability", "case")


def fit_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield a row for each quantity, or for each number of tests of a plan, and then the rest."""
    if "quantities" not in document:
        plan = {key: document[key] for key in ("content", "confidence")}
        yield data_table("fit", ({**plan, **row} for row in document["by_count"]))
        yield data_table("by_normal_law", document["by_normal_law"])
        return
    fits = document["quantities"]
    yield data_table("fit", (without(each, *_LISTS, *_RECORDS, "tests_case") for each in fits))
    for part in _LISTS:
        yield data_table(
            part,
            (
                {"quantity": each["name"], "unit_inside": each["unit_inside"], **row}
                for each in fits
                for row in each[part]
            ),
        )
    for part in _RECORDS:
        yield data_table(
            part,
            (
                {"quantity": each["name"], "unit_inside": each["unit_inside"], **each[part]}
                for each in fits
                if each[part] is not None
            ),
        )
    correlation = document["friction_correlation"]
    yield data_table("friction_correlation", () if correlation is None else [correlation])
    yield data_table("not_fitted", document["not_fitted"])
