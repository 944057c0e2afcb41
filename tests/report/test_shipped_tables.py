"""The shipped tables: every row with its source, within the width of a terminal."""

import re

import pytest

from preloadmc.evidence import KINDS
from preloadmc.joint import METHODS
from preloadmc.mechanics.creep import known_creep
from preloadmc.mechanics.fatigue import fully_corrected_rows
from preloadmc.mechanics.materials import known_materials
from preloadmc.mechanics.securing import known_securing_elements
from preloadmc.mechanics.thread import known_threads
from preloadmc.report.text.shipped_tables import TABLES, shipped_table


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_a_source_and_fits(name, system):
    text = shipped_table(name, system)
    assert max(len(line) for line in text.splitlines()) <= 80
    used = {int(n) for n in re.findall(r"\[(\d+)\]$", text, re.MULTILINE)}
    listed = {int(n) for n in re.findall(r"^\[(\d+)\] \S", text, re.MULTILINE)}
    assert used == listed == set(range(1, len(listed) + 1))


@pytest.mark.parametrize(
    ("name", "rows"),
    [
        ("threads", known_threads()),
        ("materials", known_materials()),
        ("securing", known_securing_elements()),
        ("fatigue", ("rolled before heat treatment", *(row[0] for row in fully_corrected_rows()))),
        ("creep", known_creep()),
        ("methods", tuple(METHODS)),
        ("evidence", KINDS),
    ],
)
def test_nothing_known_is_left_out(name, rows):
    lines = shipped_table(name).splitlines()
    for row in rows:
        assert any(line.startswith(row) for line in lines), row


@pytest.mark.published
def test_a_row_in_both_systems():
    # ISO 898-1, table of nominal stress areas: M12 84.3 mm²; 84.27/645.16 = 0.1306 in².
    assert re.search(r"^M12 +12 +1.75 .* 84.27 ", shipped_table("threads"), re.MULTILINE)
    assert re.search(r"^M12 .* 0.1306 ", shipped_table("threads", "inch"), re.MULTILINE)


def test_one_value_is_not_told_as_a_range():
    text = shipped_table("scatter")
    assert re.search(r"torque wrench, Machinery's Handbook +25 +1.67", text)
    assert "25 to 25" not in text


@pytest.mark.parametrize(
    "row",
    [
        # Sizes as in ISO 898-1:2013, ISO 3506-1:2009 and SAE J429 (see the tests of grades).
        r"^8\.8 +up to 16 mm +640 ",
        r"^8\.8 +above 16 to 39 mm +660 ",
        r"^9\.8 +up to 16 mm ",
        r"^A4-70 +up to 24 mm ",
        r"^SAE J429 grade 5\.2 +up to 25\.4 mm ",
        r"larger sizes as\s+agreed between buyer and seller \(value from memory\)",
    ],
)
def test_strengths_say_for_which_sizes_they_hold(row):
    assert re.search(row, shipped_table("grades"), re.MULTILINE)


@pytest.mark.parametrize("words", ["molybdenum disulphide", "lightly oiled"])
def test_friction_is_found_by_the_words_of_the_trade(words):
    assert words in " ".join(shipped_table("friction").split())
