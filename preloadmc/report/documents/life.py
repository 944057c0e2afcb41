"""A joint over its service as a part of documents."""

from __future__ import annotations

from typing import Any

from preloadmc.estimates.probability import Probability
from preloadmc.questions.run import LIFE_QUANTILES, CheckFound, LifeResult, Trial
from preloadmc.report.documents.estimates import probability_document
from preloadmc.report.documents.judgement import judged_document


def life_document(life: LifeResult | None) -> dict[str, Any]:
    """Return the keys "life" and "service"; none where no time of service is stated.

    Times are in s, forces in N, torques in N·mm.
    """
    if life is None:
        return {}
    return {
        "life": [
            {
                "time": point.time,
                "unit": "s",
                "under_preload": judged_document(point.under),
                "over_preload": judged_document(point.over),
                "by_then": judged_document(point.by_then),
            }
            for point in life.points
        ],
        "service": {
            "longest_interval": life.longest,
            "to_the_end": life.all_along,
            "unit": "s",
            "without_actions": None if life.without is None else judged_document(life.without),
            "first_retightening": _trial(life.first_retightening),
            "retightening_at_longest": _trial(life.at_longest),
            "checks": [_check(each) for each in life.checks],
            "expected_cost": life.expected_cost,
            "expected_cost_without_actions": life.cost_of_nothing,
            "preload": {
                "time": life.times.tolist(),
                **{
                    f"p{round(100 * p):02d}": row.tolist()
                    for p, row in zip(LIFE_QUANTILES, life.bands, strict=True)
                },
                "unit": "N",
            },
        },
    }


def _trial(trial: Trial | None) -> dict[str, Any] | None:
    if trial is None:
        return None
    return {
        "time": trial.time,
        "under_preload": judged_document(trial.under),
        "verdict": trial.verdict,
    }


def _check(found: CheckFound) -> dict[str, Any]:
    good = found.good
    return {
        "time": found.action.at,
        "pass_torque": found.action.pass_torque,
        "reads_on_good_joints": None
        if good is None
        else {"p05": good[0], "p50": good[1], "p95": good[2], "unit": "N·mm"},
        "loose": probability_document(found.loose),
        "turned": probability_document(found.turned),
        "false_alarms": _known(found.false_alarms),
        "loose_passed": _known(found.passed),
        "loose_passed_at_p05": _known(found.passed_at_low),
    }


def _known(probability: Probability | None) -> dict[str, Any] | None:
    return None if probability is None else probability_document(probability)
