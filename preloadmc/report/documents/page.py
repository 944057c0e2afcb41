"""A report as one HTML page that needs nothing else: no network, no other file.

A page is complete without scripts. One with a table that can be sorted has a script of its own,
which puts buttons into its header; the policy of the page allows that script alone.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import islice

from jinja2 import Environment, FunctionLoader, StrictUndefined, Template
from markupsafe import Markup, escape

from preloadmc import __version__
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.style import (
    HAIR,
    INK,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    SIDE_TINT,
)
from preloadmc.report.text.blocks import Report, Section, Table
from preloadmc.report.text.law_sketch import Sketch
from preloadmc.report.text.signs import NO_BREAK, POWER, with_signs

# A number stays with the unit after it, and a sign with its number.
_UNIT = re.compile(r"(\d) (?=(?:%|°[CF]?|µ?m|mm|k?N|MPa|K|lbf|in|s\.d\.|per million)(?!\w))")


@dataclass(frozen=True, slots=True)
class Page:
    """What a page shows: a report under the question it answers, with figures, and what follows.

    ``appendix`` stands at the end, after the report's own sections. A sheet is printed small, to
    be filed or handed over, without a list of its sections; its appendix begins on a new page, and
    its figures stand beside its first section where that is narrow.
    """

    question: str
    report: Report
    figures: tuple[NamedFigure, ...]
    appendix: tuple[Section, ...] = ()
    is_sheet: bool = False


def page_html(page: Page) -> str:
    """Return the page as HTML; every text of the user's is escaped."""
    shown = [each for each in page.report.sections if each.blocks and not each.drawn]
    appendix = [section for section in page.appendix if section.blocks]
    sections = [*shown, *appendix]
    script = _script() if any(_can_be_sorted(section) for section in sections) else ""
    digest = hashlib.sha256(script.encode()).digest()
    return _template("page.html").render(
        question=page.question,
        report=page.report,
        figures=[(named, Markup(named.svg_element)) for named in page.figures],
        sections=sections,
        script=Markup(script),
        script_sum=f"sha256-{base64.b64encode(digest).decode()}",
        apart_from=len(shown) + 1 if page.is_sheet else 0,
        is_beside=page.is_sheet and bool(shown) and shown[0].narrow,
        colours=COLOURS,
        is_sheet=page.is_sheet,
        footer=f"Written by preloadmc {__version__}.",
    )


def notebook_html(report: Report, tables: int = 2) -> str:
    """Return the answer, warnings and first ``tables`` of a report as a part of another page."""
    sections = (
        replace(section, blocks=(block,))
        for section in report.sections
        for block in section.blocks
        if isinstance(block, Table)
    )
    return _template("notebook.html").render(report=report, sections=list(islice(sections, tables)))


def _can_be_sorted(section: Section) -> bool:
    return any(isinstance(block, Table) and block.orders for block in section.blocks)


def _script() -> str:
    return (files("preloadmc.report.documents") / "sort.js").read_text(encoding="utf-8")


def _template(name: str) -> Template:
    """Return a template of this folder; all of them share their parts and escape every text."""
    environment = Environment(
        loader=FunctionLoader(
            lambda part: (files("preloadmc.report.documents") / part).read_text(encoding="utf-8")
        ),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "words": words,
        "answer_parts": answer_parts,
        "title": _title,
        "drawn": _drawn,
        "order_of": _order_of,
    }
    return environment.get_template(name)


# The colours of the page are those of the figures.
COLOURS = {
    "ink": INK,
    "quiet": QUIET,
    "hair": HAIR,
    "line": PREPARED,
    "pale": PALE,
    "under": SIDE_COLOUR["under"],
    "over": SIDE_COLOUR["over"],
    "under_tint": SIDE_TINT["under"],
    "over_tint": SIDE_TINT["over"],
}


def words(text: str) -> Markup:
    """Return a text for the page: escaped, powers of ten raised, numbers kept with their units.

    Examples
    --------
    >>> words("3.1 x 10^-7 of <all>")
    Markup('3.1\\xa0×\\xa010<sup>−7</sup> of &lt;all&gt;')
    """
    found = str(escape(with_signs(text)))
    return Markup(POWER.sub(_raised, _UNIT.sub(rf"\1{NO_BREAK}", found)))


def _raised(power: re.Match[str]) -> str:
    exponent = power[1].replace("-", "−")
    return f"{NO_BREAK}×{NO_BREAK}10<sup>{exponent}</sup>"


def answer_parts(line: str) -> tuple[str, str]:
    """Return what a line of the answer is about, and what it says."""
    about, _, says = line.partition(": ")
    return about, says[:1].upper() + says[1:]


def _drawn(sketch: Sketch) -> Markup:
    return Markup(sketch.svg_element())


def _order_of(order: Sequence[int], row: int) -> Markup:
    """Return the attribute that says where a row stands in the order of a column."""
    return Markup(f' data-order="{order[row]}"') if order else Markup()


def _title(section: Section) -> str:
    return section.title.rstrip(":")
