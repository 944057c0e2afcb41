"""`preloadmc aim`: what to set, and what scatter the window bears."""

from __future__ import annotations

import time
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
from preloadmc.cli.terminal import Shown
from preloadmc.questions.aim import aim
from preloadmc.report.documents.aim import aim_document, aim_mark
from preloadmc.report.text.aim import aim_text
from preloadmc.report.text.screens import aim_screen


@click.command("aim", epilog=EPILOG)
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
    """Find the torque, angle, force or elongation that suits the window of CASE best.

    Also the settings that meet both allowed probabilities, and how wide the scatter of tool and
    friction may be.

    Example: preloadmc aim cases/conveyor_bracket.toml --out reports/conveyor_aim
    """
    started = time.perf_counter()
    loaded = load_case(case)
    system = units or loaded.unit_system
    seed = loaded.sampling.seed if seed is None else seed
    outputs.check(loaded, aim_mark(loaded, seed, system))
    result = aim(loaded, seed=seed, system=system)
    seconds = time.perf_counter() - started

    def files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import aim_files

        return aim_files(result, document, command, png=outputs.png)

    outputs.deliver(
        loaded,
        Shown(aim_screen(result), lambda: aim_text(result, seconds)),
        aim_document(result),
        files,
    )
