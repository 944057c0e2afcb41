"""Figures as files: the same to the last byte for the same figure."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import cached_property
from html import escape

from matplotlib.figure import Figure
from matplotlib.text import Text

from preloadmc.report.figures.style import style
from preloadmc.report.text.signs import with_powers

_DOTS_PER_INCH = 160
_VIEW_BOX = re.compile(r'<svg [^>]*?viewBox="([^"]+)"[^>]*>', re.DOTALL)
_REFERENCE = re.compile(r'(\bid="|url\(#|href="#)')
# A rule for every element would reach the page around the figure.
_STYLE_RULE = re.compile(r"\s*<defs>\s*<style.*?</style>\s*</defs>", re.DOTALL)
_NO_METADATA = dict.fromkeys(("Date", "Creator", "Format", "Type"))
_DECLARATION = '<?xml version="1.0" encoding="utf-8"?>\n'
_PIXELS_PER_POINT = 4.0 / 3.0


@dataclass(frozen=True)
class NamedFigure:
    """A figure with its file name, its title, and a sentence that says what it shows.

    What is written in it gets its signs and raised powers here; labels of ticks, which their
    formatter writes anew, must come with them. It is drawn as SVG once, which is why it has no
    slots: page, justification and file share the drawing.
    """

    name: str
    title: str
    alt: str
    figure: Figure

    def __post_init__(self) -> None:
        for text in self.figure.findobj(Text):
            text.set_text(with_powers(text.get_text()))

    def png(self) -> bytes:
        """Return the content of a PNG file."""
        buffer = io.BytesIO()
        with style():
            self.figure.savefig(
                buffer,
                format="png",
                dpi=_DOTS_PER_INCH,
                metadata={"Software": None, "Title": self.title, "Description": self.alt},
            )
        return buffer.getvalue()

    def svg(self) -> bytes:
        """Return the content of an SVG file."""
        return f"{_DECLARATION}{self.svg_element}".encode()

    @cached_property
    def svg_element(self) -> str:
        """Return an ``<svg>`` element that can stand in a page beside those of other figures.

        It scales to the width it is given, its text is text, and it carries the sentence for
        those who cannot see it.
        """
        buffer = io.StringIO()
        with style():
            self.figure.savefig(buffer, format="svg", metadata=_NO_METADATA)
        text = _STYLE_RULE.sub("", buffer.getvalue(), count=1)
        text = _REFERENCE.sub(rf"\g<1>{self.name}-", text[text.index("<svg ") :])
        found = _VIEW_BOX.match(text)
        assert found is not None, "an SVG file states its view box"
        width = _PIXELS_PER_POINT * float(found[1].split()[2])
        return (
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'viewBox="{found[1]}" role="img" aria-label="{escape(self.alt)}" '
            f'style="width:100%;max-width:{width:.0f}px;height:auto;stroke-linejoin:round">\n'
            f" <title>{escape(self.title)}</title>\n <desc>{escape(self.alt)}</desc>"
            f"{text[found.end() :]}"
        )
