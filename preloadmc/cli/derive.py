"""`preloadmc derive`: the preload and its window as a hand calculation."""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import EPILOG, case_argument, units_option
from preloadmc.cli.terminal import Shown, full_option, show
from preloadmc.questions.derive import derive
from preloadmc.report.text.derive import derive_text
from preloadmc.report.text.screens import derive_screen


@click.command("derive", epilog=EPILOG)
@case_argument
@full_option
@units_option
def command(case: Path, units: str | None) -> None:
    """Derive the preload and its window of CASE step by step at nominal values.

    Example: preloadmc derive cases/conveyor_bracket.toml
    """
    loaded = load_case(case)
    derivation, system = derive(loaded), units or loaded.unit_system
    show(Shown(derive_screen(derivation, system), lambda: derive_text(derivation, system)))
