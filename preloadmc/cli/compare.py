"""`preloadmc compare`: which method, tool, lubricant or securing element?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    Share,
    case_argument,
    seed_option,
    threads_option,
    units_option,
)
from preloadmc.cli.outputs import Outputs, output_options
from preloadmc.cli.progress import progress_bar
from preloadmc.questions.compare import asked, compare
from preloadmc.report.documents.compare import compare_document, compare_mark
from preloadmc.report.text.compare import compare_text


@click.command("compare", epilog=EPILOG)
@case_argument
@output_options
@seed_option
@click.option(
    "--precision",
    type=Share(),
    help="Sample until the half width of each interval is this share of its probability.",
)
@click.option(
    "--aim",
    "at_best",
    is_flag=True,
    help="Use each alternative at its own best setting instead of the one it states.",
)
@threads_option
@units_option
def command(
    case: Path,
    outputs: Outputs,
    seed: int | None,
    precision: float | None,
    at_best: bool,
    threads: int | None,
    units: str | None,
) -> None:
    """Compare CASE with its [[alternative]] tables on the same sampled fasteners.

    Example: preloadmc compare cases/tool_choice.toml --out reports/tool_choice
    """
    loaded = load_case(case)
    outputs.check(loaded, compare_mark(loaded, *asked(loaded, seed, precision), at_best=at_best))
    with progress_bar("comparing") as progress:
        result = compare(
            loaded,
            seed=seed,
            precision=precision,
            at_best=at_best,
            threads=threads,
            progress=progress,
        )
    system = units or loaded.unit_system

    def files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import compare_files

        return compare_files(result, document, system, command)

    outputs.deliver(loaded, compare_text(result, system), compare_document(result), files)
