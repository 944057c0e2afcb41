"""A tool described as it is bought and tested, turned into the law of its factor 1 + e."""

from __future__ import annotations

import csv
import math

import numpy as np

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.chance import spreads
from preloadmc.chance.laws import Law, Normal, Uniform
from preloadmc.units import RATIO, TORQUE, parse_quantity

TOOL_KEYS = ("tolerance", "rundowns")
_FEWEST_RUNDOWNS = 5


def read_tool(table: Table, draft: Draft) -> Law | None:
    """Read a tool by its tolerance, its capability or its rundowns; None with problems noted.

    Tolerance (as ISO 6789 states a class): a bound about the set value with its coverage.
    Capability: Cm and Cmk within a tolerance. Rundowns: hard- and soft-joint torques.
    """
    if "rundowns" in table:
        law = _from_rundowns(table, draft)
    elif "cmk" in table:
        law = _from_capability(table, draft)
    else:
        law = _from_tolerance(table)
    table.close("shared")
    return law


def _from_tolerance(table: Table) -> Law | None:
    tolerance = table.quantity("tolerance", RATIO, above=0.0, high=0.9)
    coverage = table.choice("coverage", spreads.COVERAGES, None)
    if tolerance is None or coverage is None:
        return None
    if coverage == spreads.RECTANGULAR:
        return Uniform(1.0 - tolerance, 1.0 + tolerance)
    return Normal(1.0, spreads.sd_from_half_width(tolerance, coverage))


def _from_capability(table: Table, draft: Draft) -> Law | None:
    tolerance = table.quantity("tolerance", RATIO, above=0.0, high=0.9)
    cmk = table.quantity("cmk", RATIO, above=0.0)
    cm = table.quantity("cm", RATIO, above=0.0)
    shift = table.choice("shift", ("low", "high"), "")
    if "tolerance" not in table:
        table.missing("tolerance", "the tolerance that Cm and Cmk go with, such as 10 %")
    if tolerance is None or cmk is None or (cm is None and "cm" in table.data):
        return None
    if cm is None:
        cm = cmk
    if cm < cmk:
        table.problem("cm", "Cm, which is never below Cmk")
        return None
    if cm > cmk and not shift:
        table.missing("shift", "'low' or 'high': to which side the mean lies off, as Cmk < Cm says")
        return None
    off = tolerance * (1.0 - cmk / cm) * (-1.0 if shift == "low" else 1.0)
    sd = tolerance / (3.0 * cm)
    draft.assume(
        table.path,
        f"normal, mean {100 * off:+.2g} % off, s.d. {100 * sd:.3g} %, from Cm {cm:g}, Cmk {cmk:g}",
        "Cm = tolerance/(3 s), Cmk = (tolerance - |offset|)/(3 s)",
    )
    return Normal(1.0 + off, sd)


def _from_rundowns(table: Table, draft: Draft) -> Law | None:
    target = table.quantity("target", TORQUE, above=0.0)
    name = table.text("rundowns", "the name of a CSV file beside the case file")
    if "target" not in table:
        table.missing("target", "the set torque of the rundowns")
    if target is None or not name:
        return None
    found = _read_rundowns(table, draft, name)
    if found is None:
        return None
    hard, soft = found["hard"], found["soft"]
    high = max(float(each.mean() + 3.0 * each.std(ddof=1)) for each in (hard, soft))
    low = min(float(each.mean() - 3.0 * each.std(ddof=1)) for each in (hard, soft))
    shift = abs(float(hard.mean() - soft.mean()))
    mean, sd = 0.5 * (high + low) / target, (high - low) / 6.0 / target
    draft.assume(
        table.path,
        f"normal, mean {100 * (mean - 1.0):+.2g} % off, s.d. {100 * sd:.3g} %: combined scatter "
        f"{100 * (high - low) / (0.5 * (high + low)):.3g} % of the mean, mean shift "
        f"{100 * shift / target:.2g} %, {len(hard)} hard and {len(soft)} soft rundowns",
        "ISO 5393, combined range read as 6 s.d. (formulas from memory)",
    )
    return Normal(mean, sd)


def _read_rundowns(table: Table, draft: Draft, name: str) -> dict[str, np.ndarray] | None:
    """Return the torques [N·mm] of the hard and the soft joint, or None with problems noted."""
    torques: dict[str, list[float]] = {"hard": [], "soft": []}
    try:
        with (draft.folder / name).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        table.problem("rundowns", f"a CSV file with columns joint and torque: {error}")
        return None
    for line, row in enumerate(rows, 2):
        joint, torque = (row.get("joint") or "").strip(), row.get("torque") or ""
        try:
            if joint not in torques:
                raise ValueError("joint 'hard' or 'soft'")
            value = parse_quantity(torque, TORQUE)
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError("a torque above 0")
            torques[joint].append(value)
        except ValueError as error:
            table.problems.add(f"{name}, line {line}", f"{joint}, {torque}", str(error))
            return None
    for joint, values in torques.items():
        if len(values) < _FEWEST_RUNDOWNS or len(set(values)) < 2:
            table.problem(
                "rundowns", f"at least {_FEWEST_RUNDOWNS} differing rundowns of the {joint} joint"
            )
            return None
    return {joint: np.array(values) for joint, values in torques.items()}
