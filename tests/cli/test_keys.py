"""The keys of the case file on the terminal."""

from __future__ import annotations

import tomllib

import pytest

from preloadmc.case_file import keys
from preloadmc.case_file.field import Field
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.law_keys import LAW_KEYS
from preloadmc.chance.laws import LAWS
from preloadmc.report.text.keys import keys_text
from preloadmc.units import FORCE


def blocks(text):
    """What is said in full of each key, by its path."""
    return {each.partition("\n")[0]: each for each in text.rstrip("\n").split("\n\n")}


def test_all_keys_in_short_each_under_its_section(call):
    result = call("keys")
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert max(map(len, lines)) <= 80
    starts = [line.split("  ")[1] for line in lines if line.startswith("  ") and line[2] != " "]
    # A section's own row is its header.
    headers = [line.split("  ")[0] for line in lines if line.startswith("[")]
    rows = list(dict.fromkeys(row.path for row in all_fields()))
    sections = {
        row.path for row in all_fields() if isinstance(row.kind, Table) and "." not in row.path
    }
    assert starts == [
        *(path for path in rows if path not in sections),
        *(key.key for key in LAW_KEYS),
    ]
    assert headers == [
        f"[[{path[:-2]}]]" if path.endswith("[]") else f"[{path}]"
        for path in rows
        if path in sections
    ]


def test_a_key_in_full(call):
    result = call("keys", "HOLE", "diameter")
    assert result.exit_code == 0
    found = blocks(result.output)
    assert [*found] == ["fastener.hole_diameter", "clamped[].hole_diameter"]
    assert found["fastener.hole_diameter"] == (
        "fastener.hole_diameter\n"
        "  diameter of the hole\n"
        "  allowed: a length above 0\n"
        "  units: mm, in, nm, um, cm, m, uin, mil, ft; other products and quotients of\n"
        "    units\n"
        "  example:\n"
        "    [fastener]\n"
        '    hole_diameter = "13.5 mm"'
    )


@pytest.mark.parametrize(
    ("words", "path", "said"),
    [
        # a word of the meaning, of the allowed values, of the names of a table, of a path
        (["angle counts"], "tightening.accept.threshold", "first contact of the parts\n"),
        (["tapped hole"], "fastener.mate", "allowed: one of 'nut', 'tapped hole'"),
        (["wedge-locking"], "securing.element", "names: none, prevailing-torque nut, spring"),
        (["clamped.thickness"], "clamped[].thickness", "  needed: yes\n"),
        (["confidence"], "requirement.confidence", "(usual in tolerance limits)"),
        (["back-off"], "requirement.allowed.spontaneous back-off", '"spontaneous back-off" = 1e-3'),
        (["embedding"], "settling.embedding", "or: a table of roughness, load_direction"),
        (["cmk"], "tightening.tool.cm", 'tool = { tolerance = "6 %", cmk = 1.2, cm = 1.4 }'),
        (["tightening.tool"], "tightening.tool", "allowed: a ratio above -1, or a law of one"),
        (["half_width"], "half_width", "stands in: the table of a law"),
        (["segment"], "fastener.segment[]", "keys: diameter, length"),
    ],
)
def test_what_is_said_of_a_key(call, words, path, said):
    assert said in blocks(call("keys", *words).output)[path]


def test_every_example_is_toml_and_every_key_has_one():
    found = {}
    for letter in "aeiou":  # every key is found by one of them
        found |= blocks(keys_text([letter]))
    rows = {row.path: row for row in all_fields()}
    assert found.keys() == {*rows, *(key.key for key in LAW_KEYS)}
    for path, text in found.items():
        _, example, lines = text.partition("  example:\n")
        assert example, path
        stated = tomllib.loads("\n".join(line.strip() for line in lines.splitlines()))
        for key in path.removesuffix("[]").split("."):
            stated = stated[key.removesuffix("[]")]
            stated = stated[0] if key.endswith("[]") else stated
        if path in rows and not isinstance(rows[path].kind, Table):
            assert stated == tomllib.loads(f"x = {rows[path].example}")["x"], path


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["torqe"], "no key has 'torqe'; nearest: torque"),
        (["hole_diametre"], "no key has 'hole_diametre'; nearest: hole_diameter"),
        (["hole", "diamter"], "no key has 'diamter'; nearest: diameter"),
        (["cmk", "paint"], "no key has all of 'cmk' and 'paint'; ask for fewer words"),
        (["xqzw"], "no key has 'xqzw'. All keys: preloadmc keys"),
    ],
)
def test_words_that_no_key_has(call, words, said):
    result = call("keys", *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr


def test_how_to_state_a_law(call):
    text = call("keys", "law").output
    assert max(map(len, text.splitlines())) <= 80
    shown = [line.split("  ")[1] for line in text.splitlines() if line.startswith("  ")]
    assert {*LAWS} <= {law for words in shown for law in words.split(", ")}
    assert {key.key for key in LAW_KEYS} <= {*shown}
    for words in (
        "uniform                             low, high\n",
        "truncated normal                    mean, one spread; also low, high\n",
        "tests (a CSV file); also unit, measuring,\n",
        "One spread: sd, cov, half_width, scatter_ratio;",
    ):
        assert words in text


def test_the_width_is_that_of_the_terminal():
    wide, narrow = keys_text(width=200), keys_text(["embedding"], width=50)
    assert max(map(len, wide.splitlines())) > 120
    assert max(len(line) for line in narrow.splitlines() if not line.startswith("    ")) <= 50
    assert wide.split() == keys_text().split()


def test_a_key_that_is_added_is_found(monkeypatch, call):
    row = Field("budget.left", Quantity(FORCE, low=0.0), "what is left", '"2 kN"')
    monkeypatch.setattr(keys, "_FACTS", (*keys._FACTS, row))
    assert "allowed: a force at least 0\n" in call("keys", "budget").output


def test_a_new_case_file_points_to_the_keys(call, tmp_path):
    told = call("new", tmp_path / "joint.toml")
    words = "All keys of a case file: preloadmc keys; any in full: preloadmc keys WORD\n"
    assert told.output.endswith(words)


def test_what_is_shared_by_whom_and_what_is_unless_stated(call):
    text = " ".join(call("keys", "shared").stdout.split())
    assert "by (one of 'tool', 'lot', 'joint') and fraction" in text
    for words in ("1 by tool for tightening.bias", "0.5 by lot for friction;", "none for others"):
        assert words in text
