"""Findings at several times tell settling at once from creep and from rotation."""

import math

import numpy as np
import pytest
from simulated import found_on_a_lot

from preloadmc.case_file import After, as_found, load_rivals
from preloadmc.case_file.parsing import tables_of
from preloadmc.case_file.shipped_suspects import library
from preloadmc.mechanics.creep import creep_row
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.question import infer
from preloadmc.report.documents.infer import infer_document
from preloadmc.report.text.fasteners import TIGHT, conditions
from preloadmc.report.text.infer import infer_text
from preloadmc.report.text.investigation import investigation_report

HOUR, DAY, YEAR = 3600.0, 86400.0, 365.25 * 86400.0
TIMES = ("1 h", "1 day", "1 year")
LOT = {"by": "lot", "fraction": 0.5}
SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "4 %", "shared": LOT},
    "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "4 %", "shared": LOT},
    "friction.joint": 0.2,
    "load.transverse": {"law": "normal", "mean": "4 kN", "cov": "5 %"},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %", "shared": LOT},
}
SETTLING = "settled at once"
CREEP, TURNING = "creep of seats or coating", "transverse slip with rotation"
# As much as creep takes in some ten years; the shipped "larger embedding" hides in friction.
SETTLES = {
    "name": SETTLING,
    "settling": {"embedding": {"law": "lognormal", "mean": "32 um", "cov": "20 %", "shared": LOT}},
}
RATE = {"name": "coat", "rate": 0.05, "reference": "1 h"}
CREEPS = {"name": "coat", "settling": {"over_time": [RATE]}}
TURNS = {"name": "turned", "rotation": {"angle": "20 deg"}}


def preload(fastener=1, after=None, value="30 kN", **more):
    row = {"fastener": fastener, "kind": "residual preload", "value": value, "sd": "0.3 kN"}
    return {**row, **({} if after is None else {"after": after}), **more}


def at_times(*fasteners):
    return [preload(each, time) for each in fasteners for time in TIMES]


def found(case, name):
    """What is found of a suspect in a joint whose every input is at its median."""
    investigation = case.investigation
    (suspect,) = [each for each in investigation.suspects if each.name == name]
    model = SuspectModel(suspect, investigation.evidence, np.random.default_rng(1))
    return model.inspect(np.zeros((1, len(model.columns)))).tightened


@pytest.mark.usefixtures("named_alone")
@pytest.mark.statistical
@pytest.mark.parametrize("number", [1, 2])
@pytest.mark.parametrize("name", [SETTLING, CREEP, TURNING])
def test_the_course_of_preload_tells_what_took_it(make_case, name, number):
    suspects = [SETTLES, {"library": CREEP}, {"library": TURNING}]
    case = make_case({**SCATTER, "evidence": at_times(1, 2), "suspect": suspects})
    told = found_on_a_lot(case, name, np.random.default_rng(number))
    first = infer(told, runs=2, particles=64).suspects[0]
    assert first.suspect.name == name


