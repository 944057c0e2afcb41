"""The table of preload: mean, scatter and quantiles of each stage of life."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from preloadmc.estimates.moments import Quantile
from preloadmc.report.text.blocks import Table
from preloadmc.report.text.rank import plus_minus
from preloadmc.units import FORCE, format_number, to_unit

SHOWN = (0.01, 0.5, 0.99)


def preload_table(
    title: str,
    rows: Iterable[tuple[str, float, float, Sequence[Quantile]]],
    system: str = "metric",
) -> Table:
    """Return the table; a row is a stage with its mean, standard deviation and quantiles [N].

    Quantiles have the half width of their 95 % interval, on its wider side.
    """
    unit = FORCE.unit(system)

    def words(value: float) -> str:
        return format_number(to_unit(value, unit, FORCE))

    def with_interval(quantile: Quantile) -> str:
        half = max(quantile.value - quantile.low, quantile.high - quantile.value)
        if half == 0.0:
            return words(quantile.value)
        if half == math.inf:
            return f"{words(quantile.value)} (open)"
        return plus_minus(to_unit(quantile.value, unit, FORCE), to_unit(half, unit, FORCE))

    return Table(
        (f"{title} [{unit}]", "mean", "s.d.", "1 %", "50 %", "99 %"),
        tuple(
            (
                name,
                words(mean),
                words(sd),
                *(with_interval(each) for each in quantiles if each.p in SHOWN),
            )
            for name, mean, sd, quantiles in rows
        ),
    )
