"""What control of each source of scatter is worth, as text."""

from __future__ import annotations

from collections.abc import Sequence

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.verdicts import LABELS
from preloadmc.judgement.wording import probability_words, round_to_interval, unit_of_share
from preloadmc.questions.control import Changed, ControlResult
from preloadmc.report.text.blocks import Paragraph, Section, Table, folded
from preloadmc.units import format_number

# A side that makes less than this share of the misses gets no table of its own.
_WORTH_A_TABLE = 0.02


def control_sections(result: ControlResult, title: str) -> tuple[Section, ...]:
    """Return the tables: each outcome if a source of scatter were halved or removed."""
    shown = shown_outcomes(result)
    sections = []
    for outcome in shown:
        cells = [
            tuple(
                "-" if changed is None else probability_words(changed.probabilities[outcome])
                for changed in changes
            )
            for _, *changes in _rows(result, outcome)
        ]
        table = _table(result, outcome, LABELS[outcome], cells)
        sections.append(Section(f"{title}: {LABELS[outcome]}", (table,)))
    left = [
        tuple("-" if changed is None else left_words(changed, shown[-1]) for changed in changes)
        for _, *changes in _rows(result, shown[-1])
    ]
    table = _table(result, shown[-1], f"times today's misses, {LABELS[shown[-1]]}", left)
    as_is = "; ".join(
        f"{LABELS[name]} {probability_words(found)}" for name, found in result.as_is.items()
    )
    words = (
        f"{title}; as it is, on the same draws: {as_is}. Halved: half the standard deviation, mean "
        f"kept; removed: constant at the mean; correlated inputs go together.{_loss_words(result)} "
        "Times today's misses: 1 is as it is; its interval is narrow, since the draws are common, "
        "and the answer above applies it to the run's own estimate. "
        f"{_how_estimated(result, shown)}. {result.model_calls:,} model calls in all, seed "
        f"{result.seed}."
    )
    return (
        *sections,
        Section(f"{title}: what is left", (table,), drawn=True),
        *folded((Section(f"{title}: how it was estimated", (Paragraph(words),)),)),
    )


def _loss_words(result: ControlResult) -> str:
    if not result.losses:
        return ""
    return (
        " A loss is halved with its mean and its scatter; a temperature difference is that from "
        "assembly."
    )


def _how_estimated(result: ControlResult, outcomes: Sequence[str]) -> str:
    """Return how the outcomes were estimated, those alike together."""
    alike: dict[str, list[str]] = {}
    for outcome in outcomes:
        alike.setdefault(estimated_words(result, outcome), []).append(LABELS[outcome])
    parts = [f"{', '.join(labels)}: {words}" for words, labels in alike.items()]
    return "; ".join(parts) if len(parts) > 1 else next(iter(alike)).capitalize()


def estimated_words(result: ControlResult, outcome: str) -> str:
    """Return how the probabilities of an outcome were estimated, as it is and after each change."""
    counted = f"counted on the same {result.samples:,} plain samples"
    weighted = f"estimated by importance sampling on {result.draws:,} common draws"
    methods = result.methods(outcome)
    if methods == ("plain",):
        return counted
    if "plain" in methods:
        return f"{counted} where these resolve it, else {weighted}"
    return weighted


def source_rows(
    result: ControlResult, outcome: str
) -> list[tuple[str, Changed | None, Changed | None]]:
    """Return label, halved and removed of each source, and of the tool's bias if it has one."""
    rows: list[tuple[str, Changed | None, Changed | None]] = [
        (source.source, source.halved, source.removed) for source in result.by_worth(outcome)
    ]
    if result.bias_corrected is not None:
        rows.append(("bias of the tool", None, result.bias_corrected))
    return rows


def _rows(result: ControlResult, outcome: str) -> list[tuple[str, Changed | None, Changed | None]]:
    """Return the rows of the tables: every source of scatter, then every loss."""
    losses = sorted(result.losses, key=lambda lever: lever.halved.differences[outcome].value)
    return [
        *source_rows(result, outcome),
        *((f"loss: {lever.loss}", lever.halved, None) for lever in losses),
    ]


def _table(
    result: ControlResult, outcome: str, label: str, cells: Sequence[tuple[str, ...]]
) -> Table:
    names = [name for name, *_ in _rows(result, outcome)]
    rows = tuple((name, *row) for name, row in zip(names, cells, strict=True))
    return Table((label, "if halved", "if removed"), rows)


def shown_outcomes(result: ControlResult) -> tuple[str, ...]:
    """Return the outcomes that have misses worth a table: one side, or both and either."""
    outside = result.as_is[OUTSIDE].value
    sides = tuple(
        name
        for name in ("under_preload", "over_preload")
        if outside > 0.0 and result.as_is[name].value > _WORTH_A_TABLE * outside
    )
    return sides if len(sides) == 1 else (*sides, OUTSIDE)


def left_words(changed: Changed, outcome: str) -> str:
    """Return how many times today's misses a change leaves, with its interval."""
    left = changed.misses_left.get(outcome)
    if left is None:
        return "-"
    if left.value == 0.0:
        return f"below {format_number(left.high, 2)}"
    if left.low == left.high:
        return f"{left.value:g}"
    scale, unit = (1.0, "") if left.value >= 1e-4 else unit_of_share(left.value)
    value, low, high = round_to_interval(scale * left.value, scale * left.low, scale * left.high)
    return f"{value}{unit} ({low} to {high})"
