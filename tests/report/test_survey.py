"""What a survey prints and writes: screen, text, document, tables, page, figures, folder."""

import base64
import csv
import hashlib
import io
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from browser import CHROMIUM, Browser
from legible import assert_legible
from openpyxl import load_workbook
from test_page import Tree
from test_page_in_chromium import DESK, OVERLAPS, PAPER, PHONE

from preloadmc.case_file.register import load_register
from preloadmc.questions.survey import MemoryStore, number_words, survey
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.survey import survey_document, survey_mark
from preloadmc.report.figures.survey import changes_figure, decades_figure, survey_figures
from preloadmc.report.files import survey_files
from preloadmc.report.folder import check_folder, write_folder
from preloadmc.report.tables.survey import (
    register_csv,
    register_jsonl,
    register_rows,
    register_xlsx,
)
from preloadmc.report.text.screen import LINES, render_screen
from preloadmc.report.text.survey import survey_report, survey_screen, survey_text
from preloadmc.report.text.survey_rows import problem_words, survey_rows
from preloadmc.report.text.survey_tables import joint_table
from preloadmc.report.text.tables import WIDTH

SHARED = {"by": "lot", "fraction": 0.5}
FRICTION = {"law": "lognormal", "mean": 0.13, "cov": "9 %", "shared": SHARED}
TEMPLATE = {
    "title": "Cover",
    "friction.thread": FRICTION,
    "friction.bearing": FRICTION,
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "requirement.minimum_preload": "33 kN",
    "requirement.allowed_under": "1 %",
    "requirement.allowed_over": "1 %",
}
OTHER = {**TEMPLATE, "title": "Foot", "requirement.allowed_under": "0.1 %"}
HOSTILE = """<script>alert("1")</script> & <b>x</b>"""
FORMULA = "=1+1"
# Joint, set torque, lot: those that are set far too low miss, one is refused.
ROWS = (
    (HOSTILE, "45", "A"),
    (FORMULA, "60", "A"),
    *((f"joint {n}", f"{84 + n}", "AB"[n % 2]) for n in range(3, 11)),
    (60 * "W", "88", ""),
    ("refused", "-5", "B"),
)
CONTENT = b"joint,...\r\n"


def register_of(session_case, tmp_path_factory, rows, **options):
    """A survey of rows of joint, torque and lot; every second row is of another template."""
    path = tmp_path_factory.mktemp("register") / "cover.csv"
    for name, template in (("joint.toml", TEMPLATE), ("foot.toml", OTHER)):
        content = Path(session_case(template).source).read_bytes()
        (path.parent / name).write_bytes(content)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["joint", "tightening.torque [N·m]", "lot", "case", "note"])
        for place, (joint, torque, lot) in enumerate(rows):
            writer.writerow([joint, torque, lot, "foot.toml" if place % 2 else "", f"n{place}"])
    return survey(
        load_register(path, path.parent / "joint.toml"), store=MemoryStore(), worst=1, **options
    )


@pytest.fixture(scope="module")
def result(session_case, tmp_path_factory):
    return register_of(session_case, tmp_path_factory, ROWS)


@pytest.fixture(scope="module")
def refused(session_case, tmp_path_factory):
    rows = [(f"joint {n}", "-5", "") for n in range(60)]
    return register_of(session_case, tmp_path_factory, rows)


@pytest.fixture(scope="module")
def one(session_case, tmp_path_factory):
    return register_of(session_case, tmp_path_factory, [("alone", "88", "")])


@pytest.fixture(scope="module")
def aimed(session_case, tmp_path_factory):
    rows = [("low", "45", ""), ("high", "88", "")]
    return register_of(session_case, tmp_path_factory, rows, aimed=True)


def files_of(result, **options):
    document = as_json(survey_document(result))
    return survey_files(result, document, "metric", "preloadmc survey x", **options)


@pytest.fixture(scope="module")
def page(result):
    return files_of(result)["report.html"].decode()


def screen_of(result):
    return render_screen(survey_screen(result, "metric"))


@pytest.mark.parametrize("name", ["result", "refused", "one", "aimed"])
def test_a_screen_fits_and_ends_with_its_caution(name, request):
    shown = screen_of(request.getfixturevalue(name))
    lines = shown.splitlines()
    assert len(lines) <= LINES
    # The answer, a line each, is the only text that may hold a long name.
    assert max(map(len, lines)) <= WIDTH
    assert "report: --out FOLDER" in lines[-1]


