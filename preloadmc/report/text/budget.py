"""Where preload goes between assembly and the residual preload, as a table."""

from __future__ import annotations

from preloadmc.questions.run import Loss, LossBudget
from preloadmc.report.text.blocks import Paragraph, Section, Table
from preloadmc.units import FORCE, format_number, to_unit

# Below this share of the assembled preload a figure is rounding.
_ROUNDING = 1e-9


def budget_section(budget: LossBudget, system: str = "metric") -> Section:
    """Return the mean and the scatter of each loss, in the order of life."""
    unit = FORCE.unit(system)

    def words(force: float) -> str:
        if abs(force) <= _ROUNDING * budget.assembled:
            return "0"
        return format_number(to_unit(force, unit, FORCE), 3)

    def share(force: float) -> str:
        if budget.assembled <= 0.0:
            return "-"
        return f"{format_number(100.0 * force / budget.assembled, 2)} %"

    rows = [
        (_label(loss), words(loss.mean), words(loss.sd), share(loss.mean)) for loss in budget.losses
    ]
    lost = budget.assembled - budget.residual
    table = Table(
        (f"where preload goes [{unit}]", "mean", "s.d.", "share of assembled"),
        (
            *rows,
            ("back rotation", "0", "-", "not modelled"),
            ("in all", words(lost), "-", share(lost)),
        ),
    )
    note = (
        f"From {words(budget.assembled)} {unit} assembled to {words(budget.residual)} {unit} "
        "residual, which is what is left in the state that leaves least: means over the samples "
        "kept, which add up."
    )
    if any(loss.state for loss in budget.losses):
        note += (
            " A temperature state counts with what it takes from the settled joint, in those "
            "fasteners in which it is the state that leaves least preload."
        )
    return Section("Where preload goes", (table, Paragraph(note)))


def _label(loss: Loss) -> str:
    return f"{loss.cause}, state '{loss.state}'" if loss.state else loss.cause
