"""Text and figures of vibration tests."""

import numpy as np
import pytest
from legible import assert_legible

from preloadmc import decay, load_records
from preloadmc.questions.decay import DecayQuestion
from preloadmc.report.figures.decay import decay_figures, median_ranks
from preloadmc.report.tables.result_tables import result_tables
from preloadmc.report.text.decay import decay_screen, decay_text
from preloadmc.report.text.screen import LINES, render_screen


@pytest.fixture
def shipped(case_files):
    """What the shipped records say."""
    return decay(load_records(case_files[0].parent / "vibration_tests.csv"))


@pytest.fixture
def odd(tmp_path):
    """Tests of seven elements with long names, and one of one test."""
    rows = ["test,element,cycles,preload [kN]"]
    for k in range(7):
        name = f"element number {k} " + "W" * 40
        for i in range(1 if k == 6 else 3):
            rows += [
                f"T{k}{i},{name},{c},{40 - (k + 0.1 * i) * c / 2000:g}" for c in (0, 900, 2000)
            ]
    path = tmp_path / "odd.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    return decay(load_records(path))


def words(result):
    return " ".join(decay_text(result).split())


def test_the_text_says_for_what_it_holds_and_where_thresholds_come_from(shipped):
    text = words(shipped)
    assert (
        "Everything here holds for the tested joint alone (joint M10 rig, amplitude 0.4 mm, "
        "clamp length 28 mm)." in text
    )
    assert "value from memory: check it against your edition" in text
    assert text.count("secured by DIN 25201-4*") == 2
    assert "W5 wedge washer 795 759 833 10 % 12 %" in text
    assert "W1 wedge washer none found 9 %" in text
    assert "nylon insert less wedge washer 2000 -63.4 -77.5 -49.4 3" in text
    few = words(decay(shipped.sources, DecayQuestion(remainder=0.3)))
    assert "wedge washer: none of 7 tests fell below 30 %; a law takes two" in few
    assert "at most 35 % of all do so within 2000 cycles" in few  # 1 - 0.05^(1/7)


def test_many_elements_fit_a_screen_and_their_figures_are_legible(odd):
    lines = render_screen(decay_screen(odd), 80).splitlines()
    assert len(lines) <= LINES
    for named in decay_figures(odd):
        assert_legible(named.figure)


def test_records_are_drawn_with_changes_limits_and_thresholds(shipped):
    named, _ = decay_figures(shipped)
    (ax,) = named.figure.axes
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("load cycles", "preload left (% of initial)")
    first = shipped.elements[0].tests[0]
    drawn = [line for line in ax.lines if len(line.get_xdata()) == len(first.cycles)]
    assert len(drawn) == 14
    assert drawn[0].get_ydata() == pytest.approx(100.0 * first.share)
    marks = [line for line in ax.lines if line.get_marker() == "_" and len(line.get_xdata())]
    assert [line.get_ydata()[0] for line in marks] == pytest.approx(
        [100.0 * each.remaining[0].limit for each in shipped.elements]
    )
    (begins, later) = [line for line in ax.lines if line.get_markerfacecolor() == "white"][:2]
    assert sorted(begins.get_xdata()) == pytest.approx(
        sorted(each.change.at for each in shipped.elements[0].phases if each.change)
    )
    assert len(later.get_xdata()) == 7
    legend = " ".join(ax.get_legend().get_texts()[-1].get_text().split())
    assert legend == "thresholds (value from memory)"
    assert_legible(named.figure)
    assert "wedge washer keeps 86 % after 2000 cycles on average" in named.alt


def test_lifetimes_lie_at_their_median_ranks(shipped):
    _, named = decay_figures(shipped)
    (ax,) = named.figure.axes
    points = [line for line in ax.lines if line.get_linestyle() == "None"]
    assert [len(line.get_xdata()) for line in points] == [2, 7]
    # Without censored tests before them, order numbers are whole.
    expected = (np.arange(1, 8) - 0.3) / 7.4
    assert points[1].get_ydata() == pytest.approx(np.log(-np.log1p(-expected)))
    assert_legible(named.figure)
    assert "half of nylon insert has fallen below 80 % by 613 cycles" in named.alt


def test_ranks_after_a_censored_test_are_adjusted(tmp_path):
    rows = ["test,cycles,preload [kN]"]
    # Falls at 400, stopped at 600, falls at 800 and 1,600.
    for test, end, last in (
        ("a", 0.0, 2000),
        ("b", 0.91, 600),
        ("c", 0.5, 2000),
        ("d", 0.75, 2000),
    ):
        rows += [f"{test},0,40", f"{test},{last},{40 * end:g}"]
    path = tmp_path / "four.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    times, ranks = median_ranks(decay(load_records(path)).elements[0])
    assert times == pytest.approx([400.0, 800.0, 1600.0])
    # Johnson: 1, then steps of (5 - 1) / (1 + 2) = 4/3.
    assert ranks == pytest.approx((np.array([1.0, 7.0 / 3.0, 11.0 / 3.0]) - 0.3) / 4.4)


def test_tables_of_the_document(shipped):
    tables = {table.name: table for table in result_tables(shipped.to_dict(), None)}
    assert {
        "decay",
        "shares",
        "ratings",
        "phases",
        "tests",
        "lifetimes",
        "laws",
        "quantiles",
    } <= set(tables)
    assert len(tables["decay"].rows) == 2
    assert len(tables["shares"].rows) == len(tables["tests"].rows) == 14
    assert "change.at" in tables["phases"].columns