def test_a_screen_tells_expected_numbers_verdicts_joints_and_changes(result):
    shown = " ".join(screen_of(result).split())
    for count, words in ((2, "2 miss a limit"), (1, "1 refused")):
        assert words in shown, count
    outside = result.expected["outside_window"]
    assert f"outside the window {outside.value:.2f}" in shown
    assert "with what lots and tools share" in shown
    assert "as it is" in shown
    assert result.changes[0].change.words in shown
    assert FORMULA in shown


def test_the_text_has_what_a_reader_asks_for(result):
    text = survey_text(result)
    flat = " ".join(text.split())
    assert "Of 12 joints: 2 miss a limit; 9 meet all that is allowed; 1 refused." in flat
    assert f"{result.worst[0]['joint']} (row" in flat
    assert "refused (row 13), refused: tightening.torque" in flat
    assert "The expected number of joints is the sum of their probabilities." in flat
    assert "Expected misses by" not in flat
    assert re.search(r"^lot +joints +expected outside$", text, re.MULTILINE)
    assert result.answer[0] in text
    long = [line for line in text.splitlines() if len(line) > WIDTH]
    assert set(long) <= set(result.answer)


def test_the_joints_of_a_screen_are_those_at_highest_risk(result):
    report = survey_report(result)
    table = next(
        block
        for section in report.sections
        for block in section.blocks
        if block.kind == "table" and block.orders
    )
    risks = [row["outcomes"]["outside_window"]["probability"] for row in result.rows()
             if row["status"] == "judged"]  # fmt: skip
    assert risks == sorted(risks, reverse=True)
    assert [row[0] for row in table.rows] == [
        row["joint"] for row in result.rows() if row["status"] == "judged"
    ]


def test_rows_can_be_sorted_by_name_with_numbers_by_size(result):
    rows = [row for row in result.rows() if row["status"] == "judged"]
    table = joint_table(rows, "metric", aimed=False)
    by_name = table.orders[table.header.index("joint")]
    ordered = [rows[by_name.index(place)]["joint"] for place in range(len(rows))]
    numbered = [name for name in ordered if name.startswith("joint")]
    assert numbered == [f"joint {n}" for n in range(3, 11)]
    by_setting = table.orders[table.header.index("setting")]
    values = [rows[by_setting.index(place)]["setting"]["value"] for place in range(len(rows))]
    assert values == sorted(values)
    assert table.sorted_by == table.header.index("rank")
    assert table.orders[table.header.index("missed or close")] == ()


def test_the_document_has_all_but_the_rows(result):
    document = json.loads(as_json(survey_document(result)))
    assert document["survey"] == result.source
    mark = survey_mark(result.sha256, result.templates, result.seed, aimed=False)
    assert mark.items() <= document.items()
    assert len(document["templates"]) == 2
    assert document["counts"]["refused"] == 1
    expected = document["expected"]["outside_window"]
    assert expected["low"] <= expected["value"] <= expected["high"]
    total = sum(
        row["outcomes"]["outside_window"]["probability"]
        for row in result.rows()
        if row["status"] == "judged"
    )
    assert expected["value"] == pytest.approx(total, rel=1e-12)
    assert set(document["spread"]) == {"independent", "shared"}
    assert document["spread"]["shared"]["low"] <= document["spread"]["shared"]["high"]
    assert [each["rank"] for each in document["worst"]] == [1]
    assert document["worst"][0]["answer"] == list(result.worst[0]["answer"])
    assert document["changes"][0]["before"] == document["expected"]["any_limit"]
    assert document["cautions"]
    assert not {"rows", "joints_by_risk"} & set(document)


