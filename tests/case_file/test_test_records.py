"""Test records as laboratories write them: dialects, units, filters, lots, every plain error."""

import pytest

from preloadmc.case_file.problems import Problems
from preloadmc.case_file.test_records import MOST_LINES, read_records
from preloadmc.units import FORCE, RATIO, TEMPERATURE, TORQUE, dimension_of

HEADER = ("lot", "lubricant", "torque [N·m]", "preload [kN]", "thread")
ROWS = (
    ("A", "oil", "84.1", "43.25", "0.132"),
    ("A", "Oil", "83.9", "44", "0.1275"),
    ("B", "dry film, grey", "84.25", "38.5", "0.15"),
)


def lines(divider, header=HEADER, quoted=False, comma=False, ending=""):
    def cell(text, number):
        text = text.replace(".", ",") if comma and number else text
        return f'"{text}"' if quoted or divider in text else text

    table = [divider.join(cell(each, False) for each in header) + ending]
    return table + [
        divider.join(cell(each, place > 1) for place, each in enumerate(row)) + ending
        for row in ROWS
    ]


def units(torque, preload):
    return (*HEADER[:2], torque, preload, HEADER[4])


DIALECTS = {
    "commas": "\n".join(lines(",")),
    "semicolons, decimal commas": "\n".join(lines(";", comma=True)),
    "tabs, decimal commas": "\n".join(lines("\t", comma=True)),
    "commas, quoted decimal commas": "\n".join(lines(",", quoted=True, comma=True)),
    "byte-order mark": "\ufeff" + "\n".join(lines(";")),
    "line ends of another system": "\r\n".join(lines(";", comma=True)) + "\r\n",
    "old line ends": "\r".join(lines(",")),
    "dividers at the end": "\n".join(lines(";", ending=";;")),
    "blanks about the cells": "\n".join(line.replace(";", " ; ") for line in lines(";")),
    "comments": "# M12, head turned; 20 °C\n\n" + "\n# second lot\n".join(lines(",")),
    "round brackets": "\n".join(lines(",", units("Torque (Nm)", "preload (kN)"))),
    "after a slash": "\n".join(lines(",", units("torque / N·m", "preload / kN"))),
}


def column(text, heading, dimension, **more):
    problems = Problems()
    found = read_records(text, "tests.csv").column(heading, dimension, problems, **more)
    assert not problems
    return found


def refused(text, heading="thread", dimension=RATIO, **more):
    problems = Problems()
    assert read_records(text, "tests.csv").column(heading, dimension, problems, **more) is None
    return [str(each) for each in problems.sorted(lambda _: ())]


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_values(dialect):
    text = DIALECTS[dialect]
    torque = column(text, "torque", TORQUE, lot="lot")
    assert torque.values == pytest.approx((84_100.0, 83_900.0, 84_250.0))
    assert torque.lots == ("A", "A", "B")
    assert column(text, "preload", FORCE).values == pytest.approx((43_250.0, 44_000.0, 38_500.0))
    thread = column(text, "thread", RATIO, where={"lubricant": "oil"})
    assert thread.values == (0.132, 0.1275)
    assert thread.lots is None


def test_lines_are_those_of_the_file():
    text = "# comment\n\nlot,thread\nA,0.12\n\n# more\nB,0.13\nB,\n"
    found = column(text, "thread", RATIO, lot="lot")
    assert (found.lines, found.empty, found.lots) == ((4, 7), (8,), ("A", "B"))


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("thread friction (-)", "thread friction"),
        ("thread friction [1]", "thread friction"),
        ("friction (thread)", "friction (thread)"),
        ("thread/bearing", "thread/bearing"),
    ],
)
def test_words_in_brackets_are_a_unit_only_where_they_can_be(header, name):
    records = read_records(f"{header}\n0.12\n0.13\n", "tests.csv")
    assert records.names == (name,)
    assert records.unit_of(header) == ""


