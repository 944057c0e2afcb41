"""Questions asked one by one: a bad answer is asked again, and nothing that was typed is lost."""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Mapping, Sequence
from itertools import zip_longest

import click

from preloadmc.case_file.new_case import (
    NONE,
    PROMPTS,
    Answers,
    Prompt,
    Question,
    check_answers,
    questions,
    resolved,
    said,
    with_answer,
    with_example,
)
from preloadmc.case_file.new_case.typed import pieces, printable
from preloadmc.cli.terminal import say
from preloadmc.errors import UsageError
from preloadmc.report.text.tables import WIDTH, paragraph


class Interview:
    """What was asked and answered so far.

    Parameters
    ----------
    units : {"metric", "inch"} or None
        Units of what is offered; those of the thread where None.
    given : mapping of str to tuple of str
        What options answer beforehand, by the name of the question.

    Attributes
    ----------
    answers : Answers
        As they are read.
    was_read : bool
        Whether any answer was read.
    left : list of str
        The options that nobody gave, with the examples that stand in their place.
    """

    def __init__(self, units: str | None, given: Mapping[str, tuple[str, ...]]) -> None:
        self.answers = Answers(units)
        self.left: list[str] = []
        self._given = given
        self._typed: list[tuple[str, str]] = []
        self._refused = ""
        self._options_fit = False
        self.was_read = False
        self._asks = sys.stdin is not None

    def hold(self) -> Answers:
        """Ask all that is not answered beforehand.

        Where the input is no terminal and holds nothing, the examples stand.

        Raises
        ------
        UsageError
            For an option that cannot be, where nobody can be asked again.
        EOFError
            If the input ends before all is answered.
        """
        self._options_fit = self._fit_together()
        for prompt in PROMPTS:
            self._go_through(prompt)
        for key in self._given:
            if key not in self.answers:
                words = f"--{key.replace('_', '-')}: remove it, this joint has no such thing"
                if not self.was_read:
                    raise UsageError(words)
                say(f"  Left out: {words}\n")
        return self.answers

    @property
    def options(self) -> list[tuple[str, str]]:
        """Return options that answer what was answered, and those that were not come to."""
        waiting = [
            (f"--{key.replace('_', '-')}", text)
            for key, texts in self._given.items()
            for text in texts
            if key not in self.answers
        ]
        return [*self._typed, *waiting]

    def _fit_together(self) -> bool:
        """Return whether the options make a case, with the examples for what is still open.

        Then none of them is in doubt until something else is answered than the examples.
        """
        found = self.answers
        try:
            for question in questions():
                if not question.applies(found):
                    continue
                for text in self._given.get(question.key, ()):
                    found = with_answer(found, question, printable(text))
                if question.key not in found:
                    found = with_example(found, question)
            check_answers(found, ())
        except ValueError:
            return False
        return True

    def _go_through(self, prompt: Prompt) -> None:
        asked = []
        for question in prompt.questions:
            if not question.applies(self.answers):
                continue
            is_taken = question.key in self._given and self._take_option(question)
            if not is_taken and (question.key not in self.answers or self._refused):
                asked.append(question)
        if asked and asked[0].many:
            self._ask_each(asked[0], prompt.words)
        elif asked:
            is_whole = len(asked) == len(prompt.questions)
            words = prompt.words if is_whole else "; ".join(each.words for each in asked)
            while not self._ask(words, asked):
                pass
        self._refused = ""

    def _take_option(self, question: Question) -> bool:
        """Take what an option answers; return whether that can be."""
        try:
            for text in self._given[question.key]:
                self._take((question,), (text,))
        except ValueError as error:
            self._refused = f"{question.option}: {error}"
            if not self._asks:
                raise UsageError(self._refused) from None
            _say_again(self._refused)
            return False
        return True

    def _ask(self, words: str, asked: Sequence[Question]) -> bool:
        """Ask in one line; return whether the answer can be taken."""
        line = self._line(words, ", ".join(self._offered(asked)))
        if line is None:
            self._leave(asked)
            return True
        try:
            self._take(asked, pieces(line) if len(asked) > 1 else [line])
        except ValueError as error:
            _say_again(str(error))
            return False
        self._say_read(line, [question.shown(self._read(question)) for question in asked])
        return True

    def _ask_each(self, question: Question, words: str) -> None:
        """Ask for one after another, until an answer is empty."""
        example = question.example(self.answers)
        while True:
            place = len(self.answers.all(question.key)) + 1
            offered = "no more" if place > 1 else NONE if example == NONE else f"two of {example}"
            line = self._line(words, offered, place)
            line = "" if line == offered else line
            if line is None and place == 1:
                self._leave((question,))
            elif not line and place == 1:
                self._take_example(question)
            elif line:
                try:
                    self._take((question,), (line,))
                except ValueError as error:
                    _say_again(str(error))
                else:
                    self._say_read(line, self.answers.all(question.key)[-1:])
                continue
            return

    def _line(self, words: str, offered: str, place: int | None = None) -> str | None:
        """Return a line of the answers; None where nobody can be asked."""
        if not self._asks:
            return None
        prompt = _prompt(said(words, self.answers.system, place), offered)
        if sys.stdin.isatty():
            try:
                line = click.prompt(prompt, default="", show_default=False)
            except click.Abort as abort:
                if isinstance(abort.__context__, EOFError):
                    say("\n")
                    raise EOFError from None
                raise
        else:
            say(f"{prompt}: ")
            try:
                line = sys.stdin.readline()
            except UnicodeDecodeError as error:
                raise UsageError("the answers are no text in UTF-8") from error
            say(line if line.endswith("\n") else f"{line}\n")
            if not line and self.was_read:
                raise EOFError
            if not line:
                self._asks = False
                return None
        self.was_read = True
        return str(line).strip()

    def _take(self, asked: Sequence[Question], texts: Sequence[str]) -> None:
        """Take answers, and the examples where they are empty; ValueError where they cannot be."""
        if len(texts) > len(asked):
            raise ValueError(f"{len(asked)} answers at most, with commas between")
        found, typed = self.answers, []
        for question, text in zip_longest(asked, map(printable, texts), fillvalue=""):
            assert isinstance(question, Question), "there are no more answers than questions"
            given = str(text) or question.example(found)
            given = resolved(found, question, given)
            found = with_answer(found, question, given)
            typed.append((question.option, given))
        if self.was_read or not self._options_fit:
            check_answers(found, asked)
        self.answers = found
        self._typed += typed

    def _take_example(self, question: Question) -> None:
        before = self.answers
        self.answers = with_example(before, question)
        self._typed += [(question.option, text) for text in self.answers.all(question.key)]

    def _leave(self, asked: Sequence[Question]) -> None:
        """Let the examples stand."""
        if self._refused:
            raise UsageError(self._refused)
        for question in asked:
            self.answers = with_example(self.answers, question)
            texts = self.answers.all(question.key)
            self.left += [f"{question.option} {shlex.quote(text)}" for text in texts]

    def _offered(self, asked: Sequence[Question]) -> list[str]:
        """Return the examples that stand for an empty answer, in words."""
        found, words = self.answers, []
        for question in asked:
            words.append(question.shown(question.example(found)))
            found = with_example(found, question)
        return words

    def _read(self, question: Question) -> str:
        """Return an answer as it is read; one that stands under other names, by these."""
        keys = question.read(dict(self._typed)[question.option])
        return ", ".join(filter(None, map(self.answers.one, keys))) or NONE

    def _say_read(self, line: str, read: Sequence[str]) -> None:
        """Say how a line is read, where it is not as it was typed."""
        if line and line != ", ".join(read):
            say("\n".join(paragraph(f"  Read as {', '.join(read)}", "  ")) + "\n")


def _prompt(words: str, offered: str) -> str:
    """Return a question with what is offered, in lines that fit the terminal."""
    whole = re.sub(r"(?<=\d) (?=[^\W\d]|%)", "\N{NO-BREAK SPACE}", words)  # a number and its unit
    wrapped = paragraph(whole, "  ")
    *lines, last = (line.replace("\N{NO-BREAK SPACE}", " ") for line in wrapped)
    fits = len(f"{last} [{offered}]: ") <= WIDTH
    return "\n".join((*lines, f"{last} [{offered}]" if fits else f"{last}\n  [{offered}]"))


def _say_again(words: str) -> None:
    first, *rows = f"  Again, please: {words}".split("\n")
    lines = [*paragraph(first, "    ")]
    for row in rows:
        lines += paragraph(f"    {row}", "      ")
    say("".join(f"{line}\n" for line in lines))