def read_csv(result):
    text = b"".join(register_csv(result)).decode()
    return text, list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_csv_says_what_the_json_lines_say(result):
    text, cells = read_csv(result)
    rows = [json.loads(line) for line in b"".join(register_jsonl(result)).splitlines()]
    assert text.count("\r\n") == len(rows) + 1
    assert rows == list(result.rows())
    assert len(cells) == len(rows) == 12
    for rank, (cell, row) in enumerate(zip(cells, rows, strict=True), 1):
        assert cell["joint"].removeprefix("'") == row["joint"]
        assert int(cell["line"]) == row["line"]
        assert cell["lot"] == row["lot"]
        assert cell["notes"] == f"note: n{row['line'] - 2}"
        assert cell["status"] == row["status"]
        if row["status"] != "judged":
            assert cell["rank"] == cell["outside_window.probability"] == ""
            assert cell["problems"] == "; ".join(problem_words(row)) != ""
            continue
        assert int(cell["rank"]) == rank
        for name, event in row["outcomes"].items():
            for key in ("probability", "low", "high"):
                assert float(cell[f"{name}.{key}"]) == event[key]
            assert cell[f"{name}.verdict"] == event["verdict"]
        # 1 N·m is 1000 N·mm.
        assert float(cell["setting.value"]) * 1e3 == pytest.approx(row["setting"]["value"])
        assert cell["setting.unit"] == "N·m"
        if row["limits"]:
            shown = {each["limit"] for each in row["limits"]}
            assert cell["worst_limit.limit"] in shown
            assert int(cell["other_limits"]) == len(row["limits"]) - 1
    assert "best_setting.to_set" not in cells[0]
    assert "under_preload.band.upper" not in cells[0]


def test_the_worst_limit_is_the_one_farthest_beyond_what_is_allowed(result):
    row = next(iter(result.rows()))
    near = {**row["limits"][0], "limit": "near", "verdict": "meets", "high": 1e-3}
    far = {**near, "limit": "far", "verdict": "misses", "probability": 0.6, "high": 0.7}
    farther = {**far, "limit": "farther", "allowed": far["allowed"] / 10}
    store = MemoryStore()
    store.add([{**row, "limits": [near, far, farther]}])
    changed = replace(result, store=store, keys=(row["key"],), order=(0,))
    (cells,) = register_rows(changed)
    assert cells["worst_limit.limit"] == "farther"
    assert cells["other_limits"] == 2


def test_a_text_like_a_formula_stays_a_text(result):
    text, _ = read_csv(result)
    assert f",'{FORMULA}," in text
    book = load_workbook(io.BytesIO(b"".join(register_xlsx(result, survey_document(result)))))
    (place,) = (cell for row in book["joints"] for cell in row if cell.value == FORMULA)
    assert place.data_type == "s"
    assert place.quotePrefix


def test_the_workbook_has_the_numbers_of_the_csv(result):
    document = survey_document(result)
    content = b"".join(register_xlsx(result, document))
    assert content == b"".join(register_xlsx(result, document))
    book = load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["joints", "changes", "lots and tools"]
    head, *rows = book["joints"].iter_rows(values_only=True)
    for cells, found in zip(register_rows(result), rows, strict=True):
        told = {name: cell if cell != "" else None for name, cell in cells.items()}
        assert dict(zip(head, found, strict=True)) == told
    head, *rows = book["changes"].iter_rows(values_only=True)
    assert [row[head.index("expected.value")] for row in rows] == [
        each.expected.value for each in result.changes
    ]
    assert book["joints"].freeze_panes == "A2"


def test_tables_come_in_pieces(result):
    n = 3000
    store = MemoryStore()
    row = next(iter(result.rows()))
    store.add([{**row, "key": str(place), "joint": f"joint {place}"} for place in range(n)])
    keys = tuple(map(str, range(n)))
    long = replace(result, store=store, keys=keys, order=tuple(range(n)), counts={"judged": n})
    pieces = list(register_csv(long))
    assert len(pieces) > 5
    assert max(map(len, pieces)) < 2 * (1 << 16)
    assert len(b"".join(pieces).splitlines()) == n + 1
    rows = survey_rows(long)
    assert len(rows.first) == 1000
    flat = " ".join(render(survey_report(long, rows=rows)).split())
    assert "2,000 more are in register.csv" in flat


def render(report):
    return "\n".join(line for section in report.sections for line in section.lines())


