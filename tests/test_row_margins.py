"""Margins of many cases at once: each row has those of its own case."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from preloadmc.case_file import load_case
from preloadmc.chance.laws import Constant
from preloadmc.engine import case_margins
from preloadmc.limits import as_columns
from preloadmc.questions.aim import Setting, case_at
from preloadmc.row_margins import RowMargins, likeness, together

CASES_FOLDER = Path(__file__).parent.parent / "cases"
# Many states and limits; inputs correlated or following others; a tapped hole; torque and angle.
CASES = ("crane_bracket", "motor_flange", "sensor_lid", "bearing_cap", "securing_choice")


def rows_of(name):
    """The case at three settings, two of them with parts of other thickness."""
    case = load_case(CASES_FOLDER / f"{name}.toml")
    setting = Setting.of(case).present
    thicker = [
        replace(
            case,
            joint=replace(
                case.joint,
                parts=tuple(
                    replace(part, thickness=f * part.thickness) for part in case.joint.parts
                ),
            ),
        )
        for f in (1.0, 1.1, 0.9)
    ]
    return [case_at(each, f * setting) for each, f in zip(thicker, (1.0, 0.9, 1.1), strict=True)]


@pytest.mark.parametrize("name", CASES)
def test_each_row_has_the_margins_of_its_own_case(name):
    rows = rows_of(name)
    margins = RowMargins(rows)
    z = np.random.default_rng(2).standard_normal((30, margins.d))
    row = np.repeat(np.arange(3), 10)
    found = margins(z, row)
    for place, case in enumerate(rows):
        mine = row == place
        own = as_columns(case_margins(case, case.inputs(z[mine], case.uncertain), others=True), 10)
        assert found[mine] == pytest.approx(own, rel=1e-10, abs=1e-9)
    assert [limit.name for limit in margins.limits] == [
        each.limit.name for each in case_margins(rows[0], rows[0].means, others=True)
    ]


def test_cases_that_differ_in_numbers_are_alike_and_others_are_not(make_case):
    one = make_case({"friction.thread": {"law": "normal", "mean": 0.12, "cov": 0.1}})
    other = make_case({"friction.thread": {"law": "normal", "mean": 0.15, "cov": 0.12}})
    constant = make_case({})
    finer = make_case({"fastener.thread": "M12x1.25"})
    assert likeness(one) == likeness(other)
    assert likeness(one) != likeness(constant)
    assert sorted(map(len, together([one, constant, other, finer]).values())) == [1, 1, 2]


def test_constants_that_differ_by_row_are_those_of_the_row(make_case):
    base = make_case({"friction.thread": {"law": "normal", "mean": 0.12, "cov": 0.1}})
    rows = [base, base.with_laws({"friction.bearing": Constant(0.2)})]
    found = RowMargins(rows)(np.zeros((2, 1)), np.arange(2))
    # More friction under the head leaves less preload, so a smaller margin to the minimum.
    assert found[1, 0] < found[0, 0]
