"""The command `preloadmc`: its commands, and how errors leave it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from importlib import import_module
from typing import Any

import click

from preloadmc import __version__
from preloadmc.cli.leaving import InterruptionError, exit_code_of
from preloadmc.report.text.cautions import CAUTIONS

# A command's module is imported when it is called, so that help comes at once.
COMMANDS = {
    "new": "write a commented case file from a few answers",
    "check": "explain a case in words, with every default and its source",
    "derive": "work the joint out at nominal values, step by step",
    "run": "how likely too little or too much preload is, and what to do",
    "rank": "what dominates the scatter, being too loose, being too tight",
    "compare": "alternatives side by side: tools, lubricants, securing elements",
    "aim": "the setting that suits the window, and the scatter it bears",
    "survey": "many joints at once: how many will miss, and which",
    "infer": "why joints came loose: odds of causes from field evidence",
    "fit": "laws from test records, preload left by vibration tests, tests for a claim",
    "keys": "the keys of the case file: meaning, units, values, defaults, examples",
    "schema": "the JSON Schema of the case file, for editors",
    "tables": "the shipped tables with their sources",
}


class _Commands(click.Group):
    """The group of commands: errors of the program's own become a message and an exit code."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order in which a reader needs them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return one command, or None."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"preloadmc.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; an interrupt becomes an error of the program's own, with its words."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt as interrupt:
            raise InterruptionError(interrupt) from interrupt

    def main(
        self, args: Sequence[str] | None = None, *others: Any, standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:  # fmt: skip
        """Run the program; on its own it ends with an exit code, and never in a traceback."""
        command = partial(super().main, args, *others, standalone_mode=False, **extra)
        if not standalone_mode:
            return command()
        sys.exit(exit_code_of(command, sys.argv[1:] if args is None else args))


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog="Cautions: " + " ".join(CAUTIONS),
)
@click.version_option(__version__, prog_name="preloadmc")
def main() -> None:
    """How likely a bolted joint ends with too little or too much preload.

    A case file (TOML) describes the joint. Start with `new` and `check`, then `run`.

    Exit codes: 0 a result, 1 an error, 2 a bad case file or call, 3 a probability above
    --fail-above, 130 interrupted (SIGINT), 143 terminated (SIGTERM).

    Example: preloadmc run cases/conveyor_bracket.toml
    """
