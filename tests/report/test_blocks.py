"""Blocks: one report, of which the text is as it ever was."""

import pytest

from preloadmc.chance.laws import Constant, LogNormal, Normal, Tabulated, Weibull
from preloadmc.report.text.blocks import (
    Chapters,
    Paragraph,
    Points,
    Report,
    Section,
    Table,
    Verbatim,
    render_text,
)
from preloadmc.report.text.law_sketch import Sketch
from preloadmc.steps import Chapter, Step, force, length
from preloadmc.units import STRESS

WORDS = "word " * 30
STEPS = (
    Step("Stress", "σ", "{F}/{A}", (force("F", 1e3), length("A", 2.0)), 500.0, STRESS, "a book"),
    Step("Again", "s", "{F}/{A}", (force("F", 2e3), length("A", 2.0)), 1e3, STRESS, "a book", "N."),
    Step("Stated", "k", "", (), 3.0, STRESS, "the case"),
)


def test_a_report_in_its_order():
    report = Report(
        "A joint",
        (
            Section("Not said", (Table(("limit", "kN"), (("slip", "3.1"), ("yield", "12"))),)),
            Section("Nothing", ()),
            Section("Said:", (Points(("one", "two")), Paragraph("And so on.")), titled=True),
        ),
        answer=(f"How likely: {WORDS}", "What to do: rest."),
        opening="It is tightened.",
        warnings=("it is hot",),
    )
    assert render_text(report) == (
        f"How likely: {WORDS}\nWhat to do: rest.\n\nA joint\n\nIt is tightened.\n\n"
        "- Warning: it is hot\n\nlimit   kN\nslip   3.1\nyield   12\n\n"
        "Said:\n- one\n- two\nAnd so on.\n"
    )


def test_what_is_not_there_leaves_no_gap():
    assert render_text(Report("A joint", ())) == "A joint\n"


def test_paragraphs_are_wrapped_and_may_hang():
    first, second = Paragraph(WORDS, hangs=True).lines()
    assert len(first) <= 80
    assert second.startswith("  word")
    assert not Paragraph(WORDS).lines()[1].startswith(" ")


def test_verbatim_text_keeps_its_lines():
    assert Verbatim(f"a  b\n{WORDS}\n").lines() == ["a  b", WORDS]


def test_chapters_count_their_steps_through():
    chapters = (Chapter("One", STEPS[:1]), Chapter("Two", STEPS[1:]))
    assert Chapters(chapters, "metric").lines() == [
        *("", "One", "---", "1. Stress", "   σ = F/A", "     = 1 kN/2 mm", "     = 500 MPa"),
        "   [a book]",
        *("", "Two", "---", "2. Again", "   s = F/A", "     = 2 kN/2 mm", "     = 1000 MPa"),
        *("   N.", "   [a book]", "3. Stated", "   k = 3 MPa", "   [the case]"),
    ]
    again = Chapters(chapters, "metric", counted=False).titled_steps()
    assert [[step.place for step in steps] for _, steps in again] == [[1], [1, 2]]


def test_formula_and_source_are_said_once_in_a_row():
    ((_, steps),) = Chapters((Chapter("One", STEPS),), "metric").titled_steps()
    assert [step.in_symbols for step in steps] == ["F/A", "", ""]
    assert [step.source for step in steps] == ["a book", "", "the case"]
    assert [step.in_numbers for step in steps] == ["1 kN/2 mm", "2 kN/2 mm", ""]


@pytest.mark.parametrize(
    ("name", "law", "alt"),
    [
        # Quantiles of the standard normal at 0.1 and 99.9 %: -+3.0902 (any table of it).
        (
            "tightening.torque",
            Normal(90e3, 2e3),
            "Density of a normal law from 83.8 N·m to 96.2 N·m, mean 90 N·m.",
        ),
        (
            "tightening.tool",
            Normal(1.0, 0.1),
            "Density of a normal law from -30.9 % to 30.9 %, mean 0 %.",
        ),
        ("friction.nut_factor", Tabulated((0.1, 0.2, 0.2)), "3 values from 0.1 to 0.2, mean 0.167"),
    ],
)
def test_a_sketch_says_what_it_shows(name, law, alt):
    sketch = Sketch(name, law, "metric")
    assert sketch.alt.startswith(alt)
    assert f'aria-label="{sketch.alt}"' in sketch.svg_element()
    assert not sketch.is_flat


def test_a_constant_is_not_drawn():
    assert Sketch("tightening.torque", Constant(90e3), "metric").is_flat


def test_sticks_stand_as_high_as_they_are_likely():
    svg = Sketch("friction.nut_factor", Tabulated((0.1, 0.2, 0.2)), "metric").svg_element()
    assert svg.count('class="law-stick"') == 2
    assert 'x1="2.0" x2="2.0" y1="38" y2="20.5"' in svg
    assert 'x1="178.0" x2="178.0" y1="38" y2="3.0"' in svg


@pytest.mark.parametrize(
    "law", [LogNormal(0.13, 0.0156), Weibull(2.0, 0.1), Weibull(0.8, 0.1), Normal(0.2, 1e-9)]
)
def test_a_density_stays_in_its_box(law):
    svg = Sketch("friction.thread", law, "metric").svg_element()
    points = svg.split('class="law-line" points="')[1].split('"')[0].split()
    heights = [float(point.split(",")[1]) for point in points]
    assert min(heights) == pytest.approx(3.0)
    assert max(heights) <= 38.0
