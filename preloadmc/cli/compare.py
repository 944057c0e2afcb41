"""`preloadmc compare`: which method, tool, lubricant or securing element?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    Share,
    case_argument,
    check_json_file,
    json_option,
    out_option,
    overwrite_option,
    repeated,
    seed_option,
    threads_option,
    units_option,
    write_json,
)
from preloadmc.cli.progress import progress_bar
from preloadmc.cli.terminal import quiet_option, show_report
from preloadmc.questions.compare import asked, compare
from preloadmc.report.compare_document import compare_document, compare_mark
from preloadmc.report.compare_text import compare_text
from preloadmc.report.document import as_json
from preloadmc.report.folder import check_folder, write_folder


@click.command("compare", epilog=EPILOG)
@case_argument
@json_option
@out_option
@overwrite_option
@seed_option
@click.option(
    "--precision",
    type=Share(),
    help="Sample until the half width of each interval is this share of its probability.",
)
@threads_option
@units_option
@quiet_option
def command(
    case: Path,
    json_file: str | None,
    out: Path | None,
    overwrite: bool,
    seed: int | None,
    precision: float | None,
    threads: int | None,
    units: str | None,
) -> None:
    """Compare CASE with its [[alternative]] tables on the same sampled joints.

    Example: preloadmc compare cases/tool_choice.toml --out reports/tool_choice
    """
    loaded = load_case(case)
    check_json_file(json_file, overwrite)
    if out is not None:
        check_folder(out, compare_mark(loaded, *asked(loaded, seed, precision)), overwrite)
    with progress_bar("comparing") as progress:
        result = compare(loaded, seed=seed, precision=precision, threads=threads, progress=progress)
    system = units or loaded.unit_system
    document = as_json(compare_document(result))
    if out is not None:
        from preloadmc.report.compare_folder import compare_files

        write_folder(out, compare_files(result, document, system, repeated()))
    if json_file is not None:
        write_json(json_file, document)
    show_report(compare_text(result, system), json_file, out)
