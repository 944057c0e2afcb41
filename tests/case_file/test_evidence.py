"""Evidence and suspects of a case file: read in any form, every problem at its line, at once."""

import math
import os
import re

import pytest

from preloadmc import load_case
from preloadmc.case_file.load import load_rivals
from preloadmc.case_file.shipped_suspects import library
from preloadmc.errors import CaseError

DRY = {"name": "dry", "friction": {"thread": 0.2, "bearing": 0.2}}
READ = {"fastener": "1", "kind": "residual preload", "value": "20 kN", "sd": "1 kN"}
HEADER = "fastener,kind,value,sd,error,state,part,limit,selection,note"


def investigated(make_case, *findings, **more):
    case = make_case({"evidence": list(findings), "suspect": [DRY], **more})
    return case.investigation


def problems(make_case, *findings, **more):
    with pytest.raises(CaseError) as caught:
        investigated(make_case, *findings, **more)
    return str(caught.value)


def one(make_case, **finding):
    (found,) = investigated(make_case, {"fastener": 1, **finding}).evidence.findings
    return found


def test_a_case_without_evidence_has_no_investigation(make_case):
    assert make_case().investigation is None


@pytest.mark.parametrize(
    ("kind", "value", "sd", "number", "error"),
    [
        ("residual preload", "20 kN", "1 kN", 20e3, 1e3),
        ("residual preload", "20 kN", "5 %", 20e3, 1e3),
        ("loosening torque", "30 lbf·ft", "10 %", 40674.5, 4067.45),
        ("tightening torque", "60 N·m", "2 N·m", 60e3, 2e3),
        ("rotation", "90 deg", "5 deg", math.pi / 2, math.pi / 36),
    ],
)
def test_readings_in_their_units(make_case, kind, value, sd, number, error):
    found = one(make_case, kind=kind, value=value, sd=sd)
    assert (found.sense, found.value, found.error) == (
        "measured",
        pytest.approx(number, rel=1e-5),
        pytest.approx(error, rel=1e-5),
    )


@pytest.mark.parametrize(
    ("value", "sense"),
    [("below 10 kN", "below"), ("< 10 kN", "below"), ("above 10 kN", "above"), (">10 kN", "above")],
)
def test_censored_readings(make_case, value, sense):
    found = one(make_case, kind="residual preload", value=value)
    assert (found.sense, found.value, found.error) == (sense, 10e3, pytest.approx(200.0))


@pytest.mark.parametrize("kind", ["residual preload", "loosening torque", "tightening torque"])
@pytest.mark.parametrize("value", ["finger-loose", "Nut finger loose"])
def test_finger_loose_is_no_preload_whatever_the_nut(make_case, kind, value):
    # 77.4 N·m over B with tan(phi + rho') as in `mechanics.tightening`: 39.85 kN as designed; 2 %
    # and 1 % of it by judgement.
    found = one(
        make_case,
        kind=kind,
        value=value,
    )
    assert (found.kind, found.sense) == ("residual preload", "below")
    assert found.value == pytest.approx(0.02 * 39.85e3, rel=1e-3)
    assert found.error == pytest.approx(0.01 * 39.85e3, rel=1e-3)


def test_a_finger_loose_prevailing_torque_nut_has_no_preload(make_case):
    # Its prevailing torque of 5 N·m would never turn back below what fingers can do.
    row = {"fastener": 1, "kind": "loosening torque", "value": "finger-loose"}
    evidence = investigated(make_case, row, **{"tightening.prevailing_torque": "5 N·m"}).evidence
    assert evidence.findings[0].kind == "residual preload"
    assert evidence.findings[0].value == pytest.approx(0.02 * 39.85e3 * 72.4 / 77.4, rel=1e-3)


def test_observations(make_case):
    found = one(make_case, kind="mark", value="turned")
    assert (found.seen, found.error) == (True, 0.05)
    found = one(make_case, kind="mark", value="not turned", error="10 %")
    assert (found.seen, found.error) == (False, 0.1)