class TestPreloadAtATime:
    """M12, 4 um/kN, tightened to 39.85 kN, nothing embeds."""

    def test_creep_takes_its_share_by_then(self, make_case):
        case = make_case({"evidence": at_times(1), "suspect": [CREEPS]})
        designed, coat = (found(case, name) for name in ("as designed", "coat"))
        for time in (HOUR, DAY, YEAR):
            left = coat.after(time).preload / designed.after(time).preload
            assert left == pytest.approx(1.0 - 0.05 * math.log10(1.0 + time / HOUR), rel=1e-12)
        # What has no time of its own is of the latest.
        assert coat.preload == coat.after(YEAR).preload
        assert coat.after(None) is coat

    def test_without_a_time_nothing_creeps(self, make_case):
        case = make_case({"evidence": [preload()], "suspect": [CREEPS]})
        assert found(case, "coat").preload == found(case, "as designed").preload
        assert any("'coat' creeps" in each for each in case.investigation.warnings)
        timed = make_case({"evidence": [preload(after="1 day")], "suspect": [CREEPS]})
        assert not any("'coat' creeps" in each for each in timed.investigation.warnings)

    def test_of_service_that_the_case_states_only_that_before_the_finding_counts(self, make_case):
        retightened = {
            "settling.over_time": [RATE],
            "service": {"action": [{"at": "1 week", "do": "retighten"}]},
            "friction.change_per_tightening": "0 %",
        }
        case = make_case({**retightened, "evidence": at_times(1), "suspect": [TURNS]})
        designed = found(case, "as designed")
        day, year = (designed.after(time).preload for time in (DAY, YEAR))
        # L(t) - L(7 days) of what the wrench has given again, against L(1 day).
        lost = 0.05 * math.log10((HOUR + YEAR) / (HOUR + 7 * DAY))
        assert year / (1.0 - lost) == pytest.approx(day / (1.0 - 0.05 * math.log10(25.0)))

    def test_a_nut_turns_in_proportion_to_time(self, make_case):
        case = make_case({"evidence": at_times(1), "suspect": [TURNS]})
        turned = found(case, "turned")
        assert turned.turned == pytest.approx(math.radians(20.0))
        assert turned.after(DAY).turned == pytest.approx(math.radians(20.0) * DAY / YEAR)
        (assumed,) = [e for e in case.investigation.assumptions if "in proportion" in e.value]
        assert (assumed.path, assumed.source) == ("rotation.angle", "engineering judgement")

    def test_a_rotation_with_a_time_of_its_own_goes_by_that(self, make_case):
        turns = {"name": "turned", "rotation": {"angle": "20 deg", "time": "10 h"}}
        case = make_case(
            {"evidence": [preload(after="1 h"), preload(2, "5 h")], "suspect": [turns]}
        )
        turned = found(case, "turned")
        assert turned.after(HOUR).turned == pytest.approx(math.radians(2.0))
        assert turned.turned == pytest.approx(math.radians(10.0))
        assert not any("in proportion" in e.value for e in case.investigation.assumptions)


class TestShipped:
    def test_its_rate_is_that_of_painted_faces(self, make_case):
        (row,) = library()[CREEP]["settling"]["over_time"]
        case = make_case({"evidence": [preload()], "suspect": [{"library": CREEP}]})
        law = case.investigation.suspects[1].case.laws[f"settling.over_time.{row['name']}.rate"]
        painted = creep_row("painted faces")
        assert law.mean == pytest.approx(painted.rate)
        assert law.sd == pytest.approx(painted.rate * painted.cov)

    @pytest.mark.parametrize("after", [None, "1 day"])
    def test_it_is_a_rival_where_a_time_is_known(self, make_case, after):
        case = make_case({"evidence": [preload(after=after)], "suspect": [TURNS]})
        names = {each.name for each in load_rivals(case).unnamed}
        assert (CREEP in names) is (after is not None)
        assert "dry thread" in names


def test_a_fastener_is_what_was_found_last(make_case):
    rows = [preload(1, "1 h", "20 kN"), preload(1, "1 day", "35 kN")]
    case = make_case({"evidence": rows, "suspect": [TURNS]})
    assert conditions(case.investigation.evidence, 28e3)["1"].grip == TIGHT


@pytest.mark.parametrize("times", [None, ["5 years"]])
def test_the_joint_as_found_has_crept_until_then(make_case, times):
    service = {} if times is None else {"service": {"times": times}}
    rows = [preload(1, "1 h"), preload(1, "2 years")]
    case = make_case({**service, "evidence": rows, "suspect": [{"library": CREEP}]})
    designed, crept = case.investigation.suspects
    (rate,) = [name for name in crept.case.laws if name.startswith("settling.over_time.")]
    moved = {rate: After(crept.case.laws[rate], 0.05, 0.06, 0.07, 0.5)}
    tables = tables_of(as_found(case, crept, moved, "inputs").text)
    (row,) = tables["settling"]["over_time"]
    assert row["rate"]["mean"] == pytest.approx(0.06, rel=0.01)
    assert tables["service"] == {"times": times or ["17532 h"]}
    assert tables_of(as_found(case, designed, {}, "inputs").text).get("service") == (
        service.get("service")
    )


@pytest.mark.usefixtures("named_alone")
def test_reports_say_when_a_finding_was_made(make_case):
    rows = [preload(1, "1 h", "39.5 kN"), preload(1, "1 year", "32 kN")]
    result = infer(make_case({"evidence": rows, "suspect": [CREEPS]}), runs=2, particles=64)
    text = infer_text(result)
    assert "residual preload, fastener 1 after 1 h" in text
    assert "time in service" in text
    findings = infer_document(result)["evidence"]["findings"]
    assert [each["after"] for each in findings] == [HOUR, YEAR]
    page = str(investigation_report(result, "metric"))
    assert "residual preload after 1 year" in page
    assert "± 0.3 kN after 1 h" in page
