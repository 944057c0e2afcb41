"""Findings as people write them down: dialects of a CSV file, words, torques without direction."""

import pytest

from preloadmc import load_case
from preloadmc.errors import CaseError

SUSPECT = [{"name": "dry", "friction": {"thread": 0.2, "bearing": 0.2}}]
HEADER = ("fastener", "kind", "value", "sd", "note")
ROWS = (
    ("1", "residual preload", "24.5 kN", "1.5 kN", "read, twice"),
    ("2", "residual preload", "below 10 kN", "", ""),
    ("2", "mark", "not turned", "", ""),
    ("", "loose count", "3 of 12", "", ""),
)


def lines(divider, rows=(HEADER, *ROWS), quoted=False, comma=False, ending=""):
    """The findings in one dialect; ``comma`` stands before decimals."""

    def cell(text):
        text = text.replace("24.5", "24,5").replace("1.5", "1,5") if comma else text
        return f'"{text}"' if quoted or divider in text else text

    return [divider.join(cell(each) for each in row) + ending for row in rows]


def shouted():
    return [line.upper().replace("KN", "kN") for line in lines(",")]


DIALECTS = {
    "commas": "\n".join(lines(",")),
    "semicolons": "\n".join(lines(";")),
    "tabs": "\n".join(lines("\t")),
    "semicolons, decimal commas": "\n".join(lines(";", comma=True)),
    "tabs, decimal commas": "\n".join(lines("\t", comma=True)),
    "commas, quoted decimal commas": "\n".join(lines(",", quoted=True, comma=True)),
    "byte order mark": "\ufeff" + "\n".join(lines(",")),
    "line ends of another system": "\r\n".join(lines(";", comma=True)) + "\r\n",
    "old line ends": "\r".join(lines(",")),
    "all quoted": "\n".join(lines(";", quoted=True)),
    "blank lines": "\n\n" + "\n\n".join(lines(",")) + "\n,,,,\n\n",
    "dividers at the end": "\n".join(lines(";", ending=";;")),
    "blanks about the cells": "\n".join(line.replace(";", " ; ") for line in lines(";")),
    "capitals": "\n".join(shouted()),
}


def read(tmp_path, write_case, text):
    (tmp_path / "found.csv").write_bytes(text.encode())
    path = write_case({"investigation": {"evidence": "found.csv"}, "suspect": SUSPECT})
    return load_case(path).investigation.evidence


def refused(tmp_path, write_case, text):
    with pytest.raises(CaseError) as caught:
        read(tmp_path, write_case, text)
    return str(caught.value)


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_evidence(tmp_path, write_case, dialect):
    evidence = read(tmp_path, write_case, DIALECTS[dialect])
    preload, censored, mark = evidence.findings
    assert (preload.value, preload.error, preload.sense) == (24500.0, 1500.0, "measured")
    assert (censored.fastener, censored.value, censored.sense) == ("2", 10e3, "below")
    assert (mark.kind, mark.seen) == ("mark", False)
    assert [(each.loose, each.inspected) for each in evidence.counts] == [(3, 12)]


def test_a_comma_that_may_divide_thousands_is_refused(tmp_path, write_case):
    row = ("1", "residual preload", "1,500 N", "50 N", "")
    words = refused(tmp_path, write_case, "\n".join(lines(",", (HEADER, row))))
    assert "found.csv, line 2, value: '1.500 N' or '1500 N': the comma may be either" in words
    # Where semicolons divide the cells, it stands before decimals.
    kilo = ("1", "residual preload", "1,500 kN", "50 N", "")
    (found,) = read(tmp_path, write_case, "\n".join(lines(";", (HEADER, kilo)))).findings
    assert found.value == 1500.0


def test_a_decimal_comma_that_divides_cells_is_told(tmp_path, write_case):
    text = "fastener,kind,value,sd\n1,residual preload,24,5 kN,1 kN\n"
    assert "a decimal comma needs quotes about its cell" in refused(tmp_path, write_case, text)


@pytest.mark.parametrize(
    ("value", "seen"),
    [
        ("turned", True),
        ("Turned", True),
        ("rotated", True),
        ("MOVED", True),
        ("Not turned", False),
        ("not  rotated", False),
        ("not moved", False),
    ],
)
def test_words_for_a_mark(make_case, value, seen):
    row = {"fastener": 1, "kind": "Mark", "value": value}
    case = make_case({"evidence": [row], "suspect": SUSPECT})
    assert case.investigation.evidence.findings[0].seen is seen


@pytest.mark.parametrize("value", ["3 of 12", "3 OF 12", "3/12", "3 / 12", "3 out of 12"])
def test_words_for_a_count(make_case, value):
    case = make_case({"evidence": [{"kind": "loose count", "value": value}], "suspect": SUSPECT})
    assert case.investigation.evidence.counts[0].words == "3 of 12"


@pytest.mark.parametrize("kind", ["breakaway torque", "Check torque", "retightening torque"])
def test_a_torque_without_direction_is_asked_for_it(write_case, kind):
    row = {"fastener": 1, "kind": kind, "value": "60 N·m", "sd": "3 N·m"}
    with pytest.raises(CaseError) as caught:
        load_case(write_case({"evidence": [row], "suspect": SUSPECT}))
    words = str(caught.value)
    assert "which direction? 'tightening torque' (to turn it on)" in words
    assert "'loosening torque' (to turn it back)" in words
