"""`preloadmc rank`: whose scatter makes the scatter of preload?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    case_argument,
    check_json_file,
    json_option,
    overwrite_option,
    seed_option,
    write_json,
)
from preloadmc.questions.rank import rank
from preloadmc.report.document import as_json, rank_document
from preloadmc.report.rank_text import rank_text


@click.command("rank", epilog=EPILOG)
@case_argument
@json_option
@overwrite_option
@seed_option
def command(case: Path, json_file: str | None, overwrite: bool, seed: int | None) -> None:
    """Rank the inputs of CASE by their share in the scatter of the residual preload.

    Example: preloadmc rank cases/sensor_lid.toml
    """
    loaded = load_case(case)
    check_json_file(json_file, overwrite)
    result = rank(loaded, seed=seed)
    if json_file is not None:
        write_json(json_file, as_json(rank_document(result)))
    if json_file != "-":
        click.echo(rank_text(result), nl=False)
