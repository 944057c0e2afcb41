"""What goes to the terminal: how much of a report, and in what colour."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import click

from preloadmc.cli.leaving import drop_output
from preloadmc.errors import PreloadError

_QUIET = "preloadmc.quiet"

quiet_option = click.option(
    "--quiet",
    "-q",
    is_flag=True,
    expose_value=False,
    help="Print the three lines of the answer only, and no progress.",
    callback=lambda ctx, _parameter, given: ctx.meta.update({_QUIET: given}),
)

# Words that a reader must not miss, and the labels of the answer.
_ALARMS = re.compile(r"NOT RELIABLE|DISAGREES|\bmisses(?= \d)|Warning:")
_LABEL = re.compile(r"^[A-Z][a-z ]+:")
_ANSWER_LINES = 3


def is_quiet() -> bool:
    """Return whether the command was asked to be quiet."""
    context = click.get_current_context(silent=True)
    return context is not None and bool(context.meta.get(_QUIET))


def show_report(text: str, out: Path | None) -> None:
    """Print a report; say where its folder is."""
    answer, rest = text.split("\n")[:_ANSWER_LINES], text.split("\n")[_ANSWER_LINES:]
    if is_quiet():
        rest = [""]
    elif out is not None:
        rest += [f"Report: {out}", ""]
    if _in_colour():
        answer = [_LABEL.sub(_bold, line) for line in answer]
        rest = [_ALARMS.sub(_alarm, line) for line in rest]
    say("\n".join([*answer, *rest]))


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
