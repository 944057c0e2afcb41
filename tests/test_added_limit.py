"""A limit added here, and nowhere else, is right in every table and figure."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from preloadmc import aim, check, compare, derive, rank, run
from preloadmc.limits import ABOVE, LIMITS, UNDER, Found, LimitKind, always
from preloadmc.mechanics import service
from preloadmc.report.documents.run import run_document
from preloadmc.report.figures.aim import aim_figures
from preloadmc.report.figures.ladder import ladder_figure
from preloadmc.report.figures.preload import histogram_figure
from preloadmc.report.text.compare import compare_text
from preloadmc.report.text.derive import derive_text
from preloadmc.report.text.run import run_text
from preloadmc.units import FORCE

# A gasket needs 20 kN of clamp force under the load. Phi = 1/(3 + 1) by the compliances of the
# base case; 12 kN of load take 9 kN of clamp: a preload of 29 kN is needed.
NEEDED, LOAD, SHARE = 20e3, 12e3, 0.25
REACHED = NEEDED + (1.0 - SHARE) * LOAD


def judge(joint, requirement, x, state):
    """Clamp force on the gasket in each state with a load."""
    for judged in state.judged:
        if judged.axial is not None:
            clamp = service.clamp_force(judged.preload, judged.axial, judged.load_share)
            yield Found(judged.name, clamp - NEEDED, NEEDED)


GASKET = LimitKind(
    "gasket force",
    ABOVE,
    FORCE,
    always(),
    judge,
    edge="gasket",
    compared_as="gasket force",
    remedy="a softer gasket",
)
CASE = {
    "tightening": {
        "method": "stated scatter",
        "preload": {"law": "normal", "mean": "32 kN", "sd": "2 kN"},
    },
    "load.axial": "12 kN",
    "requirement.minimum_preload": "25 kN",
    "alternative": [
        {
            "name": "tighter",
            "tightening": {"preload": {"law": "normal", "mean": "35 kN", "sd": "2 kN"}},
        }
    ],
}
# 3 kN, or 1.5 s.d., below the mean; 3 s.d. in the alternative.
MISSED, TIGHTER = NormalDist().cdf(-1.5), NormalDist().cdf(-3.0)


@pytest.fixture
def with_limit(make_case):
    """A function that adds a limit and returns the joint."""
    added = []

    def make(kind, **more):
        LIMITS.append(kind)
        added.append(kind)
        return make_case({**CASE, **more})

    yield make
    for kind in added:
        LIMITS.remove(kind)


def words(text):
    """A text without its line breaks."""
    return " ".join(text.split())


def test_it_stands_in_the_tables_of_a_run(with_limit):
    result = run(with_limit(GASKET), samples=40_000)
    found = next(limit for limit in result.limits if limit.name == "gasket force")
    assert found.probability.low < MISSED < found.probability.high
    # median clamp 32 - 9 = 23 kN, 3 kN above what is needed
    assert found.median_margin_share == pytest.approx(3.0 / 20.0, abs=0.01)
    assert "gasket force settled" in words(run_text(result))
    document = next(x for x in run_document(result)["limits"] if x["limit"] == "gasket force")
    assert document["low"] < MISSED < document["high"]
    # a limit beside the window is told in the answer, and belongs to no side
    assert "gasket force" in result.answer[0]
    assert result.outcome("under_preload").probability.value < 0.01


def test_it_is_checked_derived_and_ranked(with_limit):
    case = with_limit(GASKET)
    derivation = derive(case)
    margin = next(m for m in derivation.margins if m.limit.name == "gasket force")
    assert margin.value == pytest.approx(3e3)
    assert "gasket force settled 20 kN 3 kN 15 %" in words(derive_text(derivation))
    assert "gasket force" not in check(case).nominal.missed_besides
    preload = case.laws["tightening.preload"]
    loose = replace(case, laws={**case.laws, "tightening.preload": preload.scaled(0.85)})
    assert check(loose).nominal.missed_besides == {"gasket force": "settled"}
    assert rank(case, of="gasket force", base_samples=256).quantity == "margin of gasket force"


def test_it_is_drawn_where_a_preload_reaches_it(with_limit):
    result = run(with_limit(GASKET), samples=2_000)
    edge = next(edge for edge in result.ladder.edges if edge.name == "gasket force")
    assert (edge.side, edge.median) == (UNDER, pytest.approx(REACHED))
    texts = [t.get_text() for ax in ladder_figure(result).figure.axes for t in ax.texts]
    assert any("gasket force" in text and "29" in text for text in texts)


def test_it_tells_alternatives_apart(with_limit):
    result = compare(with_limit(GASKET), threads=1)
    first, tighter = result.alternatives
    assert first.securing["gasket force"].low < MISSED < first.securing["gasket force"].high
    difference = tighter.difference_to_first["gasket force"]
    assert difference.low < TIGHTER - MISSED < difference.high
    assert "gasket force probability (95 %)" in words(compare_text(result))


def test_as_a_part_of_the_window_it_makes_its_edge(with_limit):
    result = run(with_limit(replace(GASKET, sides=always(UNDER))), samples=40_000)
    under = result.outcome("under_preload").probability
    assert under.low < MISSED < under.high
    assert np.mean(result.samples.kept.under) == pytest.approx(under.value)
    (edge,) = (e for e in result.window if e.side == UNDER)
    assert edge.short_name == "gasket"
    assert edge.median == pytest.approx(REACHED)
    figure = histogram_figure(result).figure
    assert any("gasket" in t.get_text() for ax in figure.axes for t in ax.texts)


# F = F0 (1 + z/16), z standard normal; the base case asks for 62 kN at most.
ASKED = {"requirement.allowed_under": 1e-3, "requirement.allowed_over": 1e-3}
GASKET_ASKED = {**ASKED, "requirement.allowed_other": 1e-4}


def from_setting(force, allowed):
    """The mean preload from which a force is reached but for so small a share."""
    return force / (1.0 + NormalDist().inv_cdf(allowed) / 16.0)


def up_to_setting(force, allowed):
    """The mean preload up to which a force is exceeded by no more than so small a share."""
    return force / (1.0 - NormalDist().inv_cdf(allowed) / 16.0)


def test_it_closes_the_settings_to_aim_for(with_limit):
    case = with_limit(GASKET, **GASKET_ASKED)
    result = aim(case)
    low, high = result.aim.interval
    # The minimum of 25 kN alone would do from 31 kN, the gasket from 38 kN.
    assert from_setting(25e3, 1e-3) < 0.85 * from_setting(REACHED, 1e-4)
    assert low == pytest.approx(from_setting(REACHED, 1e-4), rel=5e-3)
    assert high == pytest.approx(up_to_setting(62e3, 1e-3), rel=5e-3)
    assert result.aim.low_end.limits == ("gasket force",)
    assert result.answer[1].startswith("What limits: the lower end, ")
    assert ", is set by gasket force; " in result.answer[1]
    found = result.to_set.judged.named("gasket force")
    assert (found.verdict, found.allowed) == ("meets", 1e-4)
    assert found.probability.low < NormalDist().cdf(
        16.0 * (REACHED / result.to_set.setting - 1.0)
    ) < found.probability.high  # fmt: skip
    assert result.weighting.weights["gasket force"] == pytest.approx(1e4)
    (ax,) = aim_figures(result)[0].figure.axes
    assert "gasket force" in [text.get_text() for text in ax.texts]


def test_it_leaves_no_setting_to_aim_for(with_limit):
    """No more than 40 kN: the gasket asks for 38 kN, the maximum allows 33.5 kN."""
    maximum = {"requirement.maximum_preload": "40 kN"}
    result = aim(with_limit(GASKET, **GASKET_ASKED, **maximum))
    assert up_to_setting(40e3, 1e-3) < 0.9 * from_setting(REACHED, 1e-4)
    assert (result.to_set, result.aim.verdict) == (None, "misses")
    assert result.aim.low_end.limits == ("gasket force",)
    assert result.aim.low_end.setting == pytest.approx(from_setting(REACHED, 1e-4), rel=5e-3)
    assert ": gasket force is within what is allowed only from " in result.answer[1]
    assert ", or a softer gasket, or " in result.answer[2]


def test_as_a_part_of_the_window_it_closes_the_settings(with_limit):
    result = aim(with_limit(replace(GASKET, sides=always(UNDER)), **ASKED))
    low, _ = result.aim.interval
    assert low == pytest.approx(from_setting(REACHED, 1e-3), rel=5e-3)
    assert result.aim.low_end.limits == ("under_preload",)
    assert ", is set by too little preload (gasket force, settled); " in result.answer[1]
