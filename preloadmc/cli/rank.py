"""`preloadmc rank`: whose scatter makes the scatter of preload, and whose the misses?"""

from __future__ import annotations

from pathlib import Path
from time import perf_counter

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    case_argument,
    check_json_file,
    json_option,
    out_option,
    overwrite_option,
    repeated,
    seed_option,
    units_option,
    write_json,
)
from preloadmc.cli.terminal import quiet_option, show_report
from preloadmc.questions.rank import RESIDUAL, rank
from preloadmc.report.document import as_json
from preloadmc.report.folder import check_folder, write_folder
from preloadmc.report.rank_document import rank_document, rank_mark
from preloadmc.report.rank_text import rank_text


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
@json_option
@out_option
@overwrite_option
@seed_option
@units_option
@quiet_option
def command(
    case: Path,
    of: str,
    groups: tuple[str, ...],
    second_order: bool,
    convergence: bool,
    json_file: str | None,
    out: Path | None,
    overwrite: bool,
    seed: int | None,
    units: str | None,
) -> None:
    """Rank the inputs of CASE by their share in the scatter of preload and in the misses.

    Example: preloadmc rank cases/sensor_lid.toml --group friction
    """
    loaded = load_case(case)
    check_json_file(json_file, overwrite)
    seed = loaded.sampling.seed if seed is None else seed
    if out is not None:
        mark = rank_mark(
            loaded,
            seed,
            of=of,
            groups=groups,
            second_order=second_order,
            convergence=convergence,
        )
        check_folder(out, mark, overwrite)
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
    document = as_json(rank_document(result))
    if out is not None:
        from preloadmc.report.rank_folder import rank_files

        write_folder(out, rank_files(result, document, system, repeated()))
    if json_file is not None:
        write_json(json_file, document)
    show_report(rank_text(result, system, seconds), json_file, out)