def test_units_in_the_cells_may_differ_within_a_dimension():
    text = 'torque\n84 N·m\n62 lbf·ft\n"8,5 kN·cm"\n'
    # 62 lbf·ft = 62 x 4.4482216152605 N x 304.8 mm; 8.5 kN·cm = 85 N·m.
    values = column(text, "torque", TORQUE).values
    assert values == pytest.approx((84_000.0, 62 * 4.4482216152605 * 304.8, 85_000.0))
    assert read_records(text, "tests.csv").unit_of("torque") == "N·m"


def test_a_temperature_keeps_the_zero_of_its_scale():
    assert column("t [°C]\n20\n25\n", "t", TEMPERATURE).values == (293.15, 298.15)


def test_a_unit_may_be_given_where_the_file_states_none():
    assert column("torque\n84\n85\n", "torque", TORQUE, unit="N·m").values == (84e3, 85e3)


def test_per_cent_in_the_header():
    assert column("error [%]\n2\n-3\n", "error", RATIO).values == pytest.approx((0.02, -0.03))


@pytest.mark.parametrize(
    ("unit", "name"), [("kN", "force"), ("Nm", "torque"), ("", "ratio"), ("°C", "temperature")]
)
def test_what_a_unit_measures(unit, name):
    assert dimension_of(unit).name == name


def test_an_unknown_column_is_told_with_the_nearest():
    (words,) = refused("lot,thread\nA,0.12\n", "thraed", path="friction.thread.")
    assert words == (
        "friction.thread.column: a column of tests.csv: 'lot', 'thread'; nearest: 'thread' "
        "(given: 'thraed')"
    )
    words = refused(DIALECTS["commas"], where={"lubricand": "oil"}, lot="lots", path="--")
    assert [each.partition(":")[0] for each in words] == ["--where", "--lot"]
    assert "nearest: 'lubricant' (given: 'lubricand')" in words[0]


def test_text_among_numbers_is_told_with_row_and_column_all_at_once():
    text = "lot,thread\nA,0.12\nA,n/a\nB,N·m\nB,0.13\nC,#DIV/0!\n"
    assert refused(text) == [
        "tests.csv, line 3, thread: a number; leave the cell empty where there is no value "
        "(given: 'n/a')",
        "tests.csv, line 4, thread: a number; a unit stands in the header, as in 'thread [N·m]' "
        "(given: 'N·m')",
        "tests.csv, line 6, thread: a number; leave the cell empty where there is no value "
        "(given: '#DIV/0!')",
    ]


def test_a_failed_formula_is_no_comment():
    (words,) = refused("thread\n0.12\n#N/A\n0.13\n")
    assert words.startswith("tests.csv, line 3, thread: a number")


def test_units_are_stated_in_one_way():
    (words,) = refused("torque\n84 N·m\n85\n86 N·m\n", "torque", TORQUE, unit="N·m")
    assert words == (
        "tests.csv, torque: units in all cells or in none; line 2 has one, line 3 has none"
    )
    (words,) = refused("torque [N·m]\n84\n85 N·m\n", "torque", TORQUE)
    assert words.startswith("tests.csv, line 3, torque: no unit in the cell: the header states one")
    (words,) = refused("torque\n84\n85\n", "torque", TORQUE)
    assert words == (
        "tests.csv, line 2, torque: a torque needs a unit, such as N·m or lbf·ft (in the header: "
        "'torque [N·m]', or in the cells) (given: '84')"
    )


def test_another_dimension_is_told_once():
    (words,) = refused("torque [kN]\n84\n85\n86\n", "torque", TORQUE)
    assert "line 2, torque: a torque is wanted (N·m or lbf·ft); 'kN' is another" in words
    words = refused("torque\n84 N·m\n85 kN\n", "torque", TORQUE)
    assert len(words) == 1
    assert "line 3, torque: a torque is wanted" in words[0]


def test_a_comma_that_may_divide_thousands():
    words = refused('f [N]\n"1,500"\n"2,500"\n', "f", FORCE)
    assert words[0].startswith(
        "tests.csv, line 2, f: '1.500' or '1500': the comma may be either; divide the cells by "
        "semicolons, or write a point"
    )
    assert len(words) == 2
    # Another cell of the column, or the semicolon, leaves no doubt.
    assert column('f [N]\n"1,500"\n"2,5"\n', "f", FORCE).values == (1.5, 2.5)
    assert column("f [N];lot\n1,500;A\n2,500;A\n", "f", FORCE).values == (1.5, 2.5)


