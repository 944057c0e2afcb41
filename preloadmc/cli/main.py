"""The command `preloadmc`: its commands, and how errors leave it."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import click

from preloadmc import __version__
from preloadmc.errors import PreloadError
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
    "infer": "why joints came loose: odds of causes from field evidence",
    "tables": "the shipped tables with their sources",
}
INTERRUPTED = 130


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
        """Run the command; an own error prints its words and sets the exit code."""
        try:
            return super().invoke(ctx)
        except PreloadError as error:
            click.echo(f"preloadmc: {error}", err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("preloadmc: interrupted; nothing was written", err=True)
            ctx.exit(INTERRUPTED)


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
    --fail-above, 130 interrupted.

    Example: preloadmc run cases/conveyor_bracket.toml
    """
