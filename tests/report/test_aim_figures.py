"""Figures of aiming: read from their axes; no text may overlap."""

import json
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


# Left to the long run.
LONG = ("tiny", "present far below", "no minimum")


@pytest.fixture(scope="module")
def shipped(case_files):
    """The results of the shipped cases, told in both unit systems."""
    results = {path.stem: aim(load_case(path)) for path in case_files if path.stem in SHIPPED}
    return {
        (name, system): replace(result, system=system)
        for name, result in results.items()
        for system in UNITS
    }


@pytest.mark.slow
@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("system", UNITS)
def test_the_figures_of_the_shipped_cases_are_legible(shipped, name, system):
    figures = aim_figures(shipped[name, system])
    assert [named.name for named in figures] == ["setting", "scatter_border"]
    for named in figures:
        assert_legible(named.figure)
        assert named.alt.endswith(".")


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in LONG else name
             for name in EXTREMES],
)  # fmt: skip
def test_extreme_cases_are_legible_and_told(make_case, name):
    result = aim(make_case({**BASIS, **EXTREMES[name]}), system="inch")
    for named in aim_figures(result):
        assert_legible(named.figure)
    text = aim_text(result)
    assert text.splitlines()[:3] == list(result.answer)
    assert max(len(line) for line in text.splitlines()[3:]) <= 80
    assert "NaN" not in as_json(aim_document(result))


@pytest.mark.parametrize(("system", "unit"), [(s, u) for s, (u, _) in UNITS.items()])
def test_axes_have_their_units(shipped, system, unit):
    setting, border = aim_figures(shipped["conveyor_bracket", system])
    (ax,) = setting.figure.axes
    assert ax.get_xlabel() == f"set torque ({unit})"
    assert ax.get_ylabel() == "misses per million fasteners"
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
    # The seats of the hot lid, which close the range from above, have one dotted curve for both.
    dashed = [line.get_ydata() for line in ax.lines if line.is_dashed()]
    assert {y[0] for y in dashed if len(y) == 2} == {1e4}
    assert len([y for y in dashed if len(y) > 2]) == 1
    named = [text.get_text() for text in ax.texts]
    assert "pressure under head\npressure under nut" in named
    marks = [line for line in ax.lines if line.get_marker() in ("v", "^")]
    assert sorted(float(mark.get_ydata()[0]) for mark in marks) == pytest.approx(
        sorted(1e6 * side.probability.value for side in result.verification.judged.sides)
    )
    upright = [line.get_xdata()[0] for line in ax.lines if list(line.get_ydata()) == [0, 1]]
    assert upright == pytest.approx([8500 / size, result.to_set.setting / size])


def test_where_no_setting_meets_nothing_is_shaded(shipped):
    result = shipped["pump_cover", "metric"]
    named = aim_figures(result)[0]
    (ax,) = named.figure.axes
    assert not [patch for patch in ax.patches if patch.get_height() == 1.0]
    words = [text.get_text() for text in ax.texts]
    assert any(each.startswith("least missed ") for each in words)
    assert not any(each.startswith("to set ") for each in words)
    assert "meets every limit" not in named.alt


def test_a_limit_beside_the_window_is_drawn_and_named(make_case):
    """Seats that are crushed from 56 N·m: their curve rises, and is named where it is highest."""
    layer = {"material": "steel", "thickness": "20 mm", "limiting_pressure": "500 MPa"}
    result = aim(make_case({**BASIS, "clamped": [layer, layer]}))
    assert "pressure under head" in result.aim.high_end.limits
    (ax,) = aim_figures(result)[0].figure.axes
    assert any(text.get_text().startswith("pressure under head") for text in ax.texts)
    curve = result.curve["pressure under head"]
    drawn = [np.asarray(line.get_ydata(), float) for line in ax.lines if line.is_dashed()]
    seen = [each for each in drawn if len(each) > 2]
    highest = max(float(each.max()) for each in seen)
    assert highest == pytest.approx(1e6 * curve.value.max())


