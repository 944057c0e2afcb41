"""Plain aligned tables that fit a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

WIDTH = 80
_GAP = "  "
_NARROWEST = 12  # a column of words, which holds the longest of the names of limits and states


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
    widths = [max(len(row[column]) for row in (header, *rows)) for column in range(len(header))]
    excess = sum(widths) + len(_GAP) * (len(widths) - 1) - WIDTH
    for column in sorted(range(words), key=lambda column: -widths[column]):
        narrowed = min(widths[column], max(widths[column] - max(excess, 0), _NARROWEST))
        excess -= widths[column] - narrowed
        widths[column] = narrowed
    lines = []
    for row in (header, *rows):
        wrapped = [
            textwrap.wrap(row[column], widths[column], subsequent_indent="  ") or [""]
            for column in range(words)
        ]
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
    return lines


def paragraph(text: str, indent: str = "") -> list[str]:
    """Return a text wrapped to the terminal, with ``indent`` before every line but the first."""
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def listed(items: Sequence[str]) -> list[str]:
    """Return each item as a wrapped point of a list."""
    return [line for item in items for line in paragraph(f"- {item}", "  ")]