def test_the_page_is_whole_without_its_script(result, page):
    tree = Tree(page)
    (policy,) = [meta for meta in tree.all("meta") if "@http-equiv" in meta]
    (script,) = tree.all("script")
    digest = base64.b64encode(hashlib.sha256(script["text"].encode()).digest()).decode()
    assert policy["@content"].endswith(f"script-src 'sha256-{digest}'")
    # Buttons are the script's own.
    assert not tree.all("button", "link", "iframe", "img", "object", "form")
    body = [each for each in tree.all("tr") if "@data-order" not in each]
    text = " ".join(" ".join(each["text"].split()) for each in body)
    for row in result.rows():
        if row["status"] == "judged":
            assert " ".join(row["joint"].split()) in text
    (sorted_by,) = [head for head in tree.all("th") if "@aria-sort" in head]
    assert sorted_by["text"] == "rank"
    heads = [head["text"] for head in tree.all("th") if head.get("@class") == "order"]
    assert heads == ["joint", "rank", "verdict", "setting", "lot"]
    main = next(each for each in tree.all("main"))["text"]
    for line in result.answer:
        assert line.partition(": ")[2][1:30] in main.replace("\xa0", " ")


def test_names_are_escaped(page):
    assert "alert(" in page
    assert "<b>x" not in page
    assert len(Tree(page).all("script")) == 1


def test_every_reference_of_the_page_leads_somewhere(page):
    tree = Tree(page)
    ids = [element["@id"] for element in tree.elements if "@id" in element]
    assert len(ids) == len(set(ids))
    for element in tree.elements:
        for name in ("@aria-labelledby", "@href", "@xlink:href", "@clip-path"):
            target = re.fullmatch(r"(?:url\()?#?([^)]*)\)?", element.get(name) or "")[1]
            assert not target or target in ids, target


