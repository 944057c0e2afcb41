"""What goes to the terminal: how much of a report, and in what colour."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import click

from preloadmc.cli.leaving import drop_output
from preloadmc.errors import PreloadError
from preloadmc.report.text.screen import Screen, render_screen
from preloadmc.report.text.tables import WIDTH

_QUIET, _FULL = "preloadmc.quiet", "preloadmc.full"

quiet_option = click.option(
    "--quiet",
    "-q",
    is_flag=True,
    expose_value=False,
    help="Print the three lines of the answer only, and no progress.",
    callback=lambda ctx, _parameter, given: ctx.meta.update({_QUIET: given}),
)

full_option = click.option(
    "--full",
    is_flag=True,
    expose_value=False,
    help="Print every table, all assumptions and methods, not one screen.",
    callback=lambda ctx, _parameter, given: ctx.meta.update({_FULL: given}),
)

_NARROWEST = 40

# Words that a reader must not miss, and the labels of the answer.
_ALARMS = re.compile(r"(?m)NOT RELIABLE|DISAGREES|\bmisses(?= \d|$)|Warning:")
_LABEL = re.compile(r"(?m)^[A-Z][a-z ]+:")


def is_quiet() -> bool:
    """Return whether the command was asked to be quiet."""
    context = click.get_current_context(silent=True)
    return context is not None and bool(context.meta.get(_QUIET))


def is_full() -> bool:
    """Return whether the command was asked for all, not one screen."""
    context = click.get_current_context(silent=True)
    return context is not None and bool(context.meta.get(_FULL))


@dataclass(frozen=True, slots=True)
class Shown:
    """What a command may show: its screen, or all as text; either is made when it is asked for."""

    screen: Screen
    full: Callable[[], str]


def show(shown: Shown, out: Path | None = None) -> None:
    """Print the answer alone, the screen, or all, as asked; say where the report's folder is."""
    if is_quiet():
        _say_coloured("".join(f"{line}\n" for line in shown.screen.answer))
        return
    text = shown.full() if is_full() else render_screen(shown.screen, _width())
    if out is not None:
        text += ("\n" if is_full() else "") + f"Report: {out}\n"
    _say_coloured(text)


def _say_coloured(text: str) -> None:
    say(_LABEL.sub(_bold, _ALARMS.sub(_alarm, text)) if _in_colour() else text)


def _width() -> int:
    """Return the width of the terminal; 80 where there is none."""
    if sys.stdout is None or not sys.stdout.isatty():
        return WIDTH
    return max(shutil.get_terminal_size((WIDTH, 24)).columns, _NARROWEST)


def say(text: str | bytes) -> None:
    """Print to standard output; PreloadError where it is closed or full, or its reader has left."""
    if sys.stdout is None:
        raise PreloadError("standard output is closed")
    try:
        click.echo(text, nl=False)
    except OSError as error:
        drop_output()
        raise PreloadError(f"standard output cannot be written to: {error.strerror}") from error


def _in_colour() -> bool:
    """Return whether to colour: on a terminal, unless NO_COLOR is set (no-color.org)."""
    return sys.stdout is not None and sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def _bold(found: re.Match[str]) -> str:
    return click.style(found[0], bold=True)


def _alarm(found: re.Match[str]) -> str:
    return click.style(found[0], fg="red", bold=True)
