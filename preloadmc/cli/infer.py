"""`preloadmc infer`: why did they come loose?"""

from __future__ import annotations

from pathlib import Path

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
from preloadmc.cli.progress import progress_bar
from preloadmc.cli.terminal import quiet_option, show_report
from preloadmc.questions.infer import infer
from preloadmc.report.document import as_json
from preloadmc.report.folder import check_folder, write_folder
from preloadmc.report.infer_document import infer_document, infer_mark
from preloadmc.report.infer_text import infer_text


@click.command("infer", epilog=EPILOG)
@case_argument
@json_option
@out_option
@overwrite_option
@seed_option
@click.option("--pairs", is_flag=True, help="Suspect two causes at once as well as one.")
@units_option
@quiet_option
def command(
    case: Path,
    json_file: str | None,
    out: Path | None,
    overwrite: bool,
    seed: int | None,
    pairs: bool,
    units: str | None,
) -> None:
    """Weigh the suspects of CASE by its evidence: why did the joints come loose?

    Example: preloadmc infer cases/loosened_cover.toml --out reports/loosened_cover
    """
    loaded = load_case(case)
    check_json_file(json_file, overwrite)
    if out is not None:
        given = loaded.sampling.seed if seed is None else seed
        check_folder(out, infer_mark(loaded, given, pairs), overwrite)
    with progress_bar("weighing") as progress:
        result = infer(loaded, seed=seed, pairs=pairs, progress=progress)
    system = units or loaded.unit_system
    document = as_json(infer_document(result))
    if out is not None:
        from preloadmc.report.infer_folder import infer_files

        write_folder(out, infer_files(result, document, system, repeated()))
    if json_file is not None:
        write_json(json_file, document)
    show_report(infer_text(result, system), json_file, out)
