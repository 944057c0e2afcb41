"""`preloadmc new`: a commented case file from a few questions."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import click

from preloadmc.case_file import read_case
from preloadmc.case_file.template import Answers, case_text, usual_answers
from preloadmc.cli.options import EPILOG
from preloadmc.cli.outputs import overwrite_option
from preloadmc.errors import PreloadError, UsageError

# Option and question. What is offered as an answer is an example: it stands in the file to be seen.
QUESTIONS: tuple[tuple[str, str], ...] = (
    ("title", "What joint is it?"),
    ("thread", "Thread (M12, M12x1.25, 1/2-13 UNC, ...)"),
    ("property-class", "Property class or grade (8.8, 10.9, A2-70, SAE 5, ...)"),
    ("bearing-outer-diameter", "Outer diameter of the face under the head"),
    ("hole-diameter", "Diameter of the hole"),
    ("material", "Material of the clamped parts"),
    ("parts", "How many they are, washers included"),
    ("thickness", "Their thickness together"),
    ("friction", "Friction class A to E (see: preloadmc tables friction)"),
    ("torque", "Set torque"),
    ("tool-tolerance", "Tolerance of the tool"),
    ("minimum-preload", "Smallest preload that the joint needs"),
    ("allowed", "Allowed probability of missing each side"),
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
    answers = {key: answer for key, answer in given.items() if answer is not None}
    asking = sys.stdin is not None and sys.stdin.isatty()
    left = []
    try:
        for option, question in QUESTIONS:
            key = option.replace("-", "_")
            if key in answers:
                continue
            example = usual_answers(answers)[key]
            answers[key] = click.prompt(question, default=example) if asking else example
            left += [] if asking else [f"{question}: {example}"]
        text = case_text(Answers(**answers))
    except ValueError as error:
        raise UsageError(str(error)) from error
    read_case(tomllib.loads(text), str(file), text, "")
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PreloadError(f"{file}: cannot be written: {error.strerror}") from error
    if left:
        click.echo("Left at examples, to be replaced by your own:")
        click.echo("\n".join(f"- {line}" for line in left))
    click.echo(f"Written: {file}. Read it, then: preloadmc check {file}")


command.params.extend(
    click.Option([f"--{option}"], help=f"{question}") for option, question in QUESTIONS
)
