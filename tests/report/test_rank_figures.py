"""The figures of a ranking, read from their axes."""

import numpy as np
import pytest

from preloadmc import rank
from preloadmc.judgement.dominates import shared_out
from preloadmc.limits import OVER, UNDER
from preloadmc.report.figures.rankings import (
    convergence_figure,
    rank_figures,
    ranked_rows,
    rankings_figure,
)
from preloadmc.report.figures.style import SIDE_HATCH

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
SCATTER = {
    "friction.thread": LAW,
    "friction.bearing": {**LAW, "cov": "14 %"},
    "tightening.tool": {"law": "normal", "cov": "6 %"},
    "fastener.yield_strength": {"law": "normal", "mean": "940 MPa", "cov": "6 %"},
    "requirement.minimum_preload": "33 kN",
}


@pytest.fixture
def result(make_case):
    return rank(make_case(SCATTER), base_samples=256, convergence=True)


def test_three_rankings_side_by_side(result):
    figure = rankings_figure(result).figure
    rankings = shared_out(result.shapley, result.misses)
    rows = ranked_rows(rankings)
    titles = [ax.get_title() for ax in figure.axes]
    assert titles == ["the variance", "being too loose", "being too tight"]
    for ax, ranking in zip(figure.axes, rankings, strict=True):
        widths = [bar.get_width() for bar in ax.patches]
        assert widths == pytest.approx([100.0 * ranking.share[row] for row in rows])
        whiskers = [c.get_segments()[0][:, 0] for c in ax.collections]
        for whisker, row in zip(whiskers, rows, strict=True):
            ends = [100.0 * ranking.low[row], 100.0 * ranking.high[row]]
            assert whisker == pytest.approx(ends, abs=1e-9)
        assert ax.get_xlabel() == "share (%)"
    names = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert names == [result.shapley.names[row] for row in rows]
    # The sides differ in more than colour.
    hatches = [{bar.get_hatch() for bar in ax.patches} for ax in figure.axes]
    assert hatches == [{None}, {SIDE_HATCH[UNDER]}, {SIDE_HATCH[OVER]}]


def test_the_words_below_say_where_they_differ(result):
    named = rankings_figure(result)
    drawn = [" ".join(text.get_text().split()) for text in named.figure.texts]
    assert result.answer[2] in drawn
    assert named.alt.endswith(result.answer[2])
    assert "% of being too tight, but 0 % of being too loose" in named.alt


def test_a_side_without_misses_says_why(make_case):
    result = rank(make_case({"friction.thread": {**LAW, "cov": "1 %"}}), base_samples=64)
    axes = rankings_figure(result).figure.axes
    for ax in axes[1:]:
        (words,) = [text.get_text() for text in ax.texts]
        assert " ".join(words.split()) == "no miss was found, so there is none to rank"
        assert not ax.patches


def test_convergence(result):
    (ax,) = convergence_figure(result).figure.axes
    sizes = [part.base_samples for part in result.convergence]
    assert sizes == [64, 128, 256]
    leading = result.convergence[-1].ordering.places[:3]
    assert len(ax.lines) == len(ax.collections) == len(leading) == 3
    for line, place in zip(ax.lines, leading, strict=True):
        assert list(line.get_xdata()) == sizes
        expected = [100.0 * part.total[place] for part in result.convergence]
        assert np.asarray(line.get_ydata()) == pytest.approx(expected)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("base samples", "total index (%)")
    assert len({line.get_marker() for line in ax.lines}) == 3


def test_the_figure_of_convergence_is_made_where_it_was_asked_for(result, make_case):
    assert [named.name for named in rank_figures(result)] == ["rankings", "convergence"]
    plain = rank(make_case(SCATTER), base_samples=64)
    assert [named.name for named in rank_figures(plain)] == ["rankings"]
