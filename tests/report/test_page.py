"""Pages: whole, in order, closed to hostile names, legible, and in need of nothing else."""

import hashlib
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from page_cases import COMMAND, HOSTILE, HOSTILE_RECORDS, HOSTILE_TESTS, KINDS, OF_TESTS, STATE

from preloadmc.report.documents.page import answer_parts, words
from preloadmc.report.text.cautions import CAUTIONS

VOID = {"meta", "br", "hr", "img", "input", "link"}
BLOCKS = {"p", "li", "td", "th", "h1", "h2", "h3", "pre", "dt", "dd", "title"}


class Tree(HTMLParser):
    """Elements in their order, each with its attributes, its text and the elements around it."""

    def __init__(self, page):
        super().__init__()
        self.elements = []
        self._open = []
        self.comments = []
        self.feed(page)
        self.close()
        assert not self._open, self._open

    def handle_starttag(self, tag, attrs):
        element = {"tag": tag, **{f"@{name}": value for name, value in attrs}, "text": ""}
        element["path"] = [parent["tag"] for parent in self._open]
        assert len({name for name, _ in attrs}) == len(attrs), f"an attribute twice: {attrs}"
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag):
        assert self._open.pop()["tag"] == tag

    def handle_data(self, data):
        for element in self._open:
            element["text"] += data

    def handle_comment(self, data):
        self.comments.append(data)

    def all(self, *tags):
        return [element for element in self.elements if element["tag"] in tags]


@pytest.fixture(scope="session")
def trees(pages):
    return {name: Tree(page) for name, page in pages.items()}


@pytest.fixture(params=KINDS)
def kind(request):
    return request.param


@pytest.fixture
def tree(kind, trees):
    return trees[kind]


def flat(text):
    return " ".join(text.split())


