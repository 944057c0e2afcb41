"""Where preload goes between assembly and the residual preload."""

import numpy as np
import pytest

from preloadmc import run
from preloadmc.report.documents.run import run_document
from preloadmc.report.text.run import run_text

# 4 um/kN in all: 8 um of embedding take 2 kN.
LOSSES = {
    "settling.embedding": {"law": "normal", "mean": "8 um", "cov": "10 %"},
    "settling.relaxation": "5 %",
    "temperature.thermal_change": {"law": "normal", "mean": "-0.8 kN", "sd": "0.1 kN"},
}


def test_each_loss_by_hand(make_case):
    found = run(make_case(LOSSES))
    budget = found.loss_budget
    embedding, relaxation, service = budget.losses
    assert [loss.cause for loss in budget.losses] == ["embedding", "relaxation", "temperature"]
    assert (embedding.state, service.state) == ("", "service")
    n = found.samples.n
    # Means of n samples, within five of their standard errors: 0.2 kN and 0.1 kN over sqrt(n).
    assert embedding.mean == pytest.approx(2000.0, abs=5 * 200 / n**0.5)
    assert embedding.sd == pytest.approx(200.0, rel=0.05)
    assert relaxation.mean == pytest.approx(0.05 * (budget.assembled - embedding.mean), rel=1e-9)
    assert service.mean == pytest.approx(800.0, abs=5 * 100 / n**0.5)
    assert budget.residual == pytest.approx(found.samples.moments["residual"].mean, rel=1e-9)
    document = run_document(found)["loss_budget"]
    assert document["losses"][2] == {
        "cause": "temperature",
        "state": "service",
        "mean": service.mean,
        "sd": service.sd,
    }
    # A run does not model what turns a fastener back.
    assert document["rotation"] == 0.0
    assert document["assembled"] - document["residual"] == pytest.approx(
        sum(each["mean"] for each in document["losses"]), rel=1e-9
    )
    text = run_text(found)
    assert "where preload goes [kN]" in text
    assert "back rotation" in text
    assert "temperature, state 'service'" in text


def test_no_loss_of_a_joint_without_any(make_case):
    budget = run(make_case()).loss_budget
    assert [loss.mean for loss in budget.losses] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert budget.residual == pytest.approx(budget.assembled)


def test_no_more_is_lost_than_is_there(make_case):
    # 400 um would take 100 kN.
    budget = run(
        make_case({"settling.embedding": "400 um", "settling.relaxation": "5 %"})
    ).loss_budget
    embedding, relaxation = budget.losses
    assert embedding.mean == budget.assembled
    assert (relaxation.mean, budget.residual) == (0.0, 0.0)


def test_no_fastener_loses_to_two_states(make_case):
    # An aluminium grip shrinks more than the steel fastener; in the cold one state is mostly below.
    states = [
        {
            "name": name,
            "fastener": {"law": "normal", "mean": mean, "sd": "8 K"},
            "clamped": {"law": "normal", "mean": mean, "sd": "8 K"},
        }
        for name, mean in (("night", "-20 degC"), ("frost", "-22 degC"))
    ]
    found = run(
        make_case(
            {
                "clamped": [{"material": "aluminium 6082", "thickness": "40 mm"}],
                "fastener.bearing_outer_diameter": "18 mm",
                "temperature": {"assembly": "20 degC", "state": states},
                "settling.embedding": "4 um",
            }
        )
    )
    budget, path = found.loss_budget, found.samples.kept.path
    night, frost = budget.losses[-2:]
    assert (night.state, frost.state) == ("night", "frost")
    below = path["night"] < path["frost"]
    assert 0.1 < below.mean() < 0.9
    lost = np.maximum(path["settled"] - path["residual"], 0.0)
    assert night.mean == pytest.approx(np.where(below, lost, 0.0).mean(), rel=1e-9)
    assert frost.mean == pytest.approx(np.where(below, 0.0, lost).mean(), rel=1e-9)
    total = sum(loss.mean for loss in budget.losses)
    assert total == pytest.approx(budget.assembled - budget.residual, rel=1e-9)
