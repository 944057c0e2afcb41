"""The text of a ranking: what is settled, what is not, what more would settle."""

from dataclasses import replace

import numpy as np
import pytest
from plain_lines import section_lines

from preloadmc import rank
from preloadmc.estimates.order import Order
from preloadmc.judgement.misses import Unranked
from preloadmc.report.text.rank import miss_sections, plus_minus, rank_text, ranking_sections

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
SCATTER = {
    "friction.thread": LAW,
    "friction.bearing": {**LAW, "cov": "14 %"},
    "friction.correlation": 0.4,
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "requirement.minimum_preload": "33 kN",
}


def flat(lines):
    return " ".join(" ".join(lines).split())


def ranking_lines(result):
    return section_lines(ranking_sections(result))


@pytest.fixture
def result(make_case):
    return rank(make_case(SCATTER), base_samples=512)


def test_a_group_of_correlated_inputs_shows_its_members(result):
    lines = ranking_lines(result)
    assert lines[0].split("  ")[0] == "variance of the residual preload"
    rows = [line for line in lines if line.startswith("- ")]
    assert [row.split("  ")[0] for row in rows] == ["- bearing friction", "- thread friction"]
    assert "Correlated inputs have one index together" in flat(lines)


def test_what_is_settled_and_what_is_not(result):
    assert "The order is settled: thread friction with bearing friction, then tool scatter." in (
        flat(ranking_lines(result))
    )
    indices = result.indices
    unsure = np.diag([0.01, 0.01]) ** 2
    near = replace(indices, total=np.array([0.5, 0.49]), total_covariance=unsure, base_samples=8192)
    words = flat(ranking_lines(replace(result, indices=near)))
    pair = f"the order of {indices.names[0]} and {indices.names[1]}"
    words = words.partition("NOT SETTLED after 8 designs of 8,192 base samples: ")[2]
    assert words.startswith(f"{pair} (their total indices differ by 1")
    assert "points)." in words
    assert "The order is settled" not in words


def test_pairs(make_case):
    case = make_case({**SCATTER, "friction.correlation": None})
    result = rank(case, base_samples=512, second_order=True)
    words = flat(ranking_lines(result))
    assert "of 3 pairs: no effect together that is told from 0." in words
    pairs = (
        replace(result.indices.pairs[0], second=0.2, low=0.1, high=0.3),
        *result.indices.pairs[1:],
    )
    both = replace(result, indices=replace(result.indices, pairs=pairs))
    assert "acting together second index" in flat(ranking_lines(both))
    assert "tool scatter and thread friction 20 % (10 to 30)" in flat(ranking_lines(both))
    assert "no effect" not in flat(
        ranking_lines(replace(both, indices=replace(both.indices, pairs=pairs[:1])))
    )


def test_misses(result):
    words = flat(section_lines(miss_sections(result.misses.values(), result.case, "metric")))
    assert "being too loose share [%] shift [s.d.] width [s.d.] cosine bearing friction " in words
    assert "A typical such joint: bearing friction 0.1" in words
    assert "tool scatter -" in words
    assert "effective misses." in words
    assert "Share: divergence of an input's law given such a miss from its own law" in words
    assert "Correlated inputs share this effect." in words
    none = Unranked("over_preload", "no miss was found, so there is none to rank")
    assert section_lines(miss_sections([none], result.case, "metric")) == [
        "being too tight: no miss was found, so there is none to rank.",
    ]


def test_what_it_cost_and_what_more_would_settle(result):
    text = flat(rank_text(result, seconds=1.25).splitlines())
    assert (
        f"Cost: {result.all_model_calls:,} model calls, 1.2 s. Tenfold would narrow each " in text
    )
    assert "the ranking is already resolved." in text
    assert f"Cost: {result.all_model_calls:,} model calls. Tenfold" in flat(
        rank_text(result).splitlines()
    )
    # 2 points apart: told from zero by ten times the samples; 0.2 points: not even then.
    shapley = replace(
        result.shapley,
        share=np.array([0.502, 0.5, 0.48]),
        covariance=np.diag([1e-4, 1e-4, 1e-4]),
    )
    words = flat(rank_text(replace(result, shapley=shapley)).splitlines())
    assert "it would settle the order of thread friction and bearing friction (variance)" in words
    assert "; these would stay unresolved: tool scatter and thread friction (variance)." in words
    shapley = replace(shapley, share=np.array([0.502, 0.5, 0.3]))
    words = flat(rank_text(replace(result, shapley=shapley)).splitlines())
    assert (
        "it would settle no order that is open now; these would stay unresolved: tool scatter"
        in words
    )
    # Inputs that do nothing are in no order that matters.
    assert Order(np.array([0.001, 0.001]), np.eye(2), 2.0).unsettled() == ((0, 1),)


def test_half_widths_keep_the_digits_of_their_values():
    assert plus_minus(-0.0004, 0.02) == "0.00 ± 0.02"
    assert plus_minus(-1.84, 0.03, "+") == "-1.84 ± 0.03"
    assert plus_minus(12.0, 0.0) == "12 ± 0"
