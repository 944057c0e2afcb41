"""Signs in figures: raised powers and plus-minus, also across breaks that hold words together."""

from matplotlib.figure import Figure

from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.text.signs import NO_BREAK, with_powers


def test_powers_are_raised_whatever_the_spaces():
    raised = f"3.1{NO_BREAK}×{NO_BREAK}10⁻¹²"
    assert with_powers("3.1 x 10^-12") == raised
    assert with_powers(f"3.1{NO_BREAK}x{NO_BREAK}10^-12") == raised
    assert with_powers(f"5{NO_BREAK}+-{NO_BREAK}2") == f"5{NO_BREAK}±{NO_BREAK}2"


def test_names_keep_what_only_looks_like_a_sign():
    assert with_powers("tool a->b, M6 x 10, 2x10^3") == "tool a->b, M6 x 10, 2x10^3"


def test_a_figure_is_drawn_with_them():
    figure = Figure()
    text = figure.text(0.5, 0.5, "below 2 x 10^-9")
    svg = NamedFigure("one", "One", "One.", figure).svg().decode()
    assert text.get_text().endswith("10⁻⁹")
    assert "10⁻⁹" in svg
