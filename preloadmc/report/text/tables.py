"""Plain aligned tables that fit a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

WIDTH = 80
_GAP = "  "


def aligned(header: Sequence[str], rows: Sequence[Sequence[str]], words: int = 1) -> list[str]:
    """Return lines of a table: the first ``words`` columns flush left, numbers flush right.

    Where the table is too wide, the first column is wrapped.

    Examples
    --------
    >>> print("\\n".join(aligned(("limit", "kN"), [("slip", "3.1"), ("yield", "12")])))
    limit   kN
    slip   3.1
    yield   12
    """
    widths = [max(len(row[column]) for row in (header, *rows)) for column in range(len(header))]
    spare = WIDTH - sum(widths) - len(_GAP) * (len(widths) - 1)
    if spare < 0:
        widths[0] = max(widths[0] + spare, 12)
    lines = []
    for row in (header, *rows):
        first, *more = textwrap.wrap(row[0], widths[0]) or [""]
        cells = [first.ljust(widths[0])]
        for column in range(1, len(header)):
            cell = row[column]
            width = widths[column]
            cells.append(cell.ljust(width) if column < words else cell.rjust(width))
        lines.append(_GAP.join(cells).rstrip())
        lines.extend(f"  {text}" for text in more)
    return lines


def paragraph(text: str, indent: str = "") -> list[str]:
    """Return a text wrapped to the terminal, with ``indent`` before every line but the first."""
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def listed(items: Sequence[str]) -> list[str]:
    """Return each item as a wrapped point of a list."""
    return [line for item in items for line in paragraph(f"- {item}", "  ")]
