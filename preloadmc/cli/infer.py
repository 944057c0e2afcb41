"""`preloadmc infer`: why did they come loose?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    case_argument,
    seed_option,
    units_option,
)
from preloadmc.cli.outputs import Outputs, output_options
from preloadmc.cli.progress import progress_bar
from preloadmc.cli.terminal import Shown
from preloadmc.questions.infer import infer
from preloadmc.report.documents.infer import infer_document, infer_mark
from preloadmc.report.text.infer import infer_text
from preloadmc.report.text.screens import infer_screen


@click.command("infer", epilog=EPILOG)
@case_argument
@output_options
@seed_option
@units_option
def command(
    case: Path,
    outputs: Outputs,
    seed: int | None,
    units: str | None,
) -> None:
    """Weigh the suspects of CASE by its evidence: why did the joints come loose?

    Example: preloadmc infer cases/loosened_cover.toml --out reports/loosened_cover
    """
    loaded = load_case(case)
    seed = loaded.sampling.seed if seed is None else seed
    outputs.check(loaded, infer_mark(loaded, seed))
    with progress_bar("weighing") as progress:
        result = infer(loaded, seed=seed, progress=progress)
    system = units or loaded.unit_system

    def files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import infer_files

        return infer_files(result, document, system, command, png=outputs.png)

    outputs.deliver(
        loaded,
        Shown(infer_screen(result, system), lambda: infer_text(result, system)),
        infer_document(result),
        files,
    )