def test_assumed_errors_are_listed_with_their_source(make_case):
    listed = investigated(
        make_case,
        {"fastener": 1, "kind": "mark", "value": "turned"},
        {"fastener": 1, "kind": "residual preload", "value": "below 10 kN"},
        {"fastener": 1, "kind": "residual preload", "value": "finger-loose"},
    ).assumptions
    words = {item.path: item.source for item in listed}
    for path in (
        "chance of seeing mark wrongly",
        "error of a censored value without sd",
        "finger-loose",
    ):
        assert words[path] == "engineering judgement"


def test_a_count_takes_its_limit_from_the_row_the_section_or_the_requirement(make_case):
    count = {"kind": "loose count", "value": "3 of 20"}
    (found,) = investigated(make_case, {**count, "limit": "5 kN"}).evidence.counts
    assert (found.loose, found.inspected, found.limit) == (3, 20, 5e3)
    (found,) = investigated(make_case, count, investigation={"loose_below": "6 kN"}).evidence.counts
    assert found.limit == 6e3
    (found,) = investigated(make_case, count).evidence.counts
    assert found.limit == 28e3


def test_temperature_found_is_read_against_a_state(make_case):
    hot = {
        "clamped": [{"material": "steel", "thickness": "30 mm"}],
        "joint": None,
        "temperature.assembly": "20 degC",
        "temperature.state": [{"name": "hot", "fastener": "95 degC", "clamped": "90 degC"}],
    }
    finding = {"fastener": 1, "kind": "temperature", "value": "118 degC", "sd": "3 K"}
    (found,) = investigated(make_case, finding, **hot).evidence.findings
    assert (found.input, found.value) == ("temperature.state.hot.fastener", pytest.approx(391.15))
    (found,) = investigated(make_case, {**finding, "part": "clamped"}, **hot).evidence.findings
    assert found.input == "temperature.state.hot.clamped"
    assert "no temperature state" in problems(make_case, finding)
    censored = {**finding, "value": "above 118 degC"}
    del censored["sd"]
    (found,) = investigated(make_case, censored, **hot).evidence.findings
    assert found.error == 2.0
    words = problems(make_case, {**finding, "state": "cold"}, **hot)
    assert "evidence[1].state: one of 'hot'" in words


def test_selection_for_all_and_for_one(make_case):
    read = [READ, {**READ, "fastener": "2", "selection": "random"}]
    evidence = investigated(make_case, *read, investigation={"selection": "because loose"}).evidence
    assert evidence.selected == {"1"}
    assert evidence.loose_below == 28e3


def test_time_in_service(make_case):
    time = {"kind": "time in service", "value": "3 d"}
    investigation = investigated(make_case, READ, time)
    assert investigation.evidence.service_time == 3 * 86400
    assert "time in service changes nothing" in investigation.warnings[0]


def test_hardness_and_paint_ask_for_what_the_design_has(make_case):
    hard = {"fastener": 1, "kind": "hardness", "value": 150, "sd": 5}
    paint = {"fastener": 1, "kind": "paint", "value": "found"}
    words = problems(make_case, hard, paint)
    assert "seat.hardness: missing; hardness was found" in words
    assert "seat.paint: missing; paint was found" in words
    seat = {"seat.hardness": {"law": "normal", "mean": 180, "sd": 10}, "seat.paint": "2 %"}
    evidence = investigated(make_case, hard, paint, **seat).evidence
    assert [finding.kind for finding in evidence.findings] == ["hardness", "paint"]


def test_a_torque_asks_for_friction_under_the_head(make_case):
    words = problems(
        make_case,
        {"fastener": 1, "kind": "loosening torque", "value": "50 N·m", "sd": "3 N·m"},
        **{
            "tightening": {"method": "stated scatter", "preload": "30 kN"},
            "fastener.property_class": None,
            "friction": {"thread": 0.12},
            "suspect": [{"name": "low", "tightening": {"preload": "20 kN"}}],
        },
    )
    assert "friction: missing; a torque was found: state thread and bearing" in words


def test_a_found_temperature_is_one_that_every_suspect_has(make_case):
    state = {"name": "hot", "fastener": "95 degC", "clamped": "90 degC"}
    words = problems(
        make_case,
        {"fastener": 1, "kind": "temperature", "value": "118 degC", "sd": "3 K"},
        **{
            "clamped": [{"material": "steel", "thickness": "30 mm"}],
            "joint": None,
            "temperature.assembly": "20 degC",
            "temperature.state": [state],
            "suspect": [{"name": "fire", "temperature": {"state": [{**state, "name": "fire"}]}}],
        },
    )
    assert "a state and part that every suspect has" in words
    assert "temperature.state.hot.fastener" in words