def test_the_head_says_language_title_and_what_may_be_loaded(kind, pages, tree):
    assert pages[kind].startswith("<!doctype html>\n")
    (html,) = tree.all("html")
    assert html["@lang"] == "en"
    (title,) = [each for each in tree.all("title") if "head" in each["path"]]
    assert title["text"].strip()
    policy = next(meta for meta in tree.all("meta") if "@http-equiv" in meta)
    assert policy["@content"] == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def test_nothing_is_loaded_and_nothing_runs(kind, pages, tree):
    assert not tree.all("script", "link", "iframe", "img", "object", "embed", "form", "base", "b")
    for element in tree.elements:
        for name, value in element.items():
            assert not name.startswith("@on"), name
            if name in ("@src", "@href", "@xlink:href", "@data", "@action"):
                assert value.startswith("#"), value
    # What is left of addresses are the names of languages, which nobody fetches.
    namespaces = {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    attributes = [v for e in tree.elements for n, v in e.items() if n[0] == "@" and "//" in str(v)]
    assert set(attributes) <= namespaces
    (style,) = tree.all("style")
    assert "url(" not in style["text"]
    assert "@import" not in style["text"]
    assert not re.findall(r"url\((?!#)", pages[kind])


def test_every_reference_leads_somewhere_and_no_name_is_given_twice(tree):
    ids = [element["@id"] for element in tree.elements if "@id" in element]
    assert len(ids) == len(set(ids))
    for element in tree.elements:
        for name in ("@aria-labelledby", "@href", "@xlink:href", "@clip-path"):
            target = re.fullmatch(r"(?:url\()?#?([^)]*)\)?", element.get(name) or "")[1]
            assert not target or target in ids, target


def test_every_drawing_says_what_it_shows(kind, trees, folders):
    svgs = trees[kind].all("svg")
    figures = [svg for svg in svgs if "figure" in svg["path"]]
    assert len(figures) == sum(name.endswith(".svg") for name in folders[kind])
    for svg in svgs:
        assert svg["@role"] == "img"
        assert len(svg["@aria-label"]) > 20
    titles = [title for title in trees[kind].all("title") if title["path"][-1] == "svg"]
    assert len(titles) == len(svgs)
    described = [each for each in trees[kind].all("desc") if each["path"][-1] == "svg"]
    assert len(described) == len(figures)


def test_headings_go_down_one_step_at_a_time(tree):
    levels = [int(heading["tag"][1]) for heading in tree.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_landmarks_and_the_way_past_the_list_of_sections(tree):
    for tag in ("header", "nav", "main", "footer"):
        assert len(tree.all(tag)) == 1
    first = tree.all("a")[0]
    assert (first["@href"], first["@class"]) == ("#report", "skip")
    named = [each for each in tree.elements if each.get("@tabindex") == "0"]
    assert all(each["tag"] == "pre" or each["@aria-label"] for each in named)


def test_heads_of_tables_say_what_they_head(tree):
    heads = tree.all("th")
    assert heads
    assert {head["@scope"] for head in heads} == {"row", "col"}
    assert all(head["text"].strip() for head in heads)


def sections(tree):
    return [heading["text"] for heading in tree.all("h2")]


def test_the_order_of_reading(trees):
    found = sections(trees["run"])
    order = [
        "The answer",
        "Warnings",
        "Figures",
        "Probabilities",
        "Preload over the joint's life",
        "Deterministic check, from a stated scatter",
        "The joint at nominal values",
        "Inputs and their laws",
        "Assumed, with source",
        "Method and accuracy",
        "Cautions",
        "How to reproduce",
        "inputs/joint.toml",
        "Derivation at nominal values",
        "Margins at nominal values",
    ]
    places = [found.index(title) for title in order]
    assert places == sorted(places)
    links = [link["text"] for link in trees["run"].all("a") if "nav" in link["path"]]
    assert links == [title for title in found if title not in ("The answer", "Warnings")]


def test_what_is_folded_says_where_else_it_stands(trees, folders):
    summaries = [" ".join(each["text"].split()) for each in trees["run"].all("summary")]
    command = "preloadmc derive inputs/joint.toml --full"
    assert f"Derivation at nominal values in report.txt, or by {command}" in summaries
    assert "What dominates being too loose in report.txt" in summaries
    assert "inputs/joint.toml in the report folder" in summaries
    assert not any("@open" in each for each in trees["run"].all("details"))
    # What stands in no figure and is no copy of an input is never folded.
    for title in ("Probabilities", "Every limit", "Inputs and their laws", "Cautions"):
        assert title in sections(trees["run"])
        assert not any(words.startswith(title) for words in summaries)


def test_what_a_figure_shows_is_in_the_text_alone(trees, folders):
    text = folders["run"]["report.txt"].decode()
    assert "The likeliest way to over-preload" in text
    assert "times today's misses" in text
    assert "The likeliest misses" not in sections(trees["run"])
    assert not any("times today's misses" in each["text"] for each in trees["run"].all("th"))
    assert {"likeliest.svg", "control.svg"} <= set(folders["run"])


def test_every_page_has_answer_figures_laws_assumptions_cautions_and_the_way_back(kind, tree):
    found = sections(tree)
    assert found[0] == "The answer"
    assert "Figures" in found
    if kind == "decay":  # of tests, and of no case
        assert "Preload that remains" in found
    elif kind == "fit":
        assert any(title.startswith("Laws of ") for title in found)
    else:
        assert any(title.startswith("Inputs") and "laws" in title for title in found)
        assert "Assumed, with source" in found
    assert "How to reproduce" in found
    text = flat(" ".join(element["text"] for element in tree.all("li")))
    assert all(words in text for words in CAUTIONS)


def test_the_way_back_of_tests_holds_command_seed_and_the_file(trees, folders):
    verbatim = [block["text"] for block in trees["fit"].all("pre")]
    assert verbatim[-2:] == [COMMAND, HOSTILE_TESTS]
    assert folders["fit"]["inputs/<i>tests & more.csv"].decode() == HOSTILE_TESTS
    text = flat(" ".join(element["text"] for element in trees["fit"].all("p")))
    assert "seed 1." in text
    digest = hashlib.sha256(HOSTILE_TESTS.encode()).hexdigest()
    assert f"inputs/<i>tests & more.csv, SHA-256 {digest}" in text


def test_the_way_back_of_vibration_tests_has_no_seed(trees):
    verbatim = [block["text"] for block in trees["decay"].all("pre")]
    assert verbatim[-2:] == [COMMAND, HOSTILE_RECORDS]
    assert "seed" not in flat(" ".join(element["text"] for element in trees["decay"].all("p")))


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in OF_TESTS])
def test_the_way_back_holds_command_seed_and_every_file(kind, trees, folders, page_cases):
    case = page_cases[kind]
    verbatim = [block["text"] for block in trees[kind].all("pre")]
    # A line end right after the tag belongs to the tag.
    assert verbatim[:2] == [COMMAND, case.text]
    (name, *tables) = case.files
    assert folders[kind][f"inputs/{name}"].decode() == case.text
    text = flat(" ".join(element["text"] for element in trees[kind].all("p")))
    assert f"seed {case.sampling.seed}." in text
    assert f"inputs/{name}, SHA-256 {case.sha256}" in text
    assert tables == (["loosened_cover.csv"] if kind == "infer" else [])
    if kind == "infer":
        assert verbatim[2] == folders[kind]["inputs/loosened_cover.csv"].decode()