def test_a_point_among_decimal_commas():
    (words,) = refused("f [N];lot\n1.500;A\n2,5;A\n", "f", FORCE)
    assert "line 2, f: a comma before the decimals, as in other cells of the column" in words


def test_an_empty_group():
    (words,) = refused(DIALECTS["commas"], where={"lubricant": "wax"})
    assert words == (
        "where: a group that is not empty; the column 'lubricant' has 'oil' (2), "
        "'dry film, grey' (1) (given: 'lubricant = wax')"
    )
    text = "kind,thread\n" + "".join(f"k{i},0.1{i}\n" for i in range(12))
    (words,) = refused(text, where={"kind": "k99"})
    assert words.endswith("'k7' (1) and 4 more (given: 'kind = k99')")


def test_one_test_and_equal_tests():
    text = "lot,thread\nA,0.12\nB,0.12\n"
    (words,) = refused(text, where={"lot": "A"})
    assert words == (
        "tests.csv, thread: at least 2 tests, or there is no scatter to see (given: '1 test')"
    )
    (words,) = refused(text)
    assert "values that differ: all 2 are equal" in words
    assert column(text, "thread", RATIO, differing=False).values == (0.12, 0.12)


def test_a_value_that_the_quantity_cannot_have():
    def above_zero(value):
        return "" if value > 0.0 else "a friction above 0"

    (words,) = refused("thread\n0.12\n-0.13\n", check=above_zero)
    assert words == "tests.csv, line 3, thread: a friction above 0 (given: '-0.13')"
    for size in ("1e30", "1e999", "1e-30"):
        (words,) = refused(f"thread\n0.12\n{size}\n")
        assert "line 3, thread: a ratio of a size that something has" in words


def test_a_test_without_its_lot():
    (words,) = refused("lot,thread\nA,0.12\n,0.13\n", lot="lot")
    assert words == "tests.csv, line 3, lot: the lot of this test; the cell is empty"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "tests.csv: a CSV file with a header and a row for each test"),
        ("thread\n", "tests.csv: a CSV file with a header and a row for each test"),
        ("a,b\n1,2\n1,2,3\n", "line 3: 2 cells, as in the header; a decimal comma needs quotes"),
        ("a;b\n1\n", "tests.csv, line 2: 2 cells, as in the header (given: '1 cell')"),
        ("Report 7\na,b\n1,2\n", "line 2: 1 cell, as in the header"),
        ("Report 7\na,b\n1,2\n", "(lines above the header begin with #)"),
        ("a,A\n1,2\n", "tests.csv, line 1: each column once (given: 'A')"),
        ('a,b\n1,"2"3\n', "tests.csv, line 2: CSV: "),
    ],
)
def test_what_is_no_table(text, words):
    assert words in "\n".join(refused(text, "a"))


def test_too_many_rows_end_in_words():
    (words,) = refused("thread\n" + "\n" * MOST_LINES)
    assert words == (
        "tests.csv: at most 1,000,000 lines; take a sample of them, drawn at random "
        "(given: '1,000,001 lines')"
    )


def test_problems_are_cut_off():
    problems = Problems()
    text = "thread\n" + "x\n" * 10_000
    assert read_records(text, "t.csv").column("thread", RATIO, problems) is None
    assert problems.cut_off


def test_units_of_columns():
    text = "no,what,torque,rate [kN/h],load [kN]\n1,x,84 N·m,2,\n2,y,85 N·m,3,\n"
    records = read_records(text, "t.csv")
    found = [records.unit_of(name) for name in (*records.names, "nothing")]
    assert found == ["", None, "N·m", "kN/h", None, None]
    assert read_records("a\n3 rpm\n", "t.csv").unit_of("a") is None


def test_a_divider_within_quotes_divides_nothing():
    text = '"seat; turned side",thread\n"nut; zinc",0.12\nhead,0.13\n'
    assert column(text, "thread", RATIO, lot="seat; turned side").lots == ("nut; zinc", "head")
