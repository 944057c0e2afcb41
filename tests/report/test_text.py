"""The reports as text: the answer first, then tables that fit a terminal."""

import re

import pytest

from preloadmc import check, rank, run
from preloadmc.chance.laws import Constant, Gumbel, LogNormal, Normal, Tabulated, Uniform
from preloadmc.report.text.blocks import render_text
from preloadmc.report.text.case import check_text
from preloadmc.report.text.cautions import CAUTIONS
from preloadmc.report.text.justification import run_justification
from preloadmc.report.text.laws import law_words
from preloadmc.report.text.rank import rank_text
from preloadmc.report.text.run import run_text
from preloadmc.report.text.tables import aligned, listed, paragraph

SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.13, "cov": "12 %"},
    "friction.bearing": {"law": "lognormal", "mean": 0.13, "cov": "14 %"},
    "friction.correlation": 0.4,
    "tightening.tool": {"law": "normal", "cov": "6 %"},
    "requirement.minimum_preload": "33 kN",
    "requirement.allowed_under": "1 %",
}


def flat(text):
    """A text without its line breaks."""
    return " ".join(text.split())


@pytest.fixture
def result(make_case):
    return run(make_case(SCATTER))


def test_a_run_begins_with_three_plain_lines(result):
    lines = run_text(result).splitlines()
    starts = ("How likely: given these laws, ", "What dominates: ", "What to do: ")
    assert all(line.startswith(start) for line, start in zip(lines, starts, strict=False))
    assert lines[3] == ""
    assert lines[4] == "Test joint"


def test_what_is_signed_of_an_inch_case_has_inch_units_throughout(shipped):
    text = render_text(run_justification(shipped["pump_cover"], "inch"))
    assert "fastener.yield_strength: 92 ksi, the minimum of SAE J429 grade 5 [" in flat(text)
    assert not re.findall(r".*\d (?:kN|N·m|MPa|mm|µm|degC|°C)\b.*", text)


def test_a_run_holds_every_number_that_its_estimates_need(result):
    text = flat(run_text(result))
    for piece in (
        "outcome probability (95 % interval) per million beta verdict",
        "misses 1 %",
        "preload [kN] mean s.d. 1 % 50 % 99 %",
        "limit governing state probability of a miss verdict margin",
        "minimum preload settled 14.0 % (13.6 to 14.5) (too little) 13.1 %",
        "being too loose share [%] shift [s.d.] width [s.d.] cosine",
        "A typical such joint: bearing friction 0.1",
        "Correlated inputs share this effect.",
        "plain sampling, 20,000 samples, seed 7; all requested samples drawn.",
        "95 % intervals of probabilities, by plain sampling: exact binomial (Clopper-Pearson); "
        "importance sampling: Student's, of the logarithm, from 16 independent batches. ",
        f"Model calls for the outcomes: {result.model_calls:,}, including checks",
        "Intervals hold sampling error only",
        "Assumed, with source:",
        "tightening.bias: 0: no tool bias [",
    ):
        assert piece in text, piece


def test_only_intervals_that_were_used_are_named(make_case):
    text = flat(run_text(run(make_case(SCATTER), method="plain")))
    assert "by plain sampling: exact binomial (Clopper-Pearson). " in text
    assert "independent batches" not in text
    assert "independent runs" not in text


@pytest.mark.parametrize("words", CAUTIONS)
def test_every_report_carries_every_caution(make_case, words):
    case = make_case(SCATTER)
    for text in (run_text(run(case, samples=500)), rank_text(rank(case)), check_text(check(case))):
        assert words in flat(text)
        assert "Not covered: " in text
    short = check_text(check(case), full=False)
    assert "Defer to the applicable standard" in short
    assert words not in flat(short)


def test_a_report_fits_a_terminal(make_case):
    case = make_case(SCATTER)
    answer, rest = run_text(run(case)).split("\n\n", 1)
    ranked, tables = rank_text(rank(case, convergence=True, second_order=True)).split("\n\n", 1)
    texts = (check_text(check(case)), tables, rest)
    assert len(answer.splitlines()) == len(ranked.splitlines()) == 3
    for text in texts:
        assert max(len(line) for line in text.splitlines()) <= 80
        assert text.endswith("\n")
        assert not re.search(r"[ \t]$", text, re.MULTILINE)


def test_zero_misses_are_written_as_a_bound(make_case):
    # The tool cannot bring the preload near either limit: no estimator finds a way to a miss.
    tool = {"law": "uniform", "half_width": "1 %"}
    case = make_case({"requirement.minimum_preload": "30 kN", "tightening.tool": tool})
    text = flat(run_text(run(case)))
    assert "below 184 per million < 184 > 3.56 not judged" in text


def test_what_does_not_scatter_is_certain(make_case):
    text = flat(run_text(run(make_case({"requirement.minimum_preload": "30 kN"}))))
    assert "under-preload 0 % 0 - not judged" in text
    assert "20,000 model calls; certain." in text


def test_a_run_holds_the_ranking_where_it_is_asked_for(make_case):
    case = make_case(SCATTER)
    assert "Sobol' indices" not in run_text(run(case))
    text = flat(run_text(run(case, ranking=True)))
    for piece in (
        "variance of the residual preload first [%] total [%] Shapley share [%]",
        "thread friction with bearing friction",
        "Correlated inputs have one index together",
        "Sobol' indices: 8 designs of 512 base samples, 16,384 model calls.",
        "The order is settled: thread friction with bearing friction, then tool scatter.",
    ):
        assert piece in text, piece


