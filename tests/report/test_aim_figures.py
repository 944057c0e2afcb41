"""Figures of aiming: read from their axes; no text may overlap."""

from dataclasses import replace

import numpy as np
import pytest
from legible import assert_legible

from preloadmc import aim, load_case
from preloadmc.report.documents.aim import aim_document
from preloadmc.report.documents.document import as_json
from preloadmc.report.figures.aim import aim_figures, lead_spread
from preloadmc.report.text.aim import aim_text

SHIPPED = ("conveyor_bracket", "pump_cover", "sensor_lid")
# 1 lbf·ft = 1355.8179483314004 N·mm, 1 N·m = 1000 N·mm (NIST SP 811, B.8).
UNITS = {"metric": ("N·m", 1e3), "inch": ("lbf·ft", 1355.8179483314004)}
SCATTER = {"law": "lognormal", "mean": 0.12, "cov": "10 %"}
BASIS = {
    "friction.thread": SCATTER,
    "friction.bearing": SCATTER,
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "requirement.allowed_under": 1e-4,
    "requirement.allowed_over": 1e-3,
}
EXTREMES = {
    "present far below": {"tightening.torque": "20 N·m"},
    "present at the edge": {"tightening.torque": "128 N·m"},
    "present beside the best": {"tightening.torque": "81.1 N·m"},
    "narrow window": {
        "requirement.minimum_preload": "55 kN",
        "requirement.maximum_preload": "56 kN",
    },
    "nothing allowed is stated": {
        "requirement.allowed_under": None,
        "requirement.allowed_over": None,
    },
    "tiny": {"requirement.allowed_under": 1e-9, "requirement.allowed_over": 1e-8},
    "no tool scatter": {"tightening.tool": None},
    "no minimum": {"requirement.minimum_preload": "0 kN"},
    "tool bias": {"tightening.bias": {"law": "normal", "mean": "0 %", "sd": "4 %"}},
}


@pytest.fixture(scope="module")
def shipped(case_files):
    """The results of the shipped cases, told in both unit systems."""
    results = {path.stem: aim(load_case(path)) for path in case_files if path.stem in SHIPPED}
    return {
        (name, system): replace(result, system=system)
        for name, result in results.items()
        for system in UNITS
    }


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("system", UNITS)
def test_the_figures_of_the_shipped_cases_are_legible(shipped, name, system):
    figures = aim_figures(shipped[name, system])
    assert [named.name for named in figures] == ["setting", "scatter_border"]
    for named in figures:
        assert_legible(named.figure)
        assert named.alt.endswith(".")


@pytest.mark.parametrize("name", EXTREMES)
def test_extreme_cases_are_legible_and_told(make_case, name):
    result = aim(make_case({**BASIS, **EXTREMES[name]}), system="inch")
    for named in aim_figures(result):
        assert_legible(named.figure)
    text = aim_text(result)
    assert text.splitlines()[:3] == list(result.answer)
    assert max(len(line) for line in text.splitlines()[3:]) <= 84
    assert "NaN" not in as_json(aim_document(result))


@pytest.mark.parametrize(("system", "unit"), [(s, u) for s, (u, _) in UNITS.items()])
def test_axes_have_their_units(shipped, system, unit):
    setting, border = aim_figures(shipped["conveyor_bracket", system])
    (ax,) = setting.figure.axes
    assert ax.get_xlabel() == f"set torque ({unit})"
    assert ax.get_ylabel() == "misses per million joints"
    (ax,) = border.figure.axes
    assert ax.get_xlabel() == "tool scatter, s.d. (%)"
    assert ax.get_ylabel() == "thread friction, s.d. (%), others along"


@pytest.mark.parametrize("system", UNITS)
def test_curves_shade_and_marks_stand_where_the_result_says(shipped, system):
    result = shipped["sensor_lid", system]
    size = UNITS[system][1]
    (ax,) = aim_figures(result)[0].figure.axes
    lines = {line.get_label(): line for line in ax.lines}
    for side, curve in (("under", result.under), ("over", result.over)):
        x, y = lines[side].get_data()
        seen = curve.value > 0.0
        assert x == pytest.approx(curve.levels[seen] / size, rel=1e-9)
        assert y == pytest.approx(1e6 * curve.value[seen])
    (shade,) = [patch for patch in ax.patches if patch.get_height() == 1.0]
    low, high = result.aim.interval
    assert shade.get_x() == pytest.approx(low / size)
    assert shade.get_x() + shade.get_width() == pytest.approx(high / size)
    allowed = {line.get_ydata()[0] for line in ax.lines if line.is_dashed()}
    assert allowed == {1e4}
    marks = [line for line in ax.lines if line.get_marker() in ("v", "^")]
    assert sorted(float(mark.get_ydata()[0]) for mark in marks) == pytest.approx(
        sorted(1e6 * outcome.probability.value for outcome in result.verification.outcomes)
    )
    upright = [line.get_xdata()[0] for line in ax.lines if list(line.get_ydata()) == [0, 1]]
    assert upright == pytest.approx([8500 / size, result.to_set.setting / size])


def test_the_border_is_drawn_in_spreads(shipped):
    result = shipped["pump_cover", "metric"]
    (ax,) = aim_figures(result)[1].figure.axes
    lines = {line.get_label(): line for line in ax.lines}
    border = np.array([(point.tool, point.friction) for point in result.allowed_scatter.border])
    x, y = lines["border"].get_data()
    # The tool's uniform law of +-4 % has an s.d. of 4/sqrt(3) %; the nut factor's cov is 19 %.
    assert x == pytest.approx(border[:, 0] * 4.0 / np.sqrt(3.0))
    assert y == pytest.approx(border[:, 1] * 19.0)
    assert lines["now"].get_xydata()[0] == pytest.approx([4.0 / np.sqrt(3.0), 19.0])


def test_the_widest_input_leads_its_group(make_case):
    bias = {"tightening.bias": {"law": "normal", "mean": "0 %", "sd": "4 %"}}
    result = aim(make_case({**BASIS, **bias}))
    assert lead_spread(result.allowed_scatter, "tool").name == "tightening.bias"
    (ax,) = aim_figures(result)[1].figure.axes
    assert ax.get_xlabel() == "tool bias, s.d. (%), others along"


def test_the_text_tells_what_was_found(shipped):
    text = aim_text(shipped["conveyor_bracket", "metric"], seconds=1.25)
    for words in (
        "set torque",
        "now",
        "to set",
        "lowest",
        "highest",
        "agrees",
        "The likeliest way to under-preload there (minimum preload, settled",
        "tool and friction together",
        "Tool scatter with the friction scatter that just meets it",
        "joints break in tightening",
        ", 1.2 s.",
        "Cautions:",
    ):
        assert words in text
    poor = aim_text(shipped["pump_cover", "metric"])
    assert "tool: not even without it" in poor


def test_the_document_holds_every_number_with_its_interval(shipped):
    result = shipped["sensor_lid", "metric"]
    document = aim_document(result)
    setting = document["setting"]
    assert (setting["input"], setting["unit"]) == ("tightening.torque", "N·mm")
    assert setting["to_set"]["setting"] == result.to_set.setting
    for point in ("present", "to_set", "best"):
        for outcome in ("under_preload", "over_preload", "outside_window"):
            found = setting[point][outcome]
            assert found["low"] <= found["probability"] <= found["high"]
    assert document["verification"]["confirmed"] is True
    curve = document["curve"]
    assert len(curve["setting"]) == len(curve["under_preload"]["probability"]) > 90
    assert {room["scatter"] for room in document["room"]} >= {"tool", "friction"}
    assert document["cautions"]
