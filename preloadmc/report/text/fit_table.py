"""The table of what follows from several columns of tests, for a case file to name."""

from __future__ import annotations

import csv
import io

from preloadmc.questions.fit import TOOL_ERROR, FitResult
from preloadmc.units import format_number

# Digits that reading back changes no result.
_DIGITS = 7


def derived_table(result: FitResult) -> str:
    """Return a CSV file with a row for each test; empty where all fits are of columns as read."""
    derived = [each.measured for each in result.quantities if each.measured.source]
    derived = [each for each in derived if each.name != TOOL_ERROR]
    if not derived:
        return ""
    first = derived[0]
    header = ["line", *([result.lot or "lot"] if first.lots else [])]
    text = io.StringIO()
    text.write(f"# From {result.file.name}, line by line: {first.source}.\n")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*header, *(each.name for each in derived)])
    for place, line in enumerate(first.lines):
        lot = [first.lots[place]] if first.lots else []
        numbers = [format_number(float(each.values[place]), _DIGITS) for each in derived]
        writer.writerow([line, *lot, *numbers])
    return text.getvalue()
