"""Figures of an investigation: read from their axes; no text may overlap, whatever the case."""

from dataclasses import replace

import pytest
from legible import assert_legible

from preloadmc.questions.infer.answer import chance_words
from preloadmc.questions.infer.fit import FindingFit
from preloadmc.report.figures.infer import infer_figures, standing
from preloadmc.report.text.infer import told_verdicts


@pytest.fixture
def cover(loosened_alone):
    return loosened_alone


def named(result, name):
    (figure,) = [each for each in infer_figures(result) if each.name == name]
    return figure


def test_all_are_legible_in_both_units(cover):
    for system in ("metric", "inch"):
        figures = infer_figures(cover, system)
        assert [each.name for each in figures] == [
            "odds",
            "flange",
            "fit-1",
            "fit-2",
            "next-measurement",
        ]
        for each in figures:
            assert_legible(each.figure)


def test_odds_are_those_of_the_result(cover):
    figure = named(cover, "odds")
    ax = figure.figure.axes[0]
    widths = [bar.get_width() for bar in ax.patches]
    shown = [v for v in told_verdicts(cover) if v.probability >= 1e-3]
    assert widths == [pytest.approx(100 * v.probability) for v in shown]
    names = [label.get_text().replace("\n", " ") for label in ax.get_yticklabels()]
    assert names == [v.suspect.name for v in shown]
    assert chance_words(cover.suspects[0].probability, cover.suspects[0].error) in figure.alt


def test_findings_stand_where_they_were_found(cover):
    figure = named(cover, "fit-1")
    values, chances = figure.figure.axes
    fits = [fit for fit in cover.leading[0].fit if not fit.is_chance]
    dots = [line.get_xdata()[0] for line in values.lines if line.get_marker() == "o"]
    assert dots == [pytest.approx(standing(fit)) for fit in fits]
    shown = [bar.get_width() for bar in chances.patches]
    assert shown == [pytest.approx(100 * fit.p50) for fit in cover.leading[0].fit if fit.is_chance]


def test_standing_is_in_half_widths(cover):
    reading = cover.evidence.findings[0]

    def at(value, low, median, high):
        fit = FindingFit(replace(reading, value=value), low, median, high, 1.0, 1.0)
        return standing(fit)

    assert at(10.0, 0.0, 10.0, 30.0) == 0.0
    assert at(30.0, 0.0, 10.0, 30.0) == 1.0
    assert at(0.0, 0.0, 10.0, 30.0) == -1.0
    assert at(5.0, 5.0, 5.0, 5.0) == 0.0
    assert at(6.0, 5.0, 5.0, 5.0) > 3.0
    assert at(4.0, 5.0, 5.0, 5.0) < -3.0


def test_far_findings_are_drawn_at_the_edge(cover):
    verdict = cover.leading[0]
    far = tuple(
        replace(fit, p05=1.0, p50=1.1, p95=1.2) if not fit.is_chance else fit for fit in verdict.fit
    )
    result = replace(cover, suspects=(replace(verdict, fit=far), *cover.suspects[1:]))
    figure = named(result, "fit-1")
    markers = {line.get_marker() for line in figure.figure.axes[0].lines}
    assert ">" in markers
    assert_legible(figure.figure)


def test_many_findings_show_the_rarest(cover):
    verdict = cover.leading[0]
    many = tuple(replace(verdict.fit[0], position=0.001 * k) for k in range(1, 41))
    result = replace(cover, suspects=(replace(verdict, fit=many), *cover.suspects[1:]))
    figure = named(result, "fit-1").figure
    assert len(figure.axes[0].get_yticks()) == 24
    assert any("24 rarest of 40" in text.get_text() for text in figure.texts)
    assert_legible(figure)


def test_bits_are_those_of_the_result(cover):
    ax = named(cover, "next-measurement").figure.axes[0]
    # The best of them, which are shown; the rest tells next to nothing here.
    shown, rest = (
        cover.next_measurements[: len(ax.patches)],
        cover.next_measurements[len(ax.patches) :],
    )
    assert [bar.get_width() for bar in ax.patches] == [pytest.approx(each.bits) for each in shown]
    assert len(shown) >= 6
    assert all(each.bits < 0.01 for each in rest)


def test_long_names_are_wrapped(cover):
    name = "somebody put the wrong washer of another drawing under every second head"
    first = cover.suspects[0]
    long = replace(first, suspect=replace(first.suspect, name=name))
    result = replace(cover, suspects=(long, *cover.suspects[1:]))
    for each in infer_figures(result):
        assert_legible(each.figure)


def test_nothing_to_measure_has_no_figure(cover):
    result = replace(cover, next_measurements=())
    assert "next-measurement" not in [each.name for each in infer_figures(result)]


def test_files(cover):
    figure = named(cover, "odds")
    assert figure.png().startswith(b"\x89PNG")
    assert b"<svg" in figure.svg()
