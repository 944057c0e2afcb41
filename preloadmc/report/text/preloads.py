"""The table of preload: mean, scatter and quantiles of each stage of life."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from preloadmc.report.text.blocks import Table
from preloadmc.units import FORCE, format_number, to_unit


def preload_table(
    title: str, rows: Iterable[tuple[str, Sequence[float]]], system: str = "metric"
) -> Table:
    """Return the table; a row is a stage with its mean, standard deviation and quantiles [N]."""
    unit = FORCE.unit(system)
    return Table(
        (f"{title} [{unit}]", "mean", "s.d.", "1 %", "50 %", "99 %"),
        tuple(
            (name, *(format_number(to_unit(value, unit, FORCE)) for value in values))
            for name, values in rows
        ),
    )
