"""What a notebook shows of a result, and results as Python objects."""

import json
import re
import sys
from html.parser import HTMLParser

import pytest
from page_cases import ALTERNATIVES, HOSTILE, SCATTER

from preloadmc import compare, run
from preloadmc.errors import PreloadError
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.page import Page, page_html
from preloadmc.report.documents.run import run_document
from preloadmc.report.text.run import run_report

# What may stand in the part; the page has more.
ELEMENTS = {
    *("div", "p", "strong", "sup", "dl", "dt", "dd", "ul", "li"),
    *("table", "thead", "tbody", "tr", "th", "td"),
}


class Elements(HTMLParser):
    """The elements, attributes and texts of a part of a page."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.attributes, self.words = set(), set(), []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def ran(session_case):
    return run(session_case(SCATTER), samples=5000)


@pytest.fixture(scope="module")
def compared(session_case):
    return compare(session_case({**SCATTER, "name": "as it is", "alternative": ALTERNATIVES}))


@pytest.mark.parametrize("kind", ["ran", "compared"])
def test_names_stay_texts_and_nothing_runs(request, kind):
    found = Elements(request.getfixturevalue(kind)._repr_html_())
    assert found.tags <= ELEMENTS
    assert not any(name.startswith("on") for name in found.attributes)
    assert HOSTILE in "".join(found.words)


def test_it_shows_the_answer_and_first_tables(ran):
    found = Elements(ran._repr_html_())
    text = re.sub(r"\s+", " ", " ".join(found.words))
    for line in ran.answer:
        about, _, _ = line.partition(": ")
        assert about in text
    assert "under-preload" in text
    assert ran._repr_html_().count("<table>") == 2


def test_it_is_made_of_the_parts_of_the_page(ran):
    system = ran.case.unit_system
    page = page_html(Page("Why?", run_report(ran, system), ()))
    for part in ("<dl>.*?</dl>", "<table>.*?</table>"):
        for found in re.findall(part, ran._repr_html_(), flags=re.DOTALL):
            assert found in page


def test_a_dictionary_is_the_json_document(ran):
    assert ran.to_dict() == json.loads(as_json(run_document(ran)))


def test_a_data_frame_selects_what_a_user_looks_for(ran):
    frame = ran.to_frame().set_index("name")
    under = ran.outcome("under_preload").probability
    assert frame.loc["under_preload", "probability"] == under.value
    assert frame["high"].dtype == float
    assert frame["band.upper"].dtype == float


def test_without_pandas_the_message_says_what_to_install(ran, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(PreloadError, match="needs pandas: pip install pandas"):
        ran.to_frame()
