"""A run on laws that are known from tests only: verdict, words, JSON, and whether limits hold."""

import json
import math
import os
from dataclasses import replace

import pytest
from judgements import judgement
from numpy.random import default_rng
from scipy import stats

from preloadmc import run
from preloadmc.estimates.band import Band
from preloadmc.judgement.next_tests import MoreTests, NextTests
from preloadmc.report.text.knowledge import knowledge_sections
from preloadmc.report.text.run import run_text

# A nut factor K alone makes the preload, F = T/(K d): ln K is normal, with the s.d. of a cov of
# 10 %; the minimum lies 3.9811 s.d. off, where ten tests leave an upper limit of 1 % at 95 %
# (one-sided tolerance factor by the non-central t).
SD = math.sqrt(math.log(1.01))
MIDDLE = math.log(0.2) - 0.5 * SD * SD
CAMPAIGNS = int(os.environ.get("PRELOADMC_CAMPAIGNS", "60"))


def preload_at(distance):
    return f"{77.4e3 / (12.0 * math.exp(MIDDLE + distance * SD))} N"


TESTED = {
    "friction": {
        "nut_factor": {
            "law": "lognormal",
            "mean": 0.2,
            "cov": "10 %",
            "tests": 10,
            "test_price": 30,
        }
    },
    "requirement": {
        "minimum_preload": preload_at(3.9811),
        "maximum_preload": "200 kN",
        "allowed_under": "0.5 %",
        "allowed_over": "1 %",
    },
    "fastener.yield_strength": "5000 MPa",
    "fastener.tensile_strength": "6000 MPa",
}


