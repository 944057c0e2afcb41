"""`preloadmc schema`: the JSON Schema of the case file, for editors."""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file.schema import case_schema
from preloadmc.cli.interrupts import interrupts_held
from preloadmc.cli.leaving import noting_what_is_written
from preloadmc.cli.options import EPILOG
from preloadmc.cli.outputs import overwrite_option
from preloadmc.cli.terminal import say
from preloadmc.errors import UsageError
from preloadmc.report.documents.document import as_json
from preloadmc.report.single_file import check_file, write_file


@click.command("schema", epilog=EPILOG)
@click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write it to FILE; standard output unless given.",
)
@overwrite_option
def command(out: Path | None, overwrite: bool) -> None:
    """Write the JSON Schema (draft 2020-12) of the case file, by which editors check TOML.

    It knows keys, kinds of values, units and words. What belongs together is judged by `check`.

    Example: preloadmc schema --out preloadmc.schema.json
    """
    if out is None:
        if overwrite:
            raise UsageError("--overwrite: goes with --out FILE")
        say(as_json(case_schema()).encode())
        return
    check_file(out, overwrite)
    content = as_json(case_schema()).encode()
    with noting_what_is_written() as written:
        with interrupts_held():
            write_file(out, content)
            written.append(str(out))
        say(f"Written: {out}\n")
