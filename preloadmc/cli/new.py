"""`preloadmc new`: a commented case file from a few questions, or from a case that is there."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Mapping
from pathlib import Path

import click

from preloadmc.case import Case
from preloadmc.case_file.new_case import (
    METHOD,
    case_from_text,
    case_like,
    case_text,
    investigation_text,
    method_of_controls,
    questions,
    said,
    to_change,
)
from preloadmc.cli.interrupts import interrupts_held
from preloadmc.cli.interview import Interview
from preloadmc.cli.leaving import noting_what_is_written
from preloadmc.cli.options import EPILOG
from preloadmc.cli.outputs import overwrite_option
from preloadmc.cli.terminal import say
from preloadmc.errors import UsageError
from preloadmc.questions.check import check
from preloadmc.report.single_file import check_file, write_file
from preloadmc.report.text.tables import listed

Given = Mapping[str, tuple[str, ...]]


@click.command("new", epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--like",
    metavar="CASE",
    help="Copy a shipped case by name, or any case by its path, with its comments and CSV files.",
)
@click.option(
    "--investigation",
    is_flag=True,
    help="Add findings and suspects as a commented example, for `infer`.",
)
@click.option(
    "--units",
    type=click.Choice(["metric", "inch"]),
    help="Units of what is offered as an answer; those of the thread unless given.",
)
@overwrite_option
def command(
    file: Path,
    like: str | None,
    investigation: bool,
    units: str | None,
    overwrite: bool,
    **given: str | tuple[str, ...] | None,
) -> None:
    """Ask for little and write a commented case file to FILE.

    Options answer questions beforehand. Answers may come from a pipe, one a line; without any,
    what is not given is left at the example that the question offers. Each answer is a quantity
    with its unit, a word, or a law as in a case file.

    Example: preloadmc new my_joint.toml --thread M10 --torque "45 N·m"
    """
    check_file(file, overwrite)
    answers = {
        key: (text,) if isinstance(text, str) else text for key, text in given.items() if text
    }
    if like is not None:
        _copy(file, case_like(like), investigation, overwrite, answers)
        return
    text, left = _text_of_answers(file, investigation, units, overwrite, answers)
    case = case_from_text(text, str(file))
    with noting_what_is_written() as written:
        _write({file: text}, written)
        if left:
            say("\n- ".join(["Left at examples, to be replaced by your own:", *left]) + "\n")
        _say_what_next(file, case)


def _text_of_answers(
    file: Path, investigation: bool, units: str | None, overwrite: bool, given: Given
) -> tuple[str, list[str]]:
    """Return the text of the case, and what was left at examples."""
    method = method_of_controls(given)
    if method is not None and METHOD not in given:
        given = {METHOD: (method,), **given}
    interview = Interview(units, given)
    flags = {"--investigation": investigation, "--overwrite": overwrite}
    words = [*(("--units", units) if units else ()), *(flag for flag in flags if flags[flag])]
    try:
        answers = interview.hold()
    except EOFError:
        raise UsageError(
            "the input ended before the last question; nothing was written"
            + _to_go_on(file, words, interview)
        ) from None
    except UsageError as error:
        raise UsageError(f"{error}{_to_go_on(file, words, interview)}") from None
    except (KeyboardInterrupt, click.Abort):
        click.echo(_to_go_on(file, words, interview), err=True)
        raise
    text = case_text(answers)
    if investigation:
        text += f"\n{investigation_text(answers.system)}"
    return text, interview.left


def _to_go_on(file: Path, flags: Iterable[str], interview: Interview) -> str:
    """Return the command that goes on from what was answered; empty where nothing was."""
    if not interview.was_read:
        return ""
    answered = [word for pair in interview.options for word in pair]
    return f"\nTo go on:\n{shlex.join(['preloadmc', 'new', str(file), *flags, *answered])}"


def _copy(file: Path, case: Case, investigation: bool, overwrite: bool, given: Given) -> None:
    """Write a copy of a case and of the CSV files that it names; say what to change in it."""
    if given:
        option = f"--{next(iter(given)).replace('_', '-')}"
        raise UsageError(f"{option}: --like copies a case as it is; change that in the copy")
    text = case.text
    if investigation:
        text += f"\n{investigation_text(case.unit_system)}"
    source = Path(case.source)
    check_file(file, overwrite, [source])
    contents = {file: text}
    for name, content in case.files.items():
        target = file.parent / name
        if name == source.name or _holds(target, content):
            continue
        check_file(target, overwrite, [source.parent / name])
        contents[target] = content
    with noting_what_is_written() as written:
        _write(contents, written)
        say("\n".join([f"A copy of {case.source}. Change to your own:", *listed(to_change(case))]))
        say("\n")
        _say_what_next(file, case)


def _holds(file: Path, content: str) -> bool:
    """Return whether a file is there with this content."""
    try:
        return file.read_text(encoding="utf-8-sig") == content
    except (OSError, ValueError):
        return False


def _write(contents: Mapping[Path, str], written: list[str]) -> None:
    with interrupts_held():
        for file, content in contents.items():
            write_file(file, content.encode())
            written.append(str(file))


def _say_what_next(file: Path, case: Case) -> None:
    """Say what a reader of the case is warned of, and the commands that come next."""
    for warning in check(case).warnings:
        say("\n".join(listed([warning])) + "\n")
    say(f"Written: {file}. Read it, then: preloadmc check {file}\n")
    say(f"Then: preloadmc {'run' if case.investigation is None else 'infer'} {file}\n")
    say("All keys of a case file: preloadmc keys; any in full: preloadmc keys WORD\n")


command.params.extend(
    click.Option(
        [question.option],
        multiple=question.many,
        help=said(question.words, "metric") + (", once for each." if question.many else "."),
    )
    for question in questions()
)
