"""Tables of results: what stands in the JSON document, as CSV, as workbook, as data frame."""

import csv
import io
import json
import math
from zipfile import ZipFile

import openpyxl
import pytest
from page_cases import SCATTER

from preloadmc import aim, compare, fit, load_case, load_records, rank, run
from preloadmc.report.tables.result_tables import result_tables
from preloadmc.report.tables.spreadsheet import csv_table, workbook

FORMULAS = ("=1+1", "+1", "-1+2", "@SUM(A1)")
TESTS = "lot,thread\n" + "".join(f"{'AB'[i % 2]},{0.12 + 0.004 * i:.3f}\n" for i in range(10))


@pytest.fixture(scope="module")
def results(session_case, tmp_path_factory):
    """A result of every question but the investigation, which takes long."""
    alternatives = [
        {"name": name, "tightening": {"torque": f"{75 + place} N·m"}}
        for place, name in enumerate(FORMULAS)
    ]
    case = session_case({**SCATTER, "name": "as it is", "alternative": alternatives})
    tests = tmp_path_factory.mktemp("tests") / "tests.csv"
    tests.write_text(TESTS, encoding="utf-8")
    return {
        "run": run(case, samples=5000),
        "rank": rank(case, base_samples=256, second_order=True, convergence=True),
        "compare": compare(case),
        "aim": aim(case),
        "fit": fit(load_records(tests)),
    }


@pytest.fixture(scope="module")
def documents(results):
    return {name: result.to_dict() for name, result in results.items()}


@pytest.fixture(scope="module")
def tables(results, documents):
    """The tables of each result by question."""
    return {
        name: result_tables(document, results[name].case) for name, document in documents.items()
    }


def sheets(tables):
    """The tables of a workbook as openpyxl reads it: rows by column, by the sheet's name."""
    book = openpyxl.load_workbook(io.BytesIO(workbook(tables)))
    found = {}
    for sheet in book:
        header, *rows = sheet.iter_rows(values_only=True)
        found[sheet.title] = [dict(zip(header, row, strict=True)) for row in rows]
    return found


def numbers_of(value):
    """All numbers of a document but whole ones, which a table may have by chance."""
    if isinstance(value, dict):
        return {number for each in value.values() for number in numbers_of(each)}
    if isinstance(value, list):
        return {number for each in value for number in numbers_of(each)}
    return {value} if isinstance(value, float) and not value.is_integer() else set()


def test_a_run_has_a_row_for_each_event_with_the_numbers_of_the_document(documents, tables):
    document = documents["run"]
    rows = sheets(tables["run"])["run"]
    by_kind = {(row["kind"], row["name"]): row for row in rows}
    assert len(by_kind) == len(rows)
    names = {("outcome", name) for name in document["outcomes"]}
    names |= {("limit", each["limit"]) for each in document["limits"]}
    names |= {("limit", each["limit"]) for each in document["not_judged"]}
    assert set(by_kind) == names
    for limit in document["limits"]:
        row = by_kind["limit", limit["limit"]]
        for key in ("governing_state", "probability", "low", "high", "allowed", "verdict"):
            assert row[key] == limit[key]
    for name, outcome in document["outcomes"].items():
        row = by_kind["outcome", name]
        for key in ("probability", "low", "high", "confidence", "method", "samples", "beta"):
            assert row[key] == outcome[key]
    # Nothing is allowed of both sides together: as on the screen, that has no verdict.
    assert by_kind["outcome", "outside_window"]["verdict"] is None
    sides = [by_kind["outcome", name]["verdict"] for name in ("under_preload", "over_preload")]
    assert sides == [document["outcomes"][name]["verdict"] for name in document["outcomes"]][:2]


@pytest.mark.parametrize("name", ["run", "rank", "compare", "fit"])
def test_a_workbook_holds_every_number_of_the_document(documents, tables, name):
    rows = [row for sheet in sheets(tables[name]).values() for row in sheet]
    written = {value for row in rows for value in row.values()}
    texts = " ".join(value for value in written if isinstance(value, str))
    numbers = numbers_of(documents[name])
    assert len(numbers) > 20
    # Numbers of a list stand in one cell, as a text.
    assert [each for each in numbers - written if json.dumps(each) not in texts] == []


def test_a_comparison_has_every_event_of_every_alternative(documents, tables):
    rows = sheets(tables["compare"])["compare"]
    for each in documents["compare"]["alternatives"]:
        mine = {row["name"]: row for row in rows if row["alternative"] == each["name"]}
        over = each["outcomes"]["over_preload"]
        assert mine["over_preload"]["probability"] == over["probability"]
        if "difference_to_first" in over:
            difference = over["difference_to_first"]["difference"]
            assert mine["over_preload"]["difference_to_first.difference"] == difference
        assert mine["over_preload"]["setting.value"] == each["setting"]["value"]
        assert mine["over_preload"]["setting.unit"] == "N·mm"


def test_aim_has_the_settings_of_note_and_its_curves(documents, tables):
    document, found = documents["aim"], sheets(tables["aim"])
    places = {(row["at"], row["name"]): row for row in found["aim"]}
    setting = document["setting"]
    for at in ("present", "best"):
        row = places[at, "under_preload"]
        assert (row["setting"], row["unit"]) == (setting[at]["setting"], "N·mm")
        assert row["probability"] == setting[at]["under_preload"]["probability"]
    verified = document["verification"]["over_preload"]["probability"]
    assert places["verification", "over_preload"]["probability"] == verified
    curve = document["curve"]
    assert [row["setting"] for row in found["curve"]] == curve["setting"]
    high = [row["over_preload.high"] for row in found["curve"]]
    assert high == curve["over_preload"]["high"]


