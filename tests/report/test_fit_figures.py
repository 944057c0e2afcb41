"""The figure of a fit, read from its axes."""

import numpy as np
import pytest
from legible import assert_legible
from scipy import stats

from preloadmc import fit, load_records
from preloadmc.questions.fit import FitQuestion
from preloadmc.report.figures.fit import MOST_DRAWN, band_of, drawn_places, fit_figures


@pytest.fixture
def drawn(tmp_path):
    """A function that returns the only fit of a text and its figure."""

    def draw(text, question=None):
        path = tmp_path / "tests.csv"
        path.write_text(text, encoding="utf-8")
        result = fit(load_records(path), question)
        (figure,) = fit_figures(result)
        return result.quantities[0], figure

    return draw


def lines_of(lots, values, header="lot,thread"):
    return f"{header}\n" + "".join(
        f"{lot},{value:.6g}\n" for lot, value in zip(lots, values, strict=True)
    )


VALUES = (0.131, 0.118, 0.125, 0.142, 0.121, 0.136, 0.127, 0.115, 0.133, 0.129)


def test_tests_lie_at_their_medians_lot_by_lot(drawn):
    found, named = drawn(lines_of("ABABABABAB", VALUES), FitQuestion(at_least="0.09"))
    (ax,) = named.figure.axes
    assert ax.get_xscale() == "log"
    assert ax.get_xlabel() == "thread (ratio)"
    assert ax.get_ylabel() == "tests below (%)"
    points = {line.get_label(): line for line in ax.lines if line.get_linestyle() == "None"}
    assert set(points) == {"A", "B"}
    assert points["A"].get_marker() != points["B"].get_marker()
    seen = np.sort(np.concatenate([line.get_xdata() for line in points.values()]))
    assert seen == pytest.approx(np.sort(VALUES))
    # The median of the i-th of n values of a uniform law is that of a beta law (scipy.stats).
    heights = np.sort(np.concatenate([line.get_ydata() for line in points.values()]))
    i = np.arange(1, 11)
    assert heights == pytest.approx(stats.norm.ppf(stats.beta.ppf(0.5, i, 11 - i)))
    texts = [text.get_text() for text in ax.get_legend().get_texts()]
    assert texts == [
        "95 % band\nof the law",
        "lognormal law",
        "A",
        "B",
        "at least 0.09",
        "limits for 99 %,\n95 % confidence",
    ]
    upright = sorted(line.get_xdata()[0] for line in ax.lines if len(line.get_xdata()) == 2)
    assert upright == pytest.approx(sorted((found.limits.lower, found.limits.upper, 0.09)))
    assert_legible(named.figure)
    assert "beta law" in named.figure.texts[1].get_text()
    assert "10 tests of thread in rising order against the lognormal law" in named.alt


def test_the_band_is_that_of_order_statistics(drawn):
    found, _ = drawn(lines_of("A" * 10, VALUES), FitQuestion(law="normal"))
    _, low, high = band_of(found, np.array([0, 9]))
    mean, sd = np.mean(VALUES), np.std(VALUES, ddof=1)
    # All ten of ten lie above x with the probability (1 - F)^10.
    for p, edge in ((0.025, low[0]), (0.975, high[0])):
        assert 1.0 - stats.norm.sf(edge, mean, sd) ** 10 == pytest.approx(p)
    for p, edge in ((0.025, low[1]), (0.975, high[1])):
        assert stats.norm.cdf(edge, mean, sd) ** 10 == pytest.approx(p)


@pytest.mark.statistical
def test_the_band_holds_most_tests_of_its_law(drawn, seed):
    rng = np.random.default_rng(seed)
    values = 10.0 + rng.standard_normal(60)
    found, _ = drawn(lines_of("A" * 60, values, "lot,force [kN]"))
    _, low, high = band_of(found, np.arange(60))
    ordered = np.sort(found.measured.values)
    # With the law fitted to the tests fewer than 5 % lie outside; a third would be another law.
    assert np.mean((ordered < low) | (ordered > high)) < 0.34
    far = np.sort(np.exp(1.5 * rng.standard_normal(60)))
    other, _ = drawn(lines_of("A" * 60, far, "lot,force [kN]"), FitQuestion(law="normal"))
    _, low, high = band_of(other, np.arange(60))
    ordered = np.sort(other.measured.values)
    assert np.mean((ordered < low) | (ordered > high)) > 0.34


def test_many_tests_and_lots_stay_legible(drawn):
    rng = np.random.default_rng(3)
    lots = [f"lot {i % 9} of a supplier with a long name" for i in range(3000)]
    found, named = drawn(lines_of(lots, 0.13 * rng.weibull(3.0, 3000)))
    (ax,) = named.figure.axes
    points = [line for line in ax.lines if line.get_linestyle() == "None"]
    assert sum(len(line.get_xdata()) for line in points) == len(drawn_places(3000)) <= MOST_DRAWN
    assert points[-1].get_label() == "4 other lots"
    ends = {0, 1, 2998, 2999}
    assert ends <= set(drawn_places(3000))
    assert found.chosen.law == "weibull"
    assert ax.get_xscale() == "linear"
    assert_legible(named.figure)


@pytest.mark.parametrize(
    "values", [(0.12, 0.15), (1e-6, 1.5e6), (1e-9, 1e9, 3.0), (0.12, 0.1200001, 0.12)]
)
def test_few_and_odd_tests_can_be_drawn(drawn, values):
    _, named = drawn("thread\n" + "".join(f"{value!r}\n" for value in values))
    assert_legible(named.figure)
    assert named.png()


def test_a_long_name_and_a_unit(drawn):
    name = "assembled preload of the joint on the second rig of the laboratory [kN]"
    _, named = drawn(lines_of("A" * 10, VALUES, f"lot,{name}"))
    assert_legible(named.figure)
    assert named.figure.axes[0].get_xlabel().replace("\n", " ").endswith("laboratory (kN)")


def test_a_limit_beyond_the_figure_is_told(drawn):
    # Two tests of a Gumbel law: one limit lies near, the other 1.6 above.
    _, named = drawn("thread\n0.12\n0.13\n0.125\n0.14\n", FitQuestion(law="gumbel"))
    legend = " ".join(text.get_text() for text in named.figure.axes[0].get_legend().get_texts())
    assert "(one is outside)" in legend
    assert_legible(named.figure)


def test_a_wide_law_has_powers_of_ten(drawn):
    values = 10.0 ** np.linspace(-3.0, 0.0, 12)
    _, named = drawn(lines_of("A" * 12, values), FitQuestion(law="lognormal"))
    named.png()
    (ax,) = named.figure.axes
    low, high = ax.get_xlim()
    ticks = [tick for tick in ax.get_xticks() if low <= tick <= high]
    assert len(ticks) >= 2
    assert np.log10(ticks) == pytest.approx(np.round(np.log10(ticks)))
