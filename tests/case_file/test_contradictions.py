"""Findings that cannot all be so, and counts of more fasteners than the lot has."""

import pytest

from preloadmc import load_case
from preloadmc.errors import CaseError

SUSPECT = [{"name": "dry", "friction": {"thread": 0.2, "bearing": 0.2}}]
GAUGES = [{"name": "A", "bias_sd": "5 %"}, {"name": "B", "bias_sd": "5 %"}]


def preload(value, sd="0.5 kN", fastener=3, **more):
    row = {"fastener": fastener, "kind": "residual preload", "value": value, **more}
    return row if value.startswith(("below", "above", "finger")) else {**row, "sd": sd}


def mark(value, fastener=3):
    return {"fastener": fastener, "kind": "mark", "value": value}


def investigated(write_case, *rows, **more):
    overrides = {"evidence": list(rows), "suspect": SUSPECT, **more}
    return load_case(write_case(overrides)).investigation


def problems(write_case, *rows, **more):
    with pytest.raises(CaseError) as caught:
        investigated(write_case, *rows, **more)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (mark("turned"), mark("not rotated")),
        (preload("10 kN"), preload("below 3 kN")),
        (preload("below 3 kN"), preload("10 kN")),
        (preload("above 10 kN"), preload("below 3 kN")),
        (preload("10 kN"), preload("above 20 kN")),
        (preload("10 kN"), preload("20 kN")),
        (preload("10 kN"), preload("finger-loose")),
    ],
)
def test_rows_that_exclude_each_other_are_refused_with_both_named(write_case, first, second):
    (words,) = problems(write_case, mark("turned", 1), first, second)
    assert words.startswith("evidence[3]: ")
    assert "of fastener 3 as at evidence[2]" in words
    assert f"which says '{first['value']}': the two exclude each other" in words


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (preload("10 kN"), preload("11.5 kN")),  # a re-check: 2.1 errors apart
        (preload("10 kN"), preload("below 12 kN")),
        (preload("10 kN"), preload("above 9 kN")),
        (preload("below 3 kN"), preload("below 10 kN")),
        (preload("10 kN"), preload("20 kN", fastener=4)),
        (preload("0.2 kN"), preload("finger-loose")),
        (mark("turned"), mark("not turned", 4)),
        # 5 % of 20 and of 24 kN beside errors of 0.3 kN: 2.5 of their errors, else 9.
        (preload("20 kN", "0.3 kN", instrument="A"), preload("24 kN", "0.3 kN", instrument="B")),
    ],
)
def test_what_may_well_be_so(write_case, first, second):
    evidence = investigated(write_case, first, second, **{"investigation.instrument": GAUGES})
    assert len(evidence.evidence.findings) == 2


def test_an_error_of_one_instrument_explains_no_difference_of_its_own_readings(write_case):
    rows = [preload(value, "0.3 kN", instrument="A") for value in ("20 kN", "24 kN")]
    (words,) = problems(write_case, *rows, **{"investigation.instrument": GAUGES})
    assert "exclude each other" in words


def test_the_same_row_twice_is_refused(write_case):
    count = {"kind": "loose count", "value": "3 of 12"}
    rows = [preload("20 kN"), preload("20.0 kN"), mark("turned"), mark("rotated")]
    words = problems(write_case, *rows, count, {**count, "value": "3/12"})
    assert [each.partition(":")[0] for each in words] == [
        "evidence[2]",
        "evidence[4]",
        "evidence[6]",
    ]
    assert "the same row once: it stands at evidence[1] too" in words[0]
    assert "two samples are one count" in words[2]


def test_contradictions_come_with_all_other_problems_and_across_files(tmp_path, write_case):
    (tmp_path / "found.csv").write_text("fastener,kind,value\n3,mark,not turned\n")
    words = problems(
        write_case,
        mark("turned"),
        **{"investigation.evidence": "found.csv", "tightening.torque": "9"},
    )
    assert any(each.startswith("tightening.torque") for each in words)
    assert any(
        each.startswith("found.csv, line 2: mark of fastener 3 as at evidence[1]") for each in words
    )


ONE_OF_FOUR = {"kind": "loose count", "value": "1 of 4"}


class TestLot:
    def rows(self, number):
        return [preload("20 kN", fastener=place) for place in range(number)]

    def test_a_count_is_of_others_than_those_with_rows(self, write_case):
        (words,) = problems(write_case, *self.rows(3), ONE_OF_FOUR, **{"investigation.lot": 6})
        assert "investigation.lot: 7 or more fasteners: 3 with findings of their own and 4" in words

    def test_a_count_of_as_many_as_have_rows_is_asked_about(self, write_case):
        asked = investigated(write_case, *self.rows(4), ONE_OF_FOUR).warnings[0]
        assert "A loose count is of 4 fasteners, and as many have findings of their own" in asked
        for number in (3, 5):
            assert not investigated(write_case, *self.rows(number), ONE_OF_FOUR).warnings

    def test_a_lot_of_which_all_were_inspected(self, write_case):
        for selection in ("all", "All inspected"):
            found = investigated(
                write_case, *self.rows(3), ONE_OF_FOUR, investigation={"selection": selection}
            )
            assert found.evidence.lot_size == 7
            assert found.evidence.is_whole_lot
            assert not found.evidence.selected
            assert "investigation.lot" in {item.path for item in found.assumptions}

    def test_a_lot_of_which_some_were_inspected(self, write_case):
        found = investigated(write_case, *self.rows(3), ONE_OF_FOUR, **{"investigation.lot": 9})
        assert found.evidence.lot_size == 9
        assert not found.evidence.is_whole_lot
        assert investigated(write_case, *self.rows(3)).evidence.lot_size is None

    def test_all_leaves_nobody_out(self, write_case):
        everybody = {"selection": "all", "lot": 9}
        (words,) = problems(write_case, *self.rows(3), ONE_OF_FOUR, investigation=everybody)
        assert words.startswith("investigation.lot: 7, since all were inspected")
        row = {**preload("20 kN"), "selection": "because loose"}
        (words,) = problems(write_case, row, investigation={"selection": "all"})
        assert "evidence[1].selection: remove it: [investigation] says 'all'" in words


class TestInstruments:
    def test_one_that_is_not_described_is_asked_for(self, write_case):
        (words,) = problems(write_case, preload("20 kN", instrument="A"))
        assert "one described under [[investigation.instrument]], with its bias_sd" in words

    def test_each_has_a_name_and_an_error_of_its_own(self, write_case):
        row = preload("20 kN", instrument="A")
        words = problems(write_case, row, **{"investigation.instrument": [{"name": "A"}]})
        assert any("instrument[1].bias_sd: missing" in each for each in words)
        words = problems(write_case, row, **{"investigation.instrument": [GAUGES[0]] * 2})
        assert any("instrument[2].name: a unique name" in each for each in words)

    def test_marks_and_temperatures_have_none(self, write_case):
        row = {**mark("turned"), "instrument": "A"}
        (words,) = problems(write_case, row, **{"investigation.instrument": GAUGES})
        assert "evidence[1].instrument: remove it: 'mark' has none" in words
