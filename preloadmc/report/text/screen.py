"""The screen: what a terminal shows of a result, 40 lines at most; `--full` shows all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from preloadmc.report.text.cautions import CAUTION
from preloadmc.report.text.tables import WIDTH, aligned_rows, paragraph

LINES = 40
# Warnings that a screen shows, and lines of each.
_WARNINGS, _WARNING_LINES = 2, 2


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a screen: items of one or more lines, under a heading that is never cut.

    Where the screen is too long, items go, but for ``least`` of them: those go first that stand
    last in ``ranks``, the places of the items by how much they matter; in their order unless given.
    ``tail`` are lines below the items, never cut. One that ``joins`` has no empty line before it.
    """

    heading: tuple[str, ...]
    items: tuple[tuple[str, ...], ...]
    least: int = 1
    ranks: tuple[int, ...] = ()
    tail: tuple[str, ...] = ()
    joins: bool = False

    def lines(self, shown: int) -> list[str]:
        """Return the lines with so many items, and how many more there are."""
        kept = sorted((self.ranks or range(len(self.items)))[:shown])
        found = [*self.heading, *(line for place in kept for line in self.items[place])]
        more = len(self.items) - shown
        return [*found, *([f"  and {more} more (--full)"] if more > 0 else []), *self.tail]


@dataclass(frozen=True, slots=True)
class Screen:
    """What is shown of a result: ``assumed`` is how many values the case does not state."""

    title: str
    answer: tuple[str, ...]
    warnings: tuple[str, ...]
    parts: tuple[Part, ...]
    assumed: int | None = None
    has_folder: bool = True


def render_screen(screen: Screen, width: int = WIDTH) -> str:
    """Return the lines of a screen; the answer is wrapped at ``width``, tables at 80 columns."""
    rest = []
    if screen.assumed:
        values = "1 assumed value" if screen.assumed == 1 else f"{screen.assumed} assumed values"
        rest.append(f"{values}: `preloadmc check CASE`")
    rest.append("all: --full")
    if screen.has_folder:
        rest.append("report: --out FOLDER")
    more = "; ".join(rest)
    foot = [CAUTION, f"{more[0].upper()}{more[1:]}."]
    answer = [line for each in screen.answer for line in paragraph(each, "  ", width)]
    # Warnings go last: each of them is told by `check`.
    for most in range(_WARNINGS, -1, -1):
        head = [answer, [*paragraph(screen.title), *_warning_lines(screen.warnings, most)]]
        lines = _joined([block for block in head if block], screen.parts, foot)
        if len(lines) <= LINES:
            break
    return "\n".join(lines) + "\n"


def _joined(head: list[list[str]], parts: Sequence[Part], foot: list[str]) -> list[str]:
    """Return the lines of a screen, with an empty one between blocks; parts are cut to fit."""
    parts = [part for part in parts if part.items or part.heading or part.tail]
    blocks = [*head]
    room = LINES - sum(len(each) + 1 for each in head) - len(foot)
    for part, count in zip(parts, _fitted(parts, room), strict=True):
        if part.joins:
            blocks[-1] = blocks[-1] + part.lines(count)
        else:
            blocks.append(part.lines(count))
    blocks.append(foot)
    return [line for block in blocks for line in (*block, "")][:-1]


def _fitted(parts: Sequence[Part], room: int) -> list[int]:
    """Return how many items of each part are shown: the longest parts are cut first."""
    shown = [len(part.items) for part in parts]

    def height(place: int) -> int:
        return len(parts[place].lines(shown[place]))

    empty = sum(not part.joins for part in parts)
    while sum(height(place) for place in range(len(parts))) + empty > room:
        longest = [k for k, part in enumerate(parts) if shown[k] > part.least]
        if not longest:
            break
        at = max(longest, key=height)
        # The line that tells of the rest takes the place of the first item that goes.
        shown[at] -= 2 if shown[at] == len(parts[at].items) and shown[at] > 1 else 1
        shown[at] = max(shown[at], parts[at].least)
    return shown


def _warning_lines(warnings: Sequence[str], most: int) -> list[str]:
    found = []
    for warning in warnings[:most]:
        lines = paragraph(f"Warning: {warning}", "  ")
        if len(lines) > _WARNING_LINES:
            lines = lines[:_WARNING_LINES]
            lines[-1] = f"{lines[-1][: WIDTH - 4].rpartition(' ')[0]} ..."
        found += lines
    more = len(warnings) - most
    if more <= 0:
        return found
    rest = f"and {more} more" if found else "1 warning" if more == 1 else f"{more} warnings"
    return [*found, f"{rest}: `preloadmc check CASE`"]


def table_part(
    header: Sequence[str], rows: Sequence[Sequence[str]], words: int = 1, least: int = 1
) -> Part:
    """Return a table as a part."""
    first, *others = aligned_rows(header, rows, words)
    return Part(tuple(first), tuple(map(tuple, others)), least)


def line_part(*lines: str) -> Part:
    """Return sentences that are not cut."""
    return Part(tuple(line for each in lines for line in paragraph(each, "  ")), (), 0)


def together(first: Part, *others: Part) -> tuple[Part, ...]:
    """Return parts with no empty line between them."""
    return (first, *(replace(each, joins=True) for each in others))