@pytest.mark.parametrize(
    ("finding", "words"),
    [
        ({**READ, "kind": "residual prelaod"}, "nearest: 'residual preload'"),
        ({**READ, "value": "20"}, "a force needs a unit"),
        ({**READ, "value": "20 N·m"}, "another dimension"),
        ({**READ, "value": "-2 kN"}, "a value of 0 or above"),
        ({**READ, "value": None}, "value: missing; what was found"),
        ({**READ, "sd": None}, "sd: missing; the measuring error"),
        ({**READ, "sd": "0 kN"}, "above 0"),
        ({**READ, "sd": "5 %", "value": "0 kN"}, "a share of 0 is none"),
        ({**READ, "sd": None, "value": "above 0 kN"}, "a share of 0 is none"),
        ({**READ, "fastener": None}, "fastener: missing"),
        ({**READ, "colour": "red"}, "colour: unknown key"),
        ({**READ, "error": "5 %"}, "error: remove it: 'residual preload' has none"),
        ({**READ, "state": "hot"}, "state: remove it: 'residual preload' has none"),
        ({**READ, "fastener": [1]}, "fastener: a name or number of the fastener, as text"),
        ({**READ, "selection": "because lose"}, "nearest: 'because loose'"),
        ({"fastener": 1, "kind": "mark", "value": "perhaps"}, "'turned' or 'not turned'"),
        ({"fastener": 1, "kind": "mark", "value": "turned", "error": 0.7}, "at most 0.5"),
        ({"fastener": 1, "kind": "rotation", "value": "finger-loose"}, "a angle|an angle"),
        ({"kind": "loose count", "value": "three"}, "such as '3 of 20'"),
        ({"kind": "loose count", "value": "5 of 3"}, "no more loose than inspected"),
        ({"kind": "loose count", "value": "1 of 3", "selection": "because loose"}, "'random'"),
        ({"kind": "time in service", "value": "0 h"}, "a time above 0"),
        ({"kind": "time in service", "value": "3"}, "a time needs a unit"),
    ],
)
def test_what_cannot_be_evidence(make_case, finding, words):
    given = {key: value for key, value in finding.items() if value is not None}
    found = problems(make_case, given)
    assert "evidence[1]" in found
    assert any(word in found for word in words.split("|"))


def test_one_fastener_has_one_selection(make_case):
    words = problems(make_case, READ, {**READ, "selection": "because loose"})
    assert "one selection: fastener 1 was 'random'" in words


def test_one_time_in_service(make_case):
    time = {"kind": "time in service", "value": "3 d"}
    assert "one time in service for all" in problems(make_case, READ, time, time)
    twice = {"investigation.after": "3 d"}
    assert "here or in investigation.after" in problems(make_case, READ, time, **twice)


CREEPS = {"library": "creep of seats or coating"}


