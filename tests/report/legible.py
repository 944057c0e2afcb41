"""What a figure writes, and whether it can be read: nothing overlaps, nothing is cut off."""

from itertools import combinations

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from preloadmc.report.figures.style import style


def drawn_text(figure):
    """Words and box of every text that is drawn, in pixels."""
    canvas = FigureCanvasAgg(figure)
    with style():
        figure.draw_without_rendering()
    renderer = canvas.get_renderer()
    ticks = {}
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                inside = low <= tick.get_loc() <= high
                ticks[tick.label1] = inside and tick.label1.get_visible()
    return [
        # Of the words alone: an annotation's own extent holds its arrow, too.
        (text.get_text(), Text.get_window_extent(text, renderer))
        for text in figure.findobj(Text)
        if text.get_text().strip() and text.get_visible() and ticks.get(text, True)
    ]


def assert_legible(figure):
    """No two texts overlap, and none leaves the figure."""
    texts = drawn_text(figure)
    whole = figure.bbox
    for words, box in texts:
        inside = box.x0 >= 0 and box.x1 <= whole.width and box.y0 >= 0 and box.y1 <= whole.height
        assert inside, f"{words!r} leaves the figure: {box}"
    for (first, a), (second, b) in combinations(texts, 2):
        apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
        assert apart, f"{first!r} overlaps {second!r}"
