"""`preloadmc check`: a case in words."""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import EPILOG, case_argument, units_option
from preloadmc.cli.terminal import full_option, is_full, say
from preloadmc.questions.check import check
from preloadmc.report.text.case import check_text


@click.command("check", epilog=EPILOG)
@case_argument
@units_option
@full_option
def command(case: Path, units: str | None) -> None:
    """Read CASE and explain it: laws, nominal values, every default with its source.

    Example: preloadmc check cases/conveyor_bracket.toml
    """
    loaded = load_case(case)
    say(check_text(check(loaded), units or loaded.unit_system, full=is_full()))
