"""`preloadmc aim`: what to set, and what scatter the window bears."""

from __future__ import annotations

import time
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
from preloadmc.cli.terminal import quiet_option, show_report
from preloadmc.questions.aim import aim
from preloadmc.report.aim_document import aim_document, aim_mark
from preloadmc.report.aim_text import aim_text
from preloadmc.report.document import as_json
from preloadmc.report.folder import check_folder, write_folder


@click.command("aim", epilog=EPILOG)
@case_argument
@json_option
@out_option
@overwrite_option
@seed_option
@units_option
@quiet_option
def command(
    case: Path,
    json_file: str | None,
    out: Path | None,
    overwrite: bool,
    seed: int | None,
    units: str | None,
) -> None:
    """Find the torque, angle, force or elongation that suits the window of CASE best.

    Also the settings that meet both allowed probabilities, and how wide the scatter of tool and
    friction may be.

    Example: preloadmc aim cases/conveyor_bracket.toml --out reports/conveyor_aim
    """
    started = time.perf_counter()
    loaded = load_case(case)
    check_json_file(json_file, overwrite)
    system = units or loaded.unit_system
    seed = loaded.sampling.seed if seed is None else seed
    if out is not None:
        check_folder(out, aim_mark(loaded, seed, system), overwrite)
    result = aim(loaded, seed=seed, system=system)
    seconds = time.perf_counter() - started
    document = as_json(aim_document(result))
    if out is not None:
        from preloadmc.report.aim_folder import aim_files

        write_folder(out, aim_files(result, document, repeated()))
    if json_file is not None:
        write_json(json_file, document)
    show_report(aim_text(result, seconds), json_file, out)
