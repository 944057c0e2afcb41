"""Plain aligned tables that fit a terminal of 80 columns."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from preloadmc.report.text.signs import NO_BREAK

WIDTH = 80
_GAP = "  "
_NARROWEST = 12  # a column of words, which holds the longest of the names of limits and states


# A number stays on one line with its unit, and a power of ten in one piece.
_UNIT = re.compile(
    r"(?<=\d) (?=[^\d\s+·/=-])|(?<=±) (?=\d)|(?<=\d x) (?=10\^)|(?<=per) (?=million)"
)


def aligned(header: Sequence[str], rows: Sequence[Sequence[str]], words: int = 1) -> list[str]:
    """Return lines of a table: the first ``words`` columns flush left, numbers flush right.

    Where the table is too wide, the widest of these is wrapped, and then the next.

    Examples
    --------
    >>> print("\\n".join(aligned(("limit", "kN"), [("slip", "3.1"), ("yield", "12")])))
    limit   kN
    slip   3.1
    yield   12
    """
    return [line for row in aligned_rows(header, rows, words) for line in row]


def aligned_rows(
    header: Sequence[str], rows: Sequence[Sequence[str]], words: int = 1
) -> list[list[str]]:
    """Return the lines of each row of a table as `aligned` makes it, the header first."""
    widths = [max(len(row[column]) for row in (header, *rows)) for column in range(len(header))]
    excess = sum(widths) + len(_GAP) * (len(widths) - 1) - WIDTH
    for column in sorted(range(words), key=lambda column: -widths[column]):
        narrowed = min(widths[column], max(widths[column] - max(excess, 0), _NARROWEST))
        excess -= widths[column] - narrowed
        widths[column] = narrowed
    found = []
    for row in (header, *rows):
        wrapped = [
            textwrap.wrap(row[column], widths[column], subsequent_indent="  ") or [""]
            for column in range(words)
        ]
        lines = []
        for depth in range(max(len(cell) for cell in wrapped)):
            cells = [
                (cell[depth] if depth < len(cell) else "").ljust(width)
                for cell, width in zip(wrapped, widths, strict=False)
            ]
            if depth == 0:
                cells += [
                    cell.rjust(width)
                    for cell, width in zip(row[words:], widths[words:], strict=True)
                ]
            lines.append(_GAP.join(cells).rstrip())
        found.append(lines)
    return found


def paragraph(text: str, indent: str = "", width: int = WIDTH, first: str = "") -> list[str]:
    """Return a text wrapped to the terminal, with ``indent`` before every line but the first.

    No word is split, and no number from its unit.
    """
    lines = textwrap.wrap(
        glued(text),
        width,
        initial_indent=first,
        subsequent_indent=indent,
        break_on_hyphens=False,
        break_long_words=False,
    )
    return [line.replace(NO_BREAK, " ") for line in lines]


def glued(text: str) -> str:
    """Return a text with no-break spaces between numbers and their units.

    Examples
    --------
    >>> glued("1.4 x 10^-7 to 3 %").replace(NO_BREAK, "_")
    '1.4_x_10^-7_to 3_%'
    """
    return _UNIT.sub(NO_BREAK, text)


def listed(items: Sequence[str]) -> list[str]:
    """Return each item as a wrapped point of a list."""
    return [line for item in items for line in paragraph(f"- {item}", "  ")]