def test_a_run_without_scatter(make_case):
    text = run_text(run(make_case()))
    assert "share [%]" not in text
    assert "being too loose: nothing scatters, so nothing can be ranked." in text
    assert (
        "(mean margin over 3 s.d.): under met, without scatter; over met, without scatter"
        in flat(text)
    )


def test_a_run_in_inches(result):
    text = flat(run_text(result, "inch"))
    assert "preload [lbf]" in text
    assert "set torque 57.09 lbf·ft" in text
    assert " kN" not in text


def test_check_tells_the_case_as_a_story(make_case):
    case = make_case(
        {
            **SCATTER,
            "clamped": [{"material": "steel", "thickness": "32 mm"}],
            "temperature": {
                "assembly": "20 degC",
                "state": [{"name": "hot", "fastener": "60 degC", "clamped": "60 degC"}],
            },
        }
    )
    text = flat(check_text(check(case)))
    for piece in (
        "An M12 fastener is tightened by torque (77.4 N·m)",
        "the frictions of thread and bearing",
        "judged in these states: settled, hot",
        "fastener temperature, hot 60 degC",
        "thread friction lognormal, mean 0.13, s.d. 0.0156 (12 %)",
        "tool scatter normal, mean 0 %, s.d. 6 %",
        "Correlation of thread friction and bearing friction: 0.4 of the standard normals behind",
        "0.385 rank correlation",
        "minimum preload 33 kN",
        "nut factor 0.173",
        # d2/2 tan(phi + rho') = 5.4316 · 0.201388/(1 - 0.051277 · 0.150111) = 1.10237 mm, of which
        # P/(2 pi) = 0.27852 to the pitch; mu Db/2 = 0.97922 mm; all three over their sum, 2.08160.
        "torque to pitch / thread / bearing [%] 13.4 / 39.6 / 47.0",
    ):
        assert piece in text, piece


@pytest.mark.parametrize(
    ("overrides", "piece"),
    [
        ({"friction": {"nut_factor": 0.2}}, "preload follows from a nut factor"),
        ({"friction": {"nut_factor": 0.16187}}, "friction, thread as bearing 0.120"),
        (
            {"requirement.minimum_preload": {"from": "no separation"}, "load.axial": "5 kN"},
            "what keeps the parts together",
        ),
        (
            {
                "requirement.minimum_preload": {"from": "no slip"},
                "load.transverse": "2 kN",
                "friction.joint": 0.2,
            },
            "what keeps the parts from slipping",
        ),
        ({}, "too much is a preload above the stated maximum or yield, at assembly"),
        (
            {"requirement.maximum_preload": {"from": "yield", "fraction": 0.9}},
            "too much is a preload above 90 % of yield, at",
        ),
        (
            {"requirement.maximum_preload": {"from": "yield", "fraction": 1.1}},
            "too much is a preload above 110 % of yield or yield, at",
        ),
        ({"requirement.maximum_preload": None}, "too much is a preload above yield, at assembly"),
        ({"fastener.thread": "1/2-13 UNC"}, "A 1/2-13 UNC fastener is tightened"),
    ],
)
def test_check_tells_what_is_special(make_case, overrides, piece):
    assert piece in flat(check_text(check(make_case(overrides))))


@pytest.mark.parametrize(
    ("name", "law", "system", "words"),
    [
        ("tightening.torque", Constant(90e3), "metric", "90 N·m"),
        ("tightening.torque", Constant(90e3), "inch", "66.38 lbf·ft"),
        ("tightening.tool", Uniform(0.96, 1.04), "metric", "uniform, mean 0 %, s.d. 2.31 %, from"),
        ("tightening.tool", Constant(1.05), "metric", "5 %"),
        ("tightening.bias", Constant(-0.02), "metric", "-2 %"),
        ("settling.relaxation", Constant(0.05), "metric", "5 %"),
        (
            "settling.embedding",
            Gumbel(0.008, 0.0008),
            "metric",
            "gumbel, mean 8 µm, s.d. 0.8 µm (10",
        ),
        ("temperature.assembly", Normal(293.15, 5.0), "metric", "normal, mean 20 degC, s.d. 5 K"),
        ("temperature.assembly", Normal(293.15, 5.0), "inch", "normal, mean 68 degF, s.d. 9 degF"),
        (
            "friction.thread",
            Tabulated((0.1, 0.2)),
            "metric",
            "table of 2 values, mean 0.15, s.d. 0.",
        ),
        (
            "temperature.thermal_change",
            Normal(0.0, 500.0),
            "metric",
            "normal, mean 0 kN, s.d. 0.5 kN",
        ),
        (
            "friction.nut_factor",
            LogNormal(0.2, 0.02),
            "metric",
            "lognormal, mean 0.2, s.d. 0.02 (10",
        ),
    ],
)
def test_a_law_in_words(name, law, system, words):
    assert law_words(name, law, system).startswith(words)


def test_the_bounds_of_a_tabulated_law_are_told():
    words = law_words("friction.thread", Tabulated((0.1, 0.2)))
    assert words == "table of 2 values, mean 0.15, s.d. 0.05 (33.3 %), from 0.1 to 0.2"


def test_a_table_wider_than_the_terminal_wraps_its_first_column():
    lines = aligned(("name", "number"), [("word " * 20, "1" * 50)])
    assert max(map(len, lines)) <= 80
    assert lines[1].startswith("word word")
    assert lines[1].endswith("111")
    assert lines[2].startswith("  word")


def test_texts_are_wrapped_and_hang_from_their_point():
    lines = listed(["word " * 30, "short"])
    assert lines[0].startswith("- word")
    assert lines[1].startswith("  word")
    assert lines[-1] == "- short"
    assert paragraph("") == []
