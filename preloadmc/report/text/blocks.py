"""A report as blocks, from which both its text and its page are made."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import ClassVar

from preloadmc.report.text.law_sketch import Sketch
from preloadmc.report.text.steps import StepWords, step_lines, step_words
from preloadmc.report.text.tables import aligned, listed, paragraph
from preloadmc.steps import Chapter


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A text that is wrapped; in plain text it ``hangs`` from its first line where asked."""

    text: str
    hangs: bool = False

    kind: ClassVar[str] = "paragraph"

    def lines(self) -> list[str]:
        """Return the lines of plain text."""
        return paragraph(self.text, "  " if self.hangs else "")


@dataclass(frozen=True, slots=True)
class Points:
    """Items of a list."""

    items: tuple[str, ...]

    kind: ClassVar[str] = "points"

    def lines(self) -> list[str]:
        """Return the lines of plain text."""
        return listed(self.items)


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its first ``words`` columns are words, the others numbers.

    ``sketches`` are laws for a page to draw, one for each row, or none at all. ``orders`` let a
    page sort the rows: by column the place of each row in its order; empty where it has none.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: int = 1
    sketches: tuple[Sketch, ...] = ()
    orders: tuple[tuple[int, ...], ...] = ()

    kind: ClassVar[str] = "table"

    @property
    def sorted_by(self) -> int | None:
        """Return the first column in whose order the rows stand; None where there is none."""
        risen = tuple(range(len(self.rows)))
        return self.orders.index(risen) if risen in self.orders else None

    def lines(self) -> list[str]:
        """Return the lines of plain text."""
        return aligned(self.header, self.rows, self.words)


@dataclass(frozen=True, slots=True)
class Chapters:
    """Derivations step by step; the steps of the chapters are counted through if ``counted``."""

    chapters: tuple[Chapter, ...]
    system: str
    counted: bool = True

    kind: ClassVar[str] = "chapters"

    def titled_steps(self) -> list[tuple[str, tuple[StepWords, ...]]]:
        """Return the title and the steps of each chapter in words."""
        found = []
        before = 0
        for chapter in self.chapters:
            found.append((chapter.title, step_words(chapter, self.system, before)))
            before += len(chapter.steps) if self.counted else 0
        return found

    def lines(self) -> list[str]:
        """Return the lines of plain text: an empty line before each underlined title."""
        lines: list[str] = []
        for title, steps in self.titled_steps():
            lines += ["", title, "-" * len(title), *step_lines(steps)]
        return lines


@dataclass(frozen=True, slots=True)
class Verbatim:
    """Text that keeps its lines, such as a command or a file."""

    text: str

    kind: ClassVar[str] = "verbatim"

    def lines(self) -> list[str]:
        """Return the lines of plain text."""
        return self.text.splitlines()


@dataclass(frozen=True, slots=True)
class Signatures:
    """A place to sign for each role, with a date."""

    roles: tuple[str, ...]

    kind: ClassVar[str] = "signatures"

    def lines(self) -> list[str]:
        """Return the lines of plain text."""
        return [f"{role}: {20 * '_'}  Date: {12 * '_'}" for role in self.roles]


CAUTIONS = "Cautions"
Block = Paragraph | Points | Table | Chapters | Verbatim | Signatures


@dataclass(frozen=True, slots=True)
class Section:
    """Blocks that belong together, under a title that plain text says only where ``titled``.

    A ``narrow`` one takes half the width of a printed sheet. What a page need not print says where
    else it stands (``found_in``): the page folds it under its title, which says so too. What a
    figure of the page shows as well is ``drawn``, and a page leaves it out.
    """

    title: str
    blocks: tuple[Block, ...]
    titled: bool = False
    narrow: bool = False
    found_in: str = ""
    drawn: bool = False

    def lines(self) -> list[str]:
        """Return the lines of plain text."""
        lines = [line for block in self.blocks for line in block.lines()]
        return [self.title, *lines] if self.titled else lines


def folded(sections: Iterable[Section], found_in: str = "report.txt") -> tuple[Section, ...]:
    """Return sections that a page folds, since they stand in another place too."""
    return tuple(replace(section, found_in=found_in) for section in sections)


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report: the answer first, then what it is about, then its sections."""

    title: str
    sections: tuple[Section, ...]
    answer: tuple[str, ...] = ()
    opening: str = ""
    warnings: tuple[str, ...] = ()

    @property
    def is_signed(self) -> bool:
        """Return whether it has a place to sign."""
        return any(isinstance(block, Signatures) for each in self.sections for block in each.blocks)

    def before_cautions(self, *sections: Section) -> Report:
        """Return the report with more sections before its cautions."""
        first = next(i for i, each in enumerate(self.sections) if each.title.startswith(CAUTIONS))
        return replace(self, sections=(*self.sections[:first], *sections, *self.sections[first:]))


def render_text(report: Report) -> str:
    """Return the report as plain text for a terminal of 80 columns; the answer is not wrapped."""
    warnings = [f"Warning: {warning}" for warning in report.warnings]
    parts = (
        list(report.answer),
        paragraph(report.title),
        paragraph(report.opening),
        listed(warnings),
        *(section.lines() for section in report.sections),
    )
    return "\n\n".join("\n".join(lines) for lines in parts if lines) + "\n"
