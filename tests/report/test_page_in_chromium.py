"""Pages in a browser: no error, no request, no overlap on phone and desk, and they print."""

import re

import pytest
from browser import CHROMIUM, Browser
from page_cases import KINDS, SAMPLES

from preloadmc import load_case, run
from preloadmc.report.files import run_files

pytestmark = pytest.mark.skipif(
    not CHROMIUM.exists(),
    reason=f"no {CHROMIUM}: install Debian's package chromium to look at pages in a browser",
)

PHONE, DESK = 360, 1280
# A4 less the margins that the page asks for: 210 mm - 2 x 17 mm, at 96 pixels an inch.
PAPER = round((210 - 34) / 25.4 * 96)

# Every piece of text with its boxes, as far as they can be seen; then pairs that overlap.
OVERLAPS = """
(() => {
  const pieces = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.textContent.trim() || parent.closest("svg, .skip, .unseen")) continue;
    // What is folded has boxes, but is not seen.
    if (parent.closest("details:not([open])") && !parent.closest("summary")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const rect of range.getClientRects()) {
      let box = {left: rect.left, right: rect.right, top: rect.top, bottom: rect.bottom};
      for (let around = parent; around !== document.body; around = around.parentElement) {
        if (getComputedStyle(around).overflowX === "visible") continue;
        const edge = around.getBoundingClientRect();
        box = {left: Math.max(box.left, edge.left), right: Math.min(box.right, edge.right),
               top: Math.max(box.top, edge.top), bottom: Math.min(box.bottom, edge.bottom)};
      }
      if (box.right - box.left > 1 && box.bottom - box.top > 1)
        pieces.push({...box, text: node.textContent.trim().slice(0, 60), node});
    }
  }
  for (const svg of document.querySelectorAll("svg")) {
    const edge = svg.getBoundingClientRect();
    const around = svg.closest(".wide").getBoundingClientRect();
    if (svg.closest("details:not([open])") || !edge.width) continue;
    pieces.push({left: edge.left, right: Math.min(edge.right, around.right), top: edge.top,
                 bottom: edge.bottom, text: svg.getAttribute("aria-label"), node: svg});
  }
  pieces.sort((a, b) => a.top - b.top);
  const found = [];
  pieces.forEach((a, place) => {
    for (let next = place + 1; next < pieces.length && pieces[next].top < a.bottom - 2; next++) {
      const b = pieces[next];
      if (a.node !== b.node && a.left < b.right - 2 && b.left < a.right - 2)
        found.push(`${a.text} | ${b.text}`);
    }
  });
  return {pieces: pieces.length, found, wide: document.documentElement.scrollWidth,
          outside: pieces.filter(p => p.right > innerWidth + 1 || p.left < -1).map(p => p.text)};
})()
"""


# What a page folds, opened.
OPENED = "[...document.querySelectorAll('details')].map(each => (each.open = true)).length"
# Sections that show a title alone; in print these are all that are folded.
CLOSED = "document.querySelectorAll('details:not([open])').length"


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    tab = Browser(tmp_path_factory.mktemp("browser"))
    yield tab
    tab.close()


@pytest.fixture(scope="module")
def files(pages, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    for name, page in pages.items():
        (folder / f"{name}.html").write_text(page, encoding="utf-8")
    return folder


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_in_a_browser(browser, files, kind):
    path = files / f"{kind}.html"
    for width in (PHONE, DESK):
        browser.open(path, width, phone=width == PHONE)
        assert browser.evaluate(CLOSED) >= 1
        browser.evaluate(OPENED)
        seen = browser.evaluate(OVERLAPS)
        assert seen["pieces"] > 100
        assert seen["found"] == []
        assert seen["outside"] == []
        assert seen["wide"] <= width
        assert_quiet(browser, path)
    browser.ask("Emulation.setEmulatedMedia", media="print")
    browser.open(path, PAPER)
    seen = browser.evaluate(OVERLAPS)
    assert seen["found"] == []
    assert seen["outside"] == []
    browser.ask("Emulation.setEmulatedMedia", media="")
    pdf = browser.pdf()
    assert pdf.startswith(b"%PDF-")
    pages = printed_pages(pdf)
    assert 2 <= pages <= 12
    if kind == "run":
        # What is folded would take more.
        browser.evaluate(OPENED)
        assert printed_pages(browser.pdf()) > pages
    # A4 in points.
    (box,) = set(re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf))
    assert [float(side) for side in box] == pytest.approx([595.3, 841.9], abs=1.0)


def printed_pages(pdf):
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.slow
def test_the_longest_run_prints_on_eight_pages(browser, case_files, tmp_path):
    # A joint of eight fasteners has all figures and tables that a run can have.
    (path,) = (path for path in case_files if path.stem == "filter_cover")
    result = run(load_case(path), samples=SAMPLES, ranking=True)
    page = tmp_path / "filter_cover.html"
    page.write_bytes(run_files(result, "{}", "metric", "preloadmc run")["report.html"])
    browser.open(page, PAPER)
    assert printed_pages(browser.pdf()) <= 8


def assert_quiet(browser, path):
    """No error on the console, and no request but for the page itself."""
    assert browser.happened("Runtime.exceptionThrown") == []
    assert browser.happened("Runtime.consoleAPICalled") == []
    assert browser.happened("Log.entryAdded") == []
    asked = {event["request"]["url"] for event in browser.happened("Network.requestWillBeSent")}
    assert asked == {path.as_uri()}


def test_the_checks_see_an_overlap_a_request_and_an_error(browser, files, pages):
    path = files / "broken.html"
    broken = pages["aim"].replace("<main ", '<img src="https://example.invalid/x.png"><main ')
    path.write_text(broken.replace("<h1>", '<h1 style="height: 0; width: 500px">'), "utf-8")
    browser.open(path, PHONE, phone=False)
    seen = browser.evaluate(OVERLAPS)
    assert seen["found"]
    assert seen["wide"] > PHONE
    assert any("Content Security Policy" in each["entry"]["text"] for each in errors(browser))


def errors(browser):
    return browser.happened("Log.entryAdded")


def test_the_keyboard_shows_where_it_is(browser, files):
    browser.open(files / "aim.html", DESK)
    for kind in ("keyDown", "keyUp"):
        browser.ask("Input.dispatchKeyEvent", type=kind, key="Tab", code="Tab", **TAB)
    place = browser.evaluate(
        "(() => { const at = document.activeElement, box = at.getBoundingClientRect();"
        " return [at.className, getComputedStyle(at).outlineWidth, box.left >= 0]; })()"
    )
    assert place == ["skip", "3px", True]


TAB = {"windowsVirtualKeyCode": 9, "nativeVirtualKeyCode": 9}
