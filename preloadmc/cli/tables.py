"""`preloadmc tables`: the shipped tables, each row with its source."""

from __future__ import annotations

import click

from preloadmc.cli.options import EPILOG
from preloadmc.cli.terminal import say
from preloadmc.report.text.shipped_tables import TABLES, shipped_table


@click.command("tables", epilog=EPILOG)
@click.argument("names", nargs=-1, type=click.Choice(list(TABLES)))
@click.option(
    "--units",
    type=click.Choice(["metric", "inch"]),
    default="metric",
    help="Units of the tables.",
    show_default=True,
)
def command(names: tuple[str, ...], units: str) -> None:
    """Print shipped tables by name, all unless named.

    Among them are threads, strengths, frictions, scatter, securing elements, tightening methods,
    kinds of field evidence and suspects of loosened joints.

    Example: preloadmc tables scatter embedding
    """
    say("\n".join(shipped_table(name, units) for name in names or TABLES))