class TestAfter:
    def test_that_of_the_inspection_holds_where_a_finding_has_none(self, make_case):
        later = {**READ, "after": "4 d"}
        evidence = investigated(make_case, READ, later, **{"investigation.after": "3 d"}).evidence
        assert [each.after for each in evidence.findings] == [None, 4 * 86400]
        assert (evidence.service_time, evidence.other_times) == (3 * 86400, (4 * 86400,))

    def test_else_the_latest_of_the_findings(self, make_case):
        rows = [{**READ, "after": after} for after in ("1 h", "2 years", "1 d")]
        investigation = investigated(make_case, READ, *rows)
        assert investigation.evidence.service_time == 2 * 365.25 * 86400
        assert investigation.evidence.other_times == (3600, 86400)
        assert {e.path: e.value for e in investigation.assumptions}["investigation.after"] == (
            "2 years: the latest of the findings"
        )

    def test_what_is_found_at_another_time_is_no_contradiction(self, make_case):
        mark = {"fastener": 1, "kind": "mark", "value": "not turned", "after": "1 h"}
        turned = {**mark, "value": "turned"}
        rows = (mark, {**turned, "after": "1 d"})
        assert len(investigated(make_case, *rows).evidence.findings) == 2
        assert "the two exclude each other" in problems(make_case, mark, turned)

    def test_a_fastener_that_was_turned_tells_nothing_later(self, make_case):
        torque = {"fastener": 1, "kind": "loosening torque", "value": "50 N·m", "sd": "3 N·m"}
        before, later = {**READ, "after": "1 h"}, {**READ, "after": "1 year"}
        turned = {**torque, "after": "1 d"}
        (warning,) = investigated(make_case, turned, later, **{"suspect": [CREEPS]}).warnings
        assert "looked at again later: fastener 1." in warning
        assert not investigated(make_case, turned, before, **{"suspect": [CREEPS]}).warnings

    @pytest.mark.parametrize(
        ("after", "words"),
        [
            ("0 h", "a time above 0"),
            ("-3 d", "a time above 0"),
            ("3", "a time needs a unit"),
            ("3 kN", "a time"),
        ],
    )
    def test_what_cannot_be_a_time(self, make_case, after, words):
        of_row = problems(make_case, {**READ, "after": after})
        assert "evidence[1].after" in of_row
        assert words in of_row
        of_all = problems(make_case, READ, **{"investigation.after": after})
        assert "investigation.after" in of_all
        assert words in of_all

    def test_a_count_is_of_the_inspection(self, make_case):
        count = {"kind": "loose count", "value": "1 of 3", "limit": "9 kN", "after": "1 d"}
        assert "remove it: 'loose count' has none" in problems(make_case, READ, count)


def test_nothing_found(make_case):
    assert "evidence: missing; findings" in problems(make_case)


def test_loose_must_mean_something(make_case):
    words = problems(
        make_case,
        {"kind": "loose count", "value": "1 of 3"},
        **{
            "requirement.minimum_preload": {"from": "no slip"},
            "load.transverse": "1 kN",
            "friction.joint": 0.2,
        },
    )
    assert "investigation.loose_below: missing" in words


