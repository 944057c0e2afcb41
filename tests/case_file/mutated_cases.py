"""Case files with something wrong, as a strategy: shipped cases and examples of rows, mutated."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path

from case_text import case_text
from hypothesis import strategies as st

from preloadmc import typed_numbers, unit_words
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Table
from preloadmc.chance.laws import LAWS

CASES = Path(__file__).parent.parent.parent / "cases"
# Joints that the shipped cases do not have: the other methods, and measured stiffness alone.
JOINT = """
title = "Mutated"
[fastener]
thread = "M12"
property_class = "10.9"
strength = "usual"
plastic_strain = "6 %"
bearing_outer_diameter = "16.63 mm"
hole_diameter = "13.5 mm"
[[clamped]]
material = "steel"
thickness = "32 mm"
[friction]
thread = { law = "lognormal", mean = 0.13, cov = "12 %" }
bearing = { law = "normal", mean = 0.13, cov = "10 %" }
[settling]
embedding = "8 um"
[tightening]
"""
_WINDOW = """
[requirement]
minimum_preload = "28 kN"
allowed_under = 1e-3
allowed_over = 1e-3
"""
# Past yield the plastic elongation is the upper side of the window.
_PLASTIC = f'{_WINDOW}maximum_plastic_elongation = "200 um"'
METHODS = (
    'method = "torque then angle"\ntorque = "30 N·m"\nangle = "40 deg"\n' + _PLASTIC,
    'method = "hydraulic tensioning"\npump_force = "60 kN"\ntransfer_ratio = 0.8' + _WINDOW,
    'method = "yield point sensed"\ndetector_ratio = 1.0\n' + _PLASTIC,
    'method = "elongation measured"\nelongation = "110 um"' + _WINDOW,
    'method = "stated scatter"\npreload = { law = "weibull", mean = "45 kN", cov = "12 %" }'
    + _WINDOW,
    'method = "torque"\ntorque = "77 N·m"\ntool = { tolerance = "6 %", coverage = "2 sd" }'
    + _WINDOW,
)
BASES = (
    *(tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(CASES.glob("*.toml"))),
    *(tomllib.loads(JOINT + method) for method in METHODS),
)
_FIELDS = [field for field in all_fields() if field.example]
_ROWS = [(field.path, tomllib.loads(f"x = {field.example}")["x"]) for field in _FIELDS]
_TABLES = [field.path for field in all_fields() if isinstance(field.kind, Table)]

_UNITS = sorted(unit_words._UNITS)
_ODD_TEXTS = ("", " ", "nan", "inf N", "1e400 kN", "-0 mm", "1/0 in", "1,5 mm", "84 N·m", "5 %",
              "-100 %", "100 %", "M12", "steel", "10.9", "VDI", "x" * 300, "1" * 120, "a\nb",
              "\u202eevil", "\x00", "\u2028", "𝔘 1 kN", "é" * 200, "settled", "hot", "a.b",
              "../x.csv", "loosened_cover.csv")  # fmt: skip
_NUMBERS = st.one_of(
    st.sampled_from([0, 1, -1, 2, 12, 1e-320, 1e-308, 1e308, -1e308, 1e20, 1e21, 1e-20, -0.0, 0.5,
                     float("nan"), float("inf"), 2**63 - 1, -(2**63), 2**63, 10**400, 200, 1000]),
    st.floats(1e-6, 1e6),
    st.floats(),
    st.integers(-5, 50),
)  # fmt: skip
_UNIT_TEXTS = st.one_of(
    st.sampled_from(_UNITS),
    st.sampled_from(
        ["N·m", "um/kN", "mm/N", "ppm/K", "1/K", "N^9", "", "N/N", "MPa·mm^2", "K", "°C"]
    ),
)
_QUANTITIES = st.builds(lambda number, unit: f"{number!r} {unit}", _NUMBERS, _UNIT_TEXTS)


def _typed(number: object, unit: str) -> object:
    """A number in the unit of another value, or bare where that has none."""
    return f"{number!r} {unit}" if unit else number


@st.composite
def _laws(draw: st.DrawFn, like: object) -> dict[str, object]:
    """A table of a law, right or wrong, in the unit of the value that it replaces."""
    _, unit = _split(like)
    law: dict[str, object] = {"law": draw(st.sampled_from(sorted(LAWS)))}
    number, _ = _split(like)
    near = st.floats(0.2, 3.0).map(lambda factor: factor * (number or 1.0))
    for key in draw(st.sets(st.sampled_from(["mean", "low", "mode", "high", "value", "scale",
                                             "location"]), max_size=4)):  # fmt: skip
        law[key] = _typed(draw(st.one_of(near, near, _NUMBERS)), unit)
    for key in draw(st.sets(st.sampled_from(["sd", "cov", "half_width", "scatter_ratio", "shape",
                                             "alpha", "beta"]), max_size=2)):  # fmt: skip
        law[key] = draw(st.one_of(st.floats(0.001, 3.0), _NUMBERS, st.just("10 %")))
    if draw(st.booleans()):
        law["coverage"] = draw(st.sampled_from(["2 sd", "3 sd", "rectangular", "90 %"]))
    if law["law"] == "tabulated":
        law = {"law": "tabulated", "values": [_typed(draw(near), unit) for _ in range(4)]}
    return law


def _split(value: object) -> tuple[float, str]:
    """The number and the unit of a quantity, 0 where a value is none."""
    if isinstance(value, dict):
        value = value.get("mean", value.get("value", value.get("high", "")))
    if isinstance(value, str):
        number, unit = typed_numbers.split_quantity(value) or (0.0, "")
        return (number, unit) if unit else (0.0, "")
    return (
        (float(value), "") if isinstance(value, float | int) and abs(value) < 1e300 else (0.0, "")
    )


def _places(value: object, path: tuple = ()) -> list[tuple]:
    """The path of everything below a value."""
    found = []
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for key, item in items:
        found.append((*path, key))
        if isinstance(item, dict | list):
            found += _places(item, (*path, key))
    return found


def _at(data: object, path: tuple) -> object:
    for key in path:
        data = data[key]
    return data


@st.composite
def _values(draw: st.DrawFn, old: object) -> object:
    """A value to stand in the place of another: of another size, unit, kind or law."""
    number, unit = _split(old)
    way = draw(
        st.sampled_from(["size"] * 6 + ["law"] * 3 + ["unit", "row", "quantity", "odd", "kind"])
    )
    if way == "size":
        factor = draw(st.one_of(st.sampled_from([-1.0, 0.0, 1e-9, 1e-6, 1e-3, 0.01, 0.1, 10.0,
                                                 100.0, 1e3, 1e6, 1e9, 1e30, 1e300]),
                                st.floats(0.3, 3.0), st.floats(0.9, 1.1)))  # fmt: skip
        return _typed((number or 1.0) * factor, unit)
    if way == "unit":
        return _typed(number or 1.0, draw(_UNIT_TEXTS))
    if way == "law":
        return draw(_laws(old))
    if way == "row":
        return draw(st.sampled_from(_ROWS))[1]
    if way == "quantity":
        return draw(_QUANTITIES)
    if way == "odd":
        return draw(st.one_of(st.sampled_from(_ODD_TEXTS), st.text(max_size=20)))
    return draw(st.one_of(_NUMBERS, st.booleans(), st.just([]), st.just({}), st.just([old, old]),
                          st.just({"law": old}), st.just({"from": old})))  # fmt: skip


def _put(data: dict, path: str, value: object) -> None:
    """Put a value where a row stands, in tables made as they are needed."""
    *tables, key = path.split(".")
    at = data
    for name in tables:
        plain = name.removesuffix("[]")
        below = at.setdefault(plain, [{}] if name != plain else {})
        at = below[-1] if isinstance(below, list) and below else below
        if not isinstance(at, dict):
            return
    plain = key.removesuffix("[]")
    at[plain] = [value] if key != plain else value


def _mutate(draw: st.DrawFn, data: dict) -> None:
    places = _places(data)
    if not places:
        return
    # Mostly a quantity, since a wrong word is soon refused.
    quantities = [place for place in places if _split(_at(data, place))[0]]
    path = draw(st.sampled_from(draw(st.sampled_from([quantities, quantities, places])) or places))
    parent, key = _at(data, path[:-1]), path[-1]
    way = draw(st.sampled_from(["value"] * 12 + ["row"] * 3 + ["table", "drop", "rename", "double",
                                                              "swap", "change"]))  # fmt: skip
    if way == "value":
        parent[key] = draw(_values(parent[key]))
    elif way == "row":
        row, example = draw(st.sampled_from(_ROWS))
        _put(data, row, draw(st.one_of(st.just(example), _values(example))))
    elif way == "table":
        _put(data, draw(st.sampled_from(_TABLES)), draw(st.sampled_from([{}, [], [{}], 1, "x"])))
    elif way == "drop":
        del parent[key]
    elif way == "rename" and isinstance(parent, dict):
        known = [field.key for field in _FIELDS]
        name = draw(st.one_of(st.sampled_from(known), st.text(max_size=8), st.just(f"{key}s")))
        parent[name] = parent.pop(key)
    elif way == "double" and isinstance(parent[key], list) and parent[key]:
        parent[key] = parent[key] * draw(st.sampled_from([2, 3, 30, 300]))
    elif way == "swap":
        other = draw(st.sampled_from(places))
        if path != other[: len(path)] and other != path[: len(other)]:
            second = _at(data, other[:-1])
            parent[key], second[other[-1]] = second[other[-1]], parent[key]
    elif way == "change":
        change = {"name": "changed"}
        row, example = draw(st.sampled_from(_ROWS))
        _put(change, row, draw(st.one_of(st.just(example), _values(example))))
        for name in ("alternative", "suspect"):
            if draw(st.booleans()) and isinstance(data.setdefault(name, []), list):
                data[name] = [*data[name], change]


def _mangled(draw: st.DrawFn, text: str) -> bytes:
    """A text with characters or lines that do not belong there."""
    way = draw(st.sampled_from(["none"] * 80 + ["cut", "line", "insert", "byte", "deep"]))
    at = draw(st.integers(0, len(text))) if way != "none" else 0
    if way == "cut":
        text = text[:at]
    elif way == "line":
        lines = text.splitlines(keepends=True)
        text = "".join([*lines, *lines[at % max(len(lines), 1) :]])
    elif way == "insert":
        text = text[:at] + draw(st.text(max_size=5)) + text[at:]
    elif way == "deep":
        text += draw(st.sampled_from(["a" + ".a" * 3000, "[" * 3000, "a = " + "{a=" * 3000])) + "\n"
    content = text.encode("utf-8", "surrogatepass")
    return content[:at] + b"\xff" + content[at:] if way == "byte" else content


@st.composite
def mutated_cases(draw: st.DrawFn) -> bytes:
    """The content of a case file after one to three mutations."""
    data = copy.deepcopy(draw(st.sampled_from(BASES)))
    for _ in range(draw(st.sampled_from([1, 1, 1, 1, 2, 3]))):
        # Each is written down in the file, so that none depends on the objects of another.
        _mutate(draw, data)
        data = copy.deepcopy(data)
    return _mangled(draw, case_text(data))