@pytest.mark.skipif(not CHROMIUM.exists(), reason=f"no {CHROMIUM}")
def test_the_page_in_a_browser_sorts_by_keyboard_and_nothing_overlaps(page, tmp_path):
    path = tmp_path / "report.html"
    path.write_text(page, encoding="utf-8")
    browser = Browser(tmp_path / "browser")
    names = "[...document.querySelectorAll('.sorted tbody th')].map(each => each.textContent)"
    try:
        browser.open(path, 1280)
        by_risk = browser.evaluate(names)
        browser.evaluate("(document.querySelector('.sorted th.order button').focus(), 0)")
        for kind in ("keyDown", "keyUp"):
            key = {"key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13, "text": "\r"}
            browser.ask("Input.dispatchKeyEvent", type=kind, **key)
        by_name = browser.evaluate(names)
        told = "[...document.querySelectorAll('.sorted th')].map(each => each.ariaSort)"
        assert browser.evaluate(told)[:2] == ["ascending", None]
        browser.evaluate("(document.querySelector('.sorted th.order button').click(), 0)")
        assert browser.evaluate(names) == by_name[::-1]
        assert browser.happened("Log.entryAdded") == []
        assert browser.happened("Runtime.exceptionThrown") == []
        for width in (PHONE, DESK):
            browser.open(path, width, phone=width == PHONE)
            seen = browser.evaluate(OVERLAPS)
            assert seen["found"] == seen["outside"] == []
            assert seen["wide"] <= width
        browser.ask("Emulation.setEmulatedMedia", media="print")
        browser.open(path, PAPER)
        seen = browser.evaluate(OVERLAPS)
        assert seen["found"] == seen["outside"] == []
    finally:
        browser.close()
    assert sorted(by_name) == sorted(by_risk)
    assert by_name != by_risk
    numbered = [name for name in by_name if name.startswith("joint")]
    assert numbered == [f"joint {n}" for n in range(3, 11)]


def test_no_text_of_a_figure_overlaps(result):
    rows = survey_rows(result)
    figures = survey_figures(result, rows)
    assert [each.name for each in figures] == ["survey_joints", "survey_parts", "survey_changes"]
    for named in figures:
        assert_legible(named.figure)
        assert named.alt.endswith(".")
    crowded = replace(
        rows,
        decades={(k, "meets"): 9999 + k for k in range(-13, 0)} | {(-1, "not resolved"): 5},
        allowed=(1e-5, 1e-4, 1e-3, 1e-2),
    )
    assert_legible(decades_figure(crowded).figure)
    wide = [replace(each, expected=replace(each.expected, value=1e-4 * each.expected.value,
                                           low=0.0)) for each in result.changes[:2]]  # fmt: skip
    changed = replace(result, changes=(*wide, *result.changes[2:]))
    assert_legible(changes_figure(changed).figure)


def test_each_joint_lies_in_the_decade_of_its_probability(result):
    (ax,) = decades_figure(survey_rows(result)).figure.axes
    drawn = {}
    for bar in ax.patches:
        if bar.get_height():
            decade = round(bar.get_x() + bar.get_width() / 2 - 0.5)
            drawn[decade] = drawn.get(decade, 0) + round(bar.get_height())
    counted = {}
    for row in result.rows():
        if row["status"] == "judged":
            event = row["outcomes"]["outside_window"]
            decade = math.floor(math.log10(event["probability"] or event["high"]))
            decade = max(min(decade, -1), -13)
            counted[decade] = counted.get(decade, 0) + 1
    assert drawn == counted


def test_a_register_of_refused_rows(refused):
    assert {"report.html", "register.csv", "register.jsonl"} <= set(files_of(refused))
    text = " ".join(survey_text(refused).split())
    assert "60 rows refused for what the row says" in text
    assert "joint 49 (row 51), refused: tightening.torque" in text
    assert "joint 50 (row 52)" not in text
    assert "10 more; register.csv has all with their reasons." in text
    _, cells = read_csv(refused)
    assert len(cells) == 60
    assert all(cell["problems"] for cell in cells)
    assert survey_figures(refused, survey_rows(refused)) == ()
    assert survey_document(refused)["expected"]["outside_window"]["value"] == 0.0
    # Expected numbers of no joint are not shown.
    assert "too little preload" not in screen_of(refused)
    assert "joint 0 (row 2)" in screen_of(refused)
    assert "and 59 more (--full)" in screen_of(refused)


def test_one_joint_that_misses_nothing(one):
    text = " ".join(survey_text(one).split())
    assert "Of 1 joint: 1 meets all that is allowed." in text
    assert "No lot or tool is stated to share anything." in text
    assert "The joint at highest risk" in text
    assert one.shared is None
    assert survey_document(one)["spread"]["shared"] is None
    for named in survey_figures(one, survey_rows(one)):
        assert_legible(named.figure)


def test_best_settings_stand_beside_the_joints(aimed):
    _, cells = read_csv(aimed)
    for cell, row in zip(cells, aimed.rows(), strict=True):
        best = row["best_setting"]
        assert float(cell["best_setting.to_set"]) * 1e3 == pytest.approx(best["to_set"])
        assert cell["best_setting.verdict"] == "meets"
        assert float(cell["best_setting.probability"]) == best["probability"]
    text = files_of(aimed)["report.html"].decode()
    assert "best setting" in text


def test_a_folder_with_all_files_in_it(result, tmp_path):
    folder = tmp_path / "report"
    write_folder(folder, files_of(result, register=CONTENT, xlsx=True, png=True))
    found = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert {"report.txt", "report.html", "report.json", "inputs/cover.csv", "register.csv",
            "register.jsonl", "register.xlsx", "survey_joints.png"} <= found  # fmt: skip
    assert (folder / "inputs/cover.csv").read_bytes() == CONTENT
    assert hashlib.sha256(CONTENT).hexdigest() in (folder / "report.html").read_text("utf-8")
    assert {"joint.toml", "foot.toml"} <= {Path(name).name for name in found}
    assert (folder / "register.csv").read_bytes() == b"".join(register_csv(result))
    mark = survey_mark(result.sha256, result.templates, result.seed, aimed=result.aimed)
    check_folder(folder, mark, overwrite=False)
    # Every piece is in the sums of the manifest: a changed register is noticed.
    sums = json.loads((folder / "manifest.json").read_text("utf-8"))["files"]
    content = (folder / "register.jsonl").read_bytes()
    assert sums["register.jsonl"] == hashlib.sha256(content).hexdigest()


def test_a_result_as_dict_frame_and_part_of_a_notebook(result):
    document = result.to_dict()
    assert document["question"] == "survey"
    frame = result.to_frame()
    assert len(frame) == 12
    assert frame["outside_window.probability"].sum() == pytest.approx(
        result.expected["outside_window"].value
    )
    shown = result._repr_html_()
    assert number_words(result.expected["outside_window"].value) in shown
    assert "<script" not in shown
