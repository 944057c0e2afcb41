"""`preloadmc new`: a commented case file from a few questions."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import click

from preloadmc.case_file import read_case
from preloadmc.case_file.template import Answers, case_text, usual_answers
from preloadmc.cli.interrupts import interrupts_held
from preloadmc.cli.leaving import noting_what_is_written
from preloadmc.cli.options import EPILOG
from preloadmc.cli.outputs import overwrite_option
from preloadmc.cli.terminal import say
from preloadmc.errors import UsageError
from preloadmc.report.single_file import check_file, write_file

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
    check_file(file, overwrite)
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
    with noting_what_is_written() as written:
        with interrupts_held():
            write_file(file, text.encode())
            written.append(str(file))
        if left:
            say("\n- ".join(["Left at examples, to be replaced by your own:", *left]) + "\n")
        say(f"Written: {file}. Read it, then: preloadmc check {file}\n")
        say("All keys of a case file: preloadmc keys; any in full: preloadmc keys WORD\n")


command.params.extend(
    click.Option([f"--{option}"], help=f"{question}") for option, question in QUESTIONS
)
