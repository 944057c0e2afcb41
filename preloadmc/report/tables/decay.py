"""The tables of what vibration tests say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.report.tables.data_table import DataTable, data_table, without


def decay_tables(document: Mapping[str, Any]) -> Iterator[DataTable]:
    """Yield a row for each element and number of cycles, and then the rest."""
    elements = document["elements"]
    yield data_table(
        "decay",
        (
            {"element": each["element"], **without(row, "shares", "ended_before")}
            for each in elements
            for row in each["remaining"]
        ),
    )
    yield data_table(
        "shares",
        (
            {"element": each["element"], "cycles": row["cycles"], "test": test, "share": share}
            for each in elements
            for row in each["remaining"]
            for test, share in row["shares"].items()
        ),
    )
    for part in ("ratings", "phases", "tests"):
        rows = ({"element": each["element"], **row} for each in elements for row in each[part])
        yield data_table(part, rows)
    for name, part in (("lifetimes", "cycles"), ("laws", "laws"), ("quantiles", "quantiles")):
        yield data_table(
            name,
            (
                {"element": each["element"], **row}
                for each in elements
                for row in each["lifetime"][part]
            ),
        )
    yield data_table("differences", document["differences"])