def test_the_border_is_drawn_in_spreads(shipped):
    result = shipped["pump_cover", "metric"]
    (ax,) = aim_figures(result)[1].figure.axes
    lines = {line.get_label(): line for line in ax.lines}
    border = np.array([(point.tool, point.friction) for point in result.room.border])
    x, y = lines["border"].get_data()
    # The tool's uniform law of +-4 % has an s.d. of 4/sqrt(3) %; the nut factor's cov is 19 %.
    assert x == pytest.approx(border[:, 0] * 4.0 / np.sqrt(3.0))
    assert y == pytest.approx(border[:, 1] * 19.0)
    assert lines["now"].get_xydata()[0] == pytest.approx([4.0 / np.sqrt(3.0), 19.0])


def test_the_widest_input_leads_its_group(make_case):
    bias = {"tightening.bias": {"law": "normal", "mean": "0 %", "sd": "4 %"}}
    result = aim(make_case({**BASIS, **bias}))
    assert lead_spread(result.room, "tool").name == "tightening.bias"
    (ax,) = aim_figures(result)[1].figure.axes
    assert ax.get_xlabel() == "tool bias, s.d. (%), others along"


def test_the_text_tells_what_was_found(shipped):
    result = shipped["conveyor_bracket", "metric"]
    text = " ".join(aim_text(result, seconds=1.25).split())
    low, high = (f"{end / 1e3:.4g}" for end in result.aim.interval)
    best = f"{result.to_set.setting / 1e3:.4g}"
    for words in (
        "set torque [N·m] too little too much",
        "90 now 3.20",
        f"{low} lowest",
        f"{best} to set",
        f"{high} highest",
        "Weighed: each side by what is allowed of it.",
        f"Every limit at {best} N·m, the setting to recommend:",
        f"Every limit at {low} N·m, the lowest:",
        f"Every limit at {high} N·m, the highest:",
        "Not judged, since the case does not say enough: - pressure under head: ",
        " agrees ",
        "The likeliest way to under-preload there (minimum preload, settled",
        "tool and friction together",
        "Tool scatter with the friction scatter that just meets it",
        "fasteners break during tightening and hold none.",
        ", 1.2 s.",
        "Cautions:",
    ):
        assert words in text, words
    assert "least missed" not in text


def test_the_text_of_no_setting_tells_where_weighted_misses_are_least(shipped):
    result = shipped["pump_cover", "inch"]
    assert result.to_set is None
    text = " ".join(aim_text(result).split())
    at = f"{result.looked_at.setting / UNITS['inch'][1]:.4g}"
    assert f"{at} least missed " in text
    assert f"Every limit at {at} lbf·ft, the least missed:" in text
    assert "tool: not even without it" in text
    for words in ("to set", "to recommend", "lowest", "highest"):
        assert f" {words} " not in text.partition("Cautions:")[0].partition("What to set:")[2]


def test_only_a_confirmed_estimate_agrees(shipped):
    """What disagrees is said in the table as well; a bound without a miss cannot confirm."""
    result = shipped["conveyor_bracket", "metric"]
    wrong = replace(result, verification=replace(result.verification, agrees=(False, True)))
    lines = aim_text(wrong).splitlines()
    (under,) = [line for line in lines if line.startswith("too little  ")]
    (over,) = [line for line in lines if line.startswith("too much  ")]
    assert under.endswith("  DISAGREES")
    assert over.endswith("  agrees")


def test_the_document_holds_every_number_with_its_interval(shipped):
    result = shipped["sensor_lid", "metric"]
    document = json.loads(as_json(aim_document(result)))
    setting = document["setting"]
    assert (setting["input"], setting["unit"]) == ("tightening.torque", "N·mm")
    assert setting["to_set"]["setting"] == result.to_set.setting
    assert setting["least_missed"] is None
    assert setting["verdict"] == "meets"
    for point in ("present", "to_set", "best"):
        for outcome in ("under_preload", "over_preload", "outside_window"):
            found = setting[point][outcome]
            assert found["low"] <= found["probability"] <= found["high"]
    assert document["verification"]["confirmed"] is True
    curve = document["curve"]
    assert len(curve["setting"]) == len(curve["under_preload"]["probability"]) > 90
    assert {room["scatter"] for room in document["room"]} >= {"tool", "friction"}
    assert document["cautions"]
