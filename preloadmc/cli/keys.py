"""`preloadmc keys`: the keys of the case file, with meaning, units, values, defaults, examples."""

from __future__ import annotations

import shutil
import sys

import click

from preloadmc.cli.options import EPILOG
from preloadmc.cli.terminal import say
from preloadmc.report.text.keys import keys_text
from preloadmc.report.text.tables import WIDTH

_NARROWEST = 40


@click.command("keys", epilog=EPILOG)
@click.argument("words", nargs=-1, metavar="[WORD]...")
def command(words: tuple[str, ...]) -> None:
    """Print the keys of the case file: all in short, or in full those that have every WORD.

    A WORD is looked for in path, meaning and allowed values of each key. "law" alone shows how to
    state a law.

    Example: preloadmc keys hole diameter
    """
    on_terminal = sys.stdout is not None and sys.stdout.isatty()
    width = max(shutil.get_terminal_size().columns, _NARROWEST) if on_terminal else WIDTH
    say(keys_text(words, width))
