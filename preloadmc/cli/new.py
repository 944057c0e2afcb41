"""`preloadmc new`: a commented case file from a few questions."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import click

from preloadmc.case_file import read_case
from preloadmc.case_file.template import Answers, case_text
from preloadmc.cli.options import EPILOG
from preloadmc.cli.outputs import overwrite_option
from preloadmc.errors import PreloadError, UsageError

# Option, question, and an example that is offered, not assumed: it stands in the file to be seen.
QUESTIONS: tuple[tuple[str, str, str], ...] = (
    ("title", "What joint is it?", "My joint"),
    ("thread", "Thread (M12, M12x1.25, 1/2-13 UNC, ...)", "M12"),
    ("property-class", "Property class or grade (8.8, 10.9, A2-70, SAE 5, ...)", "8.8"),
    ("bearing-outer-diameter", "Outer diameter of the face under the head", "16.6 mm"),
    ("hole-diameter", "Diameter of the hole", "13.5 mm"),
    ("material", "Material of the clamped parts", "steel"),
    ("thickness", "Their thickness together", "30 mm"),
    ("friction", "Friction class A to E (see: preloadmc tables friction)", "B"),
    ("torque", "Set torque", "70 N·m"),
    ("tool-tolerance", "Tolerance of the tool", "6 %"),
    ("minimum-preload", "Smallest preload that the joint needs", "20 kN"),
    ("allowed", "Allowed probability of missing each side", "0.1 %"),
)


@click.command("new", epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@overwrite_option
def command(file: Path, overwrite: bool, **given: str | None) -> None:
    """Ask for little and write a commented case file to FILE.

    Options answer questions beforehand; in a pipe, what is not given is left at the example that
    the question offers.

    Example: preloadmc new my_joint.toml --thread M10 --torque "45 N·m"
    """
    if file.exists() and not overwrite:
        raise UsageError(f"{file}: exists; name another file, or replace it with --overwrite")
    answers = {}
    for option, question, example in QUESTIONS:
        key = option.replace("-", "_")
        answer = given[key]
        if answer is None:
            answer = click.prompt(question, default=example) if sys.stdin.isatty() else example
        answers[key] = answer
    try:
        text = case_text(Answers(**answers))
    except ValueError as error:
        raise UsageError(str(error)) from error
    read_case(tomllib.loads(text), str(file), text, "")
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PreloadError(f"{file}: cannot be written: {error.strerror}") from error
    click.echo(f"Written: {file}. Read it, then: preloadmc check {file}")


command.params.extend(
    click.Option([f"--{option}"], help=f"{question}") for option, question, _ in QUESTIONS
)
