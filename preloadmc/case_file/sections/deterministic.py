"""The section [deterministic]: a stated scatter for the check beside the probabilistic one."""

from __future__ import annotations

from preloadmc.case import Deterministic
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Flag, Quantity, Table, Whole
from preloadmc.case_file.sections.tightening import TYPICAL
from preloadmc.inputs import Default
from preloadmc.mechanics.bounds import scatter_ratio_of_half_width
from preloadmc.mechanics.scatter_table import TypicalScatter
from preloadmc.units import RATIO

_UNCERTAINTY, _RATIO = "deterministic.uncertainty", "deterministic.scatter_ratio"
_TYPICAL, _TOLERANCE = "deterministic.typical", "deterministic.control_tolerance"
_AVERAGED, _TESTED = "deterministic.averaged_fasteners", "deterministic.relaxation_tested"
FIELDS = (
    Field(
        "deterministic", Table(), "scatter for largest and smallest preload without probabilities"
    ),
    Field(
        _UNCERTAINTY,
        Quantity(RATIO, above=0.0, high=0.99),
        "half width Gamma of the preload's scatter, over the middle preload",
        '"25 %"',
    ),
    Field(
        _RATIO,
        Quantity(RATIO, above=1.0, high=100.0),
        "largest over smallest assembled preload",
        "1.6",
    ),
    Field(
        _TYPICAL,
        TYPICAL,
        "row of the table of typical scatter, for what is not stated",
        '"torque wrench smooth, VDI 2230-1:2015"',
    ),
    Field(
        _TOLERANCE,
        Quantity(RATIO, low=0.0, high=0.5),
        "half width of what is controlled, such as the set torque",
        '"5 %"',
        Default(0.0, "0: what controls the preload is met, or is in Gamma"),
    ),
    Field(
        _AVERAGED,
        Whole(1, 10_000),
        "number of fasteners that share a load, so that their mean counts",
        "4",
        Default(1, "1"),
    ),
    Field(
        _TESTED,
        Flag(),
        "whether tests stand behind the stated losses",
        "true",
        Default(False, "false"),
    ),
)
_STATED = "as stated in the case file"


def deterministic_of(draft: Draft) -> Deterministic | None:
    """Return the stated scatter; None where the file states none."""
    stated = draft.stated
    if not stated.has_table("deterministic"):
        return None
    uncertainty, ratio = stated.get(_UNCERTAINTY, float), stated.get(_RATIO, float)
    row = stated.get(_TYPICAL, TypicalScatter)
    uncertainty_source = ratio_source = _STATED
    if _UNCERTAINTY in stated and _RATIO in stated:
        if _TYPICAL in stated:
            stated.problem(_TYPICAL, "remove it: uncertainty and scatter_ratio are stated")
    elif row is not None:
        words = f"'{row.name}', the worst case stated; {row.source}"
        if uncertainty is None:
            uncertainty, uncertainty_source = row.high, words
        if ratio is None:
            ratio, ratio_source = float(scatter_ratio_of_half_width(row.high)), words
    elif not any(
        path in stated or stated.problems.at(path) for path in (_UNCERTAINTY, _RATIO, _TYPICAL)
    ):
        stated.problems.add(
            "deterministic",
            None,
            "a scatter: uncertainty, scatter_ratio or typical, the name of a row",
        )
    if uncertainty is not None:
        draft.assume_default(_TOLERANCE)
    return Deterministic(
        uncertainty=uncertainty,
        uncertainty_source=uncertainty_source,
        control_tolerance=stated.known(_TOLERANCE, float),
        averaged_fasteners=stated.known(_AVERAGED, int),
        relaxation_tested=stated.known(_TESTED, bool),
        scatter_ratio=ratio,
        scatter_ratio_source=ratio_source,
    )