class TestTable:
    def written(self, tmp_path, write_case, text):
        (tmp_path / "found.csv").write_text(text, encoding="utf-8")
        return write_case({"investigation": {"evidence": "found.csv"}, "suspect": [DRY]})

    def test_a_column_of_times(self, tmp_path, write_case):
        text = "kind;fastener;value;sd;after\nresidual preload;1;20 kN;1 kN;0,5 h\n"
        text += "residual preload;1;19 kN;1 kN;\n"
        evidence = load_case(self.written(tmp_path, write_case, text)).investigation.evidence
        assert [each.after for each in evidence.findings] == [1800.0, None]

    def test_rows_are_findings(self, tmp_path, write_case):
        text = (
            "fastener,kind,value,sd\n1,residual preload,below 10 kN,\n\n"
            ",loose count,2 of 9,\n2,mark,turned,\n"
        )
        evidence = load_case(self.written(tmp_path, write_case, text)).investigation.evidence
        assert [finding.words for finding in evidence.findings] == ["below 10 kN", "turned"]
        assert evidence.counts[0].words == "2 of 9"
        assert (evidence.table_name, evidence.table_text) == ("found.csv", text)

    @pytest.mark.parametrize("rows", [1000, 1001, 40_000])
    def test_a_table_of_findings_has_an_end(self, tmp_path, write_case, rows):
        lines = [f"{place},mark,turned" for place in range(rows)]
        text = "\n".join(["fastener,kind,value", *lines])
        path = self.written(tmp_path, write_case, text)
        if rows <= 1000:
            assert len(load_case(path).investigation.evidence.findings) == rows
            return
        words = "investigation.evidence: at most 1,000 findings, with those of [[evidence]]"
        with pytest.raises(CaseError, match=re.escape(words)):
            load_case(path)

    def test_a_table_of_another_program(self, tmp_path, write_case):
        # Byte order mark and the line ends of another system.
        text = "\ufefffastener,kind,value\r\n1,mark,turned\r\n"
        (tmp_path / "found.csv").write_bytes(text.encode())
        path = write_case({"investigation": {"evidence": "found.csv"}, "suspect": [DRY]})
        assert len(load_case(path).investigation.evidence.findings) == 1

    def test_every_problem_with_its_line_at_once(self, tmp_path, write_case):
        text = f"{HEADER}\n" + "\n".join(
            [
                "1,residual preload,10,1 kN,,,,,,",
                "1,mark,maybe,,,,,,,",
                "1,residual preload,10 kN",
                "2,residual preload,10 kN,,,,,,,",
                ",mark,turned,,,,,,,",
            ]
        )
        with pytest.raises(CaseError) as caught:
            load_case(self.written(tmp_path, write_case, text))
        paths = [problem.path for problem in caught.value.problems]
        assert paths == [
            "found.csv, line 2, value",
            "found.csv, line 3, value",
            "found.csv, line 4",
            "found.csv, line 5, sd",
            "found.csv, line 6, fastener",
        ]

    def test_problems_of_case_and_table_come_together(self, tmp_path, write_case):
        (tmp_path / "found.csv").write_text("fastener,kind,value\n1,mark,maybe\n")
        path = write_case(
            {
                "investigation": {"evidence": "found.csv"},
                "suspect": [{"library": "dry thred"}],
                "tightening.torque": "9",
            }
        )
        with pytest.raises(CaseError) as caught:
            load_case(path)
        words = str(caught.value)
        assert "tightening.torque" in words
        assert "found.csv, line 2, value" in words
        assert "nearest: 'dry thread'" in words
        assert words.count("tightening.torque") == 1

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("", "a CSV file with a header"),
            ("fastener,kind,valeu\n", "nearest: 'value'"),
            ("fastener,kind,kind,value\n", "each column once"),
            ("fastener,value\n", "missing; a column 'kind'"),
            ('fastener,kind,value\n1,mark,"turned', "line 2: CSV"),
        ],
    )
    def test_what_cannot_be_a_table(self, tmp_path, write_case, text, words):
        with pytest.raises(CaseError) as caught:
            load_case(self.written(tmp_path, write_case, text))
        assert words in str(caught.value)

    @pytest.mark.parametrize("name", ["../found.csv", "data/../found.csv", "/tmp/found.csv"])
    def test_a_table_lies_in_the_folder_of_the_case(self, write_case, name):
        path = write_case({"investigation": {"evidence": name}, "suspect": [DRY]})
        with pytest.raises(CaseError, match="in the folder of the case file or below it"):
            load_case(path)

    def test_a_table_in_a_subfolder_is_among_the_files_of_the_case(self, tmp_path, write_case):
        (tmp_path / "data").mkdir()
        text = "fastener,kind,value\n1,mark,turned\n"
        (tmp_path / "data" / "found.csv").write_text(text, encoding="utf-8")
        case = load_case(
            write_case({"investigation": {"evidence": "./data//found.csv"}, "suspect": [DRY]})
        )
        assert case.files == {"joint.toml": case.text, "data/found.csv": text}

    def test_a_pipe_is_no_table(self, tmp_path, write_case):
        os.mkfifo(tmp_path / "found.csv")
        path = write_case({"investigation": {"evidence": "found.csv"}, "suspect": [DRY]})
        with pytest.raises(CaseError, match="it is no regular file"):
            load_case(path)

    def test_absent_binary_and_endless(self, tmp_path, write_case):
        for name, content, words in (
            ("none.csv", None, "No such file"),
            ("found.csv", b"\x89PNG\r\n", "in UTF-8"),
            ("found.csv", b"a" * 1_000_001, "at most 1,000,000 bytes"),
        ):
            if content is not None:
                (tmp_path / name).write_bytes(content)
            path = write_case({"investigation": {"evidence": name}, "suspect": [DRY]})
            with pytest.raises(CaseError, match=words):
                load_case(path)