def test_hostile_names_are_text(trees):
    for name in ("run", "rank", "compare", "aim"):
        (heading,) = trees[name].all("h1")
        assert heading["text"] == HOSTILE
        (title,) = [each for each in trees[name].all("title") if "head" in each["path"]]
        assert title["text"].startswith(HOSTILE)
        assert not trees[name].all("img", "script", "b", "i")
    for name in OF_TESTS:
        assert not trees[name].all("img", "script", "b", "i")
    assert any("<b>wedge</b> --> &" in head["text"] for head in trees["decay"].all("th"))
    assert any("<b>A</b> --> & 'x'" in head["text"] for head in trees["fit"].all("th"))
    cells = [head["text"] for head in trees["run"].all("th")]
    assert any(STATE in cell for cell in cells)
    drawn = " ".join(text["text"] for text in trees["run"].all("text"))
    assert "<b>hot</b>" in drawn
    assert not any("hot" in comment for comment in trees["run"].comments)


def test_laws_are_drawn_where_something_scatters(trees, page_cases):
    for kind, case in page_cases.items():
        sketches = [svg for svg in trees[kind].all("svg") if svg.get("@class") == "law"]
        assert len(sketches) == len(case.uncertain)
    (sketch,) = (svg for svg in trees["tabulated"].all("svg") if svg.get("@class") == "law")
    assert sketch["@aria-label"] == "10 values from 0.131 to 0.25, mean 0.167."


def luminance(colour):
    """Relative luminance of sRGB (WCAG 2.1, definition of relative luminance)."""
    if colour == "white":
        return 1.0
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """Contrast ratio (WCAG 2.1, success criterion 1.4.3)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


# WCAG 2.1 asks for 4.5 of text (1.4.3) and for 3 of what marks the focus (1.4.11).
@pytest.mark.published
def test_every_colour_of_text_stands_out_from_every_ground(trees):
    assert contrast("#000000", "white") == pytest.approx(21.0)
    (style,) = trees["run"].all("style")
    inks = set(re.findall(r"(?<![-\w])(?:color|fill): (#\w{6}); \}", style["text"]))
    inks |= set(re.findall(r"(?<![-\w])color: (#\w{6})", style["text"]))
    inks -= set(re.findall(r"\.law-area \{ fill: (#\w{6})", style["text"]))
    grounds = set(re.findall(r"background: (white|#\w{6})", style["text"]))
    assert len(inks) >= 3
    assert "white" in grounds
    for ink in inks:
        for ground in grounds:
            assert contrast(ink, ground) >= 4.5, (ink, ground)
    (focus,) = re.findall(r":focus-visible \{ outline: 3px solid (#\w{6})", style["text"])
    assert min(contrast(focus, ground) for ground in grounds) >= 3.0


GLUE = ("_", "\N{NO-BREAK SPACE}")


def test_words_are_set_as_print_sets_them():
    assert words("3.1 x 10^-7 (2.9 to 3.4)") == "3.1_×_10<sup>−7</sup> (2.9 to 3.4)".replace(*GLUE)
    assert words("12 x 10^5") == "12_×_10<sup>5</sup>".replace(*GLUE)
    assert words("20 degC, 5 % of 3 kN") == "20_°C, 5_% of 3_kN".replace(*GLUE)
    assert words("a -> b +- 2") == "a → b ± 2"
    assert words("<&>'\"") == "&lt;&amp;&gt;&#39;&#34;"


def test_an_answer_is_what_it_is_about_and_what_it_says():
    assert answer_parts("How likely: given these laws, 3: 4.") == (
        "How likely",
        "Given these laws, 3: 4.",
    )
