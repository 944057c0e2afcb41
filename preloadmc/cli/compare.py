"""`preloadmc compare`: which method, tool, lubricant or securing element?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_as_found, load_case
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
from preloadmc.cli.terminal import Shown
from preloadmc.questions.compare import asked, compare
from preloadmc.report.documents.compare import compare_document, compare_mark
from preloadmc.report.folder import INPUTS
from preloadmc.report.text.compare import compare_text
from preloadmc.report.text.screens import compare_screen


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
@click.option(
    "--from",
    "found",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Compare with the joint as found by an investigation: the folder of its report.",
)
@threads_option
@units_option
def command(
    case: Path,
    outputs: Outputs,
    seed: int | None,
    precision: float | None,
    at_best: bool,
    found: Path | None,
    threads: int | None,
    units: str | None,
) -> None:
    """Compare CASE with its [[alternative]] tables on the same sampled fasteners.

    With --from, the first to beat is the joint as found by `preloadmc infer`, and of CASE only the
    [[alternative]] tables count. The file as_found.toml in that folder is a CASE too: it holds the
    alternatives of the case that was investigated.

    Example: preloadmc compare cases/tool_choice.toml --out reports/tool_choice
    """
    loaded = load_case(case) if found is None else load_as_found(found, case, INPUTS)
    outputs.check(
        loaded, compare_mark(loaded, *asked(loaded, seed, precision), at_best=at_best), (case,)
    )
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

        return compare_files(result, document, system, command, png=outputs.png)

    outputs.deliver(
        loaded,
        Shown(compare_screen(result, system), lambda: compare_text(result, system)),
        compare_document(result),
        files,
    )