class TestSuspects:
    def test_the_first_is_the_joint_as_designed(self, make_case):
        designed, dry = investigated(make_case, READ).suspects
        assert designed.name == "as designed"
        assert designed.case.laws["friction.thread"].mean == 0.12
        assert dry.case.laws["friction.thread"].mean == 0.2
        assert (designed.prior, dry.prior) == (1.0, 1.0)

    @pytest.mark.parametrize("name", library())
    def test_every_shipped_suspect_can_be_named(self, make_case, name):
        entry = library()[name]
        assert entry["source"]
        assert entry["note"]
        investigation = make_case({"evidence": [READ], "suspect": [{"library": name}]})
        suspect = investigation.investigation.suspects[1]
        assert (suspect.name, suspect.source) == (name, entry["source"])

    def test_own_tables_go_before_the_library(self, make_case):
        dry = {"library": "dry thread", "name": "very dry", "friction": {"thread": 0.3}}
        suspect = make_case({"evidence": [READ], "suspect": [dry]}).investigation.suspects[1]
        assert suspect.name == "very dry"
        assert suspect.case.laws["friction.thread"].mean == 0.3
        assert suspect.case.laws["friction.bearing"].mean == pytest.approx(0.2)

    def test_what_is_in_common_is_stated_or_assumed_and_said(self, make_case):
        shared = {"by": "lot", "fraction": 0.8}
        law = {"law": "lognormal", "mean": 0.12, "cov": "10 %"}
        friction = {
            "friction.thread": {**law, "shared": shared},
            "friction.bearing": law,
            "tightening.bias": {"law": "normal", "mean": "0 %", "sd": "2 %"},
        }
        investigation = investigated(make_case, READ, **friction)
        assert investigation.suspects[0].fractions == {
            "friction.thread": 0.8,
            "friction.bearing": 0.5,
            "tightening.bias": 1.0,
        }
        assert "friction.bearing shared" in {item.path for item in investigation.assumptions}

    @pytest.mark.parametrize(
        ("suspect", "words"),
        [
            ({"library": "rust"}, "suspect[1].library: a shipped suspect"),
            ({"friction": {"thread": 0.2}}, "suspect[1].name: missing"),
            ({"name": "none"}, "tables of the case that it overrides"),
            ({"name": "as designed", "friction": {"thread": 0.2}}, "a unique name"),
            ({**DRY, "prior": 0}, "suspect[1].prior"),
            ({**DRY, "friction": {"thred": 0.2}}, "suspect[1].friction.thred: unknown key"),
            ({**DRY, "fiction": {"thread": 0.2}}, "suspect[1].fiction: unknown key"),
            ({**DRY, "requirement": {"minimum_preload": "1 kN"}}, "not what is asked of it"),
            ({**DRY, "rotation": {"time": "3 h"}}, "suspect[1].rotation.angle: missing"),
            ({**DRY, "missed": {"share": 0.2}}, "suspect[1].missed.preload_share: missing"),
            (
                {**DRY, "missed": {"share": 1.5, "preload_share": 0}},
                "suspect[1].missed.share: a share, at most 1",
            ),
            (
                {**DRY, "investigation": {"selection": "random"}},
                "and prevailing_torque alone",
            ),
        ],
    )
    def test_what_cannot_be_a_suspect(self, make_case, suspect, words):
        with pytest.raises(CaseError) as caught:
            make_case({"evidence": [READ], "suspect": [suspect]})
        assert words in str(caught.value)

    def test_no_suspect_is_said(self, make_case):
        assert "no rival" in make_case({"evidence": [READ]}).investigation.warnings[0]

    def test_pairs_leave_out_those_that_contradict(self, make_case):
        names = ("dry thread", "over-lubricated", "larger embedding")
        suspects = [{"library": name, "prior": 2} for name in names]
        case = make_case(
            {"evidence": [READ], "suspect": suspects, "investigation": {"as_designed": 4}}
        )
        pairs = load_rivals(case).pairs
        assert [pair.name for pair in pairs] == [
            "dry thread + larger embedding",
            "over-lubricated + larger embedding",
        ]
        # 10 % of all weight beside the 10 of single ones, for two pairs of equal products.
        assert pairs[0].prior == pytest.approx(0.5 * 10 / 9)
        assert pairs[0].case.laws["friction.thread"].mean == pytest.approx(0.22)
        assert pairs[0].case.laws["settling.embedding"].mean == pytest.approx(0.022)

    def test_a_case_without_suspects_has_no_pairs(self, make_case):
        assert load_rivals(make_case()).pairs == ()