def flat(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def open_(session_case):
    """A run whose verdict hangs on tests that are not made yet."""
    return run(session_case(TESTED), samples=20_000)


def test_more_tests_are_what_to_do(open_):
    likely, dominates, to_do = open_.answer
    assert likely.startswith("How likely: given these laws and their tests, ")
    assert " outside the preload window (with confidence below 1 %), nearly all with" in likely
    assert dominates.startswith("What dominates: being too loose: nut factor 100 %")
    settles = open_.tests_worth_doing[0].best.settles
    assert to_do.startswith(
        f"What to do: test more: {settles} more tests of nut factor are expected to settle whether "
        "too little preload is within what is allowed"
    )
    assert open_.judgement.under.verdict == "not resolved"
    # Predicted alone it would be within: 0.21 % by Student's law.
    predicted = stats.t.sf(3.9811 / math.sqrt(1.1), 9)
    assert open_.outcome("under_preload").probability.high < 0.005
    assert open_.outcome("under_preload").probability.value == pytest.approx(predicted, rel=0.2)


def test_json_through_the_command(call, write_case, open_):
    case = write_case(TESTED)
    done = call("run", case, "--samples", 20_000, "--json", "-")
    assert done.exit_code == 0
    document = json.loads(done.stdout)
    band = document["outcomes"]["under_preload"]["band"]
    assert set(band) >= {"median", "low", "high", "upper", "confidence", "levels"}
    assert band["low"] < band["median"] < band["upper"] < band["high"]
    assert band["upper"] == pytest.approx(0.01, rel=0.06)
    assert (band["confidence"], band["levels"]) == (0.95, ["knowledge"])
    assert document["outcomes"]["under_preload"]["verdict"] == "not resolved"
    assert "band" in document["limits"][0]
    (tests,) = document["tests_worth_doing"]
    assert (tests["limit"], tests["allowed"], tests["settled"]) == ("under_preload", 0.005, False)
    (each,) = tests["inputs"]
    assert (each["name"], each["tests"], each["price"]) == ("friction.nut_factor", 10, 30.0)
    assert list(each["upper_after"]) == ["5", "10", "20", "50"]
    assert each["upper_after"][str(each["settled_by"])] <= 0.005
    assert document["answer"] == list(open_.answer)


def test_text(open_):
    text = flat(run_text(open_))
    settles = open_.tests_worth_doing[0].best.settles
    for piece in (
        "predicted median 95 % band below, at 95 % for want of tests",
        "the true probability is below this limit in at least that share of them; it is judged by",
        "4,096 draws of what is not known; the upper limit of outside the window is itself known",
        "tests made 5 more 10 more 20 more 50 more settled by price of",
        f"{settles} more {30 * settles}",
        "allowed is 0.5 %. Tests may also turn out worse than those made",
        "10 tests",
    ):
        assert piece in text
    assert "With several laws from tests" not in text
    assert "lots were tested" not in text


def test_two_lots_and_two_laws_are_told_of(make_case, tmp_path):
    rows = ("a,0.125", "a,0.13", "a,0.128", "b,0.131", "b,0.127", "b,0.133")
    (tmp_path / "lots.csv").write_text("\n".join(["lot,thread", *rows]), encoding="utf-8")
    lots = {"law": "lognormal", "tests": "lots.csv", "column": "thread", "lot": "lot"}
    bearing = {"law": "lognormal", "mean": 0.13, "cov": "5 %", "as_good_as": 20}
    case = make_case({"friction.thread": lots, "friction.bearing": bearing})
    band = Band(1e-6, 1e-7, 1e-4, 5e-5, 0.9, 4e-5, 6e-5, 4096, 1000)
    made = judgement()
    judged = replace(
        made,
        sides=tuple(replace(side, band=band) for side in made.sides),
        outside=replace(made.outside, band=band),
    )
    more = MoreTests("friction.thread", 6, {5: 4e-5, 10: 3e-5, 20: 2e-5, 50: 1e-5}, 5, 40.0, False)
    settled = NextTests("under_preload", "too little preload", 0.01, 5e-5, True, (more,))
    sections = list(knowledge_sections(case, judged, (settled,)))
    text = flat(" ".join(line for each in sections for line in each.lines()))
    assert "Fewer than 4 lots were tested of thread friction: how lots differ is hardly" in text
    assert "With several laws from tests the limit is on the safe side" in text
    assert "below, at 90 %" in text
    assert "5 more 10 more 20 more 50 more" in text
    # What is resolved is not said to be settled by further tests, at a price.
    assert [each.title for each in sections][1:] == [
        "Tests worth doing next, for too little preload"
    ]
    assert "settled by" not in text
    assert "price" not in text
    # Without tests nothing is said.
    assert list(knowledge_sections(case, made, ())) == []


def covered(make_case, truth, overrides, drawn, seed):
    """How many campaigns have an upper limit at or above the true probability."""
    found = 0
    for number in range(CAMPAIGNS):
        rng = default_rng([seed, number])
        result = run(make_case({**overrides, **drawn(rng)}), seed=number, samples=1000)
        found += result.judgement.under.band.upper_high >= truth
    # Too few is what comes once in 1e3.
    assert stats.binom.cdf(found, CAMPAIGNS, 0.95) > 1e-3


def told(law, values):
    return {"law": law, "tests": [float(value) for value in values]}


@pytest.mark.slow
@pytest.mark.statistical
@pytest.mark.parametrize(("law", "distance"), [("lognormal", 3.0902), ("gumbel", 3.0)])
def test_campaigns_of_a_nut_factor(make_case, seed, law, distance):
    minimum = math.exp(MIDDLE + distance * SD)
    if law == "lognormal":
        truth = stats.norm.sf(distance)

        def values(rng):
            return told(law, rng.lognormal(MIDDLE, SD, 5))

    else:
        truth = stats.gumbel_r.sf(minimum, 0.19, 0.016)

        def values(rng):
            return told(law, rng.gumbel(0.19, 0.016, 8))

    case = {**TESTED, "requirement": {**TESTED["requirement"]}}
    case["requirement"]["minimum_preload"] = preload_at(distance)
    covered(make_case, truth, case, lambda rng: {"friction": {"nut_factor": values(rng)}}, seed)


@pytest.mark.slow
@pytest.mark.statistical
def test_campaigns_of_two_frictions(make_case, seed):
    law = {"law": "lognormal", "mean": 0.13, "cov": "10 %"}
    sd = math.sqrt(math.log(1.01))
    middle = math.log(0.13) - 0.5 * sd * sd
    true = {"friction.thread": law, "friction.bearing": law, "requirement.allowed_under": "1 %"}
    # By 2^20 plain samples of the laws themselves: known to 1 %.
    known = run(make_case(true), samples=2**20).outcome("under_preload").probability

    def values(rng):
        return {
            f"friction.{name}": told("lognormal", rng.lognormal(middle, sd, 8))
            for name in ("thread", "bearing")
        }

    covered(make_case, known.value, true, values, seed)
