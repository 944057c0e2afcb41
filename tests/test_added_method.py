"""A tightening method added here, and nowhere else, answers every question."""

from __future__ import annotations

import pytest

from preloadmc import aim, check, compare, derive, run
from preloadmc.errors import CaseError
from preloadmc.inputs import INPUT_KINDS, InputKind
from preloadmc.joint import METHODS, Control, Method
from preloadmc.joint.quantities import control_factor
from preloadmc.joint.tightened import Tightened
from preloadmc.report.text.case import check_text
from preloadmc.report.text.derive import derive_text
from preloadmc.report.text.shipped_tables import shipped_table
from preloadmc.steps import Step, force
from preloadmc.units import FORCE

READING = InputKind(
    "tightening.reading",
    "load cell reading",
    FORCE,
    "tool",
    meaning="what a load cell under the head reads",
    example='"35 kN"',
)


def tighten(joint, x, basis):
    """Stop at a reading of a load cell under the head, which reads a tenth too little."""
    return Tightened(x["tightening.reading"] * control_factor(x) * 1.1)


def steps(joint, x, assembly):
    """The same by hand."""
    reading = force("R", x["tightening.reading"])
    yield Step("Preload read", "F_M", "{R}·1.1", (reading,), 1.1 * reading.value, FORCE, "test")


LOAD_CELL = Method(
    "load cell",
    (Control("reading", "what the cell reads"),),
    "reading",
    tighten,
    steps,
    scatter_about="reading",
)


@pytest.fixture(autouse=True)
def added(monkeypatch):
    """The method and its input, each as one row of its list."""
    monkeypatch.setitem(METHODS, LOAD_CELL.name, LOAD_CELL)
    monkeypatch.setitem(INPUT_KINDS, READING.name, READING)


@pytest.fixture
def case(make_case):
    """A joint tightened by the added method, and an alternative with a better cell."""
    better = {"name": "better cell", "tightening": {"tool": {"law": "normal", "cov": "2 %"}}}
    return make_case(
        {
            "tightening": {
                "method": "load cell",
                "reading": "35 kN",
                "tool": {"law": "normal", "cov": "5 %"},
            },
            "requirement": {
                "minimum_preload": "35 kN",
                "maximum_preload": "42 kN",
                "allowed_under": 1e-3,
                "allowed_over": 1e-3,
            },
            "alternative": [better],
        }
    )


def test_it_is_checked_and_derived(case):
    assert "tightened by load cell (35 kN)" in check_text(check(case)).replace("\n", " ")
    assert check(case).nominal.path["assembled"] == pytest.approx(38.5e3)
    text = derive_text(derive(case))
    assert "Tightening: load cell" in text
    assert "35 kN·1.1" in text
    assert "load cell: what the cell reads" in shipped_table("methods").replace("\n  ", " ")


def test_it_is_run_aimed_and_compared(case):
    # 38.5 kN with 5 %: 3.5 kN is 1.818 s.d. to either side, Phi(-1.818) = 3.45 %.
    found = run(case, samples=40_000).outcome("under_preload").probability
    assert found.low < 0.0345 < found.high
    aimed = aim(case)
    assert aimed.setting.label == "load cell reading"
    # The middle of the window, 38.5 kN, is what a reading of 35 kN gives.
    assert aimed.best.setting == pytest.approx(35e3, rel=0.02)
    assert aimed.to_set is None
    better = compare(case, threads=1).alternatives[1]
    assert better.difference_to_first["outside_window"].high < 0.0
    # 2 %: 4.5 s.d. to either side.
    assert better.judged.outside.probability.high < 1e-4


def test_what_another_method_controls_is_refused(make_case):
    with pytest.raises(CaseError, match=r"tightening\.reading: remove it: the method 'torque'"):
        make_case({"tightening.reading": "35 kN"})
