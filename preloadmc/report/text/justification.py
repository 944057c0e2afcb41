"""A decision on one page, as it could go into a design file."""

from __future__ import annotations

from preloadmc import __version__
from preloadmc.judgement.wording import probability_words, quoted
from preloadmc.limits import LOOSENING
from preloadmc.questions.compare import Alternative, CompareResult, amount_words
from preloadmc.questions.control import control_words
from preloadmc.report.text.cautions import CAUTIONS, INTERVALS
from preloadmc.report.text.changes import change_lines
from preloadmc.report.text.compare import SECURING_NOTE
from preloadmc.report.text.tables import aligned, listed, paragraph


def justification_text(result: CompareResult, system: str = "metric") -> str:
    """Return the decision, its numbers, basis and cautions, with room for signatures."""
    chosen = result.chosen
    decision = result.answer[2].removeprefix("What to do: ")
    header = ["alternative", "outside the window (95 %)", "allowed"]
    rows = [
        [each.name, probability_words(each.outcome("outside_window").probability), _allowed(each)]
        for each in result.alternatives
    ]
    if any(each.expected_cost is not None for each in result.alternatives):
        header.append("cost with misses")
        for row, each in zip(rows, result.alternatives, strict=True):
            row.append("-" if each.expected_cost is None else amount_words(each.expected_cost))
    lines = [
        *paragraph(f"JUSTIFICATION: {result.case.title}"),
        "",
        *paragraph(f"Decision: {decision}"),
        "",
        *aligned(header, rows),
        "",
        *paragraph(result.answer[1]),
        "",
    ]
    if result.best > 0:
        changes = change_lines(result.case, chosen.case, system)
        lines += [*paragraph(f"{quoted(chosen.name)} changes:"), *listed(changes), ""]
    worth = result.controls.get(chosen.name)
    words = "" if worth is None else control_words(chosen.outcomes, worth)
    if words and result.best > 0:
        lines += [*paragraph(f"What is left to gain with {quoted(chosen.name)}: {words}."), ""]
    if chosen.case.joint.securing is not None or LOOSENING.name in chosen.securing:
        lines += [*paragraph(SECURING_NOTE), ""]
    lines += [
        *paragraph(
            f"Basis: case {result.case.source} (sha256 {result.case.sha256[:16]}...), preloadmc "
            f"{__version__}, seed {result.seed}, {result.model_calls:,} model calls; "
            f"{len(chosen.case.assumptions)} assumed values, each with its source in report.txt. "
            f"{INTERVALS}"
        ),
        "",
        "Cautions:",
        *listed(CAUTIONS),
        "",
        "Prepared by: ____________________   Checked by: ____________________",
        "Date:        ____________________   Date:       ____________________",
    ]
    return "\n".join(lines) + "\n"


def _allowed(alternative: Alternative) -> str:
    """Return the verdict on both sides, and which side makes it where only one does."""
    sides = [side.label for side in alternative.outcomes[:2] if side.verdict == "misses"]
    return f"misses {sides[0].partition('-')[0]}" if len(sides) == 1 else alternative.verdict
