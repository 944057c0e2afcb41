"""`preloadmc rank`: whose scatter makes the scatter of preload, and whose the misses?"""

from __future__ import annotations

from pathlib import Path
from time import perf_counter

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    case_argument,
    seed_option,
    units_option,
)
from preloadmc.cli.outputs import Outputs, output_options
from preloadmc.cli.terminal import Shown
from preloadmc.questions.rank import RESIDUAL, rank
from preloadmc.report.documents.rank import rank_document, rank_mark
from preloadmc.report.text.rank import rank_text
from preloadmc.report.text.screens import rank_screen


@click.command("rank", epilog=EPILOG)
@case_argument
@click.option(
    "--of",
    default=RESIDUAL,
    metavar="QUANTITY",
    show_default=True,
    help="Whose variance: residual or assembled preload, a state, or a limit by name.",
)
@click.option(
    "--group",
    "groups",
    multiple=True,
    metavar="NAME",
    help="Rank a group of inputs as one: friction, tool, settling, temperature, ... Repeatable.",
)
@click.option("--second-order", is_flag=True, help="Find which pairs act together.")
@click.option("--convergence", is_flag=True, help="Show how the indices settle.")
@output_options
@seed_option
@units_option
def command(
    case: Path,
    of: str,
    groups: tuple[str, ...],
    second_order: bool,
    convergence: bool,
    outputs: Outputs,
    seed: int | None,
    units: str | None,
) -> None:
    """Rank the inputs of CASE by their share in the scatter of preload and in the misses.

    Example: preloadmc rank cases/sensor_lid.toml --group friction
    """
    loaded = load_case(case)
    seed = loaded.sampling.seed if seed is None else seed
    outputs.check(
        loaded,
        rank_mark(
            loaded,
            seed,
            of=of,
            groups=groups,
            second_order=second_order,
            convergence=convergence,
        ),
    )
    start = perf_counter()
    result = rank(
        loaded,
        seed=seed,
        of=of,
        groups=groups,
        second_order=second_order,
        convergence=convergence,
    )
    seconds = perf_counter() - start
    system = units or loaded.unit_system

    def files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import rank_files

        return rank_files(result, document, system, command, png=outputs.png)

    outputs.deliver(
        loaded,
        Shown(rank_screen(result), lambda: rank_text(result, system, seconds)),
        rank_document(result),
        files,
    )
