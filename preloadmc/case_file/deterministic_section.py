"""The section [deterministic]: a stated scatter for the check beside the probabilistic one."""

from __future__ import annotations

from preloadmc.case import Deterministic
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.mechanics.bounds import scatter_ratio_of_half_width
from preloadmc.mechanics.scatter_table import typical_scatter
from preloadmc.units import RATIO

STATED = "as stated in the case file"


def read_deterministic(table: Table, draft: Draft) -> Deterministic | None:
    """Read [deterministic]; None where the file has none."""
    uncertainty = table.quantity("uncertainty", RATIO, above=0.0, high=0.99)
    ratio = table.quantity("scatter_ratio", RATIO, above=1.0, high=100.0)
    tolerance = table.quantity("control_tolerance", RATIO, low=0.0, high=0.5)
    averaged = table.whole_number("averaged_fasteners", 1, 10_000)
    tested = table.raw("relaxation_tested")
    typical = table.text("typical", "a row of the table of typical scatter")
    table.close()
    if not table.data:
        return None
    if tested not in (None, True, False):
        table.problem("relaxation_tested", "true or false")
    uncertainty_source = ratio_source = STATED
    if typical:
        if "uncertainty" in table.data and "scatter_ratio" in table.data:
            table.problem("typical", "nothing: uncertainty and scatter_ratio are stated")
            return None
        try:
            row = typical_scatter(typical)
        except ValueError as error:
            table.problem("typical", str(error))
            return None
        words = f"'{row.name}', the worst case stated; {row.source}"
        if uncertainty is None:
            uncertainty, uncertainty_source = row.high, words
        if ratio is None:
            ratio, ratio_source = float(scatter_ratio_of_half_width(row.high)), words
    elif (
        uncertainty is None
        and ratio is None
        and not {"uncertainty", "scatter_ratio"} & {*table.data}
    ):
        draft.problems.add(
            table.path, None, "a scatter: uncertainty, scatter_ratio or typical, the name of a row"
        )
        return None
    if tolerance is None and uncertainty is not None:
        draft.assume(
            table.at("control_tolerance"), "0: what controls the preload is met, or is in Gamma"
        )
    return Deterministic(
        uncertainty=uncertainty,
        uncertainty_source=uncertainty_source,
        control_tolerance=tolerance or 0.0,
        averaged_fasteners=averaged or 1,
        relaxation_tested=tested is True,
        scatter_ratio=ratio,
        scatter_ratio_source=ratio_source,
    )