def test_a_ranking_has_a_row_for_each_share(documents, tables):
    ranking = documents["rank"]["ranking"]
    rows = sheets(tables["rank"])["rank"]
    by_measure = {(row["of"], row["measure"], row["name"]): row["value"] for row in rows}
    for each in ranking["inputs"]:
        assert by_measure[ranking["quantity"], "total", each["name"]] == each["total"]
    for each in ranking["misses"]["under_preload"]["inputs"]:
        assert by_measure["under_preload", "share", each["name"]] == each["share"]


def test_a_fit_has_a_row_for_each_quantity_and_sheets_of_what_was_tried(documents, tables):
    (quantity,) = documents["fit"]["quantities"]
    found = sheets(tables["fit"])
    assert found["fit"][0]["mean_high"] == quantity["mean_high"]
    assert found["fit"][0]["limits.upper"] == quantity["limits"]["upper"]
    assert [row["law"] for row in found["laws"]] == [each["law"] for each in quantity["laws"]]
    assert found["drift"][0]["p_value"] == quantity["drift"]["p_value"]


@pytest.mark.parametrize("name", ["run", "rank", "compare", "aim", "fit"])
def test_csv_and_data_frame_hold_the_first_sheet(results, tables, name):
    first = tables[name][0]
    read = list(csv.reader(io.StringIO(csv_table(first).decode("utf-8"))))
    assert tuple(read[0]) == first.columns
    frame = results[name].to_frame()
    assert tuple(frame.columns) == first.columns
    assert len(frame) == len(first.rows) == len(read) - 1 > 0
    for line, typed, row in zip(first.rows, read[1:], frame.itertuples(index=False), strict=True):
        for cell, text, of_frame in zip(line, typed, row, strict=True):
            if cell is None:
                assert text == ""
                assert math.isnan(of_frame)
            elif isinstance(cell, str):
                assert text.removeprefix("'") == cell == of_frame
            else:
                assert json.loads(text) == cell == of_frame


def test_what_looks_like_a_formula_stays_a_text(tables):
    compared = tables["compare"]
    text = csv_table(compared[0]).decode("utf-8")
    for name in FORMULAS:
        assert f"\n'{name}," in text
        assert f"\n{name}," not in text
    book = openpyxl.load_workbook(io.BytesIO(workbook(compared)))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"n", "s", "b"}
    found = {cell.value: cell for cell in cells if cell.value in FORMULAS}
    assert set(found) == set(FORMULAS)
    # Without this mark a spreadsheet makes a formula of it as soon as the cell is edited.
    assert all(cell.quotePrefix for cell in found.values())
    # No formula element in the files of the sheets.
    with ZipFile(io.BytesIO(workbook(compared))) as archive:
        assert not any(b"<f>" in archive.read(name) for name in archive.namelist())


def test_headers_are_frozen_and_columns_wide_enough(tables):
    book = openpyxl.load_workbook(io.BytesIO(workbook(tables["run"])))
    for sheet in book:
        assert sheet.freeze_panes == "A2"
    widths = {
        cell.value: book["run"].column_dimensions[cell.column_letter].width
        for cell in book["run"][1]
    }
    assert widths["governing_state"] >= len("governing_state")


def test_the_same_result_makes_the_same_bytes_on_any_day(tables, monkeypatch):
    one = workbook(tables["run"])
    # ZIP archives date their files by this clock, in steps of two seconds.
    monkeypatch.setattr("time.time", lambda: 2.0e9)
    assert workbook(tables["run"]) == one
    with ZipFile(io.BytesIO(one)) as archive:
        assert {each.date_time for each in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"1980-01-01T00:00:00Z</dcterms:modified>" in archive.read("docProps/core.xml")


def test_every_input_has_its_law_and_unit(results, tables):
    rows = {row["name"]: row for row in sheets(tables["run"])["inputs"]}
    case = results["run"].case
    assert set(rows) == set(case.laws)
    torque = rows["tightening.torque"]
    assert (torque["mean"], torque["unit"]) == (case.laws["tightening.torque"].mean, "N·mm")
    assert rows["friction.thread"]["sd"] == case.laws["friction.thread"].sd


@pytest.mark.slow
def test_a_flange_has_tables_of_its_fasteners(case_files):
    (path,) = (path for path in case_files if path.stem == "filter_cover")
    case = load_case(path)
    result = run(case, samples=2000)
    document = result.to_dict()
    found = sheets(result_tables(document, case))
    kinds = [row["kind"] for row in found["run"]]
    assert kinds.count("group") == len(document["group"]["outcomes"])
    weakest = document["group"]["weakest"]
    row = found["residual"][weakest - 1]
    assert row["fastener"] == weakest
    assert row["p50"] == document["group"]["residual"]["p50"][weakest - 1]
    assert len(found["by_fastener"]) % document["group"]["fasteners"] == 0


def test_an_investigation_has_a_row_for_each_suspect(loosened_alone):
    document = loosened_alone.to_dict()
    found = sheets(result_tables(document, loosened_alone.case))
    by_name = {row["name"]: row for row in found["infer"]}
    for suspect in document["suspects"]:
        assert by_name[suspect["name"]]["probability"] == suspect["probability"]
    assert [row["words"] for row in found["evidence"]] == [
        each["words"] for each in document["evidence"]["findings"]
    ]
    after = document["suspects"][0]["inputs"][0]
    assert found["laws_after"][0]["p50"] == after["p50"]
