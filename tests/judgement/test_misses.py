"""What plain samples saw of an outcome or a limit."""

import numpy as np
import pytest

from preloadmc.engine import margin_function, sample
from preloadmc.judgement.misses import look

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}


@pytest.mark.parametrize(
    "event", ["under_preload", "over_preload", "outside_window", "minimum preload", "yield"]
)
def test_a_look_knows_the_misses_that_were_kept(make_case, event):
    strength = {"law": "normal", "mean": "700 MPa", "cov": "6 %"}
    case = make_case(
        {
            "friction.thread": LAW,
            "friction.bearing": LAW,
            "fastener.yield_strength": strength,
            "requirement.minimum_preload": "36 kN",
        }
    )
    drawn = sample(case, seed=1, samples=300_000, precision=None)
    found = look(drawn, event)
    assert (found.misses, found.samples) == (drawn.misses[event], 300_000)
    # of 300,000 the first 2^18 are kept
    assert 0 < found.known == len(found.seen) < found.misses
    assert (margin_function(case, event)(found.seen).min(axis=1) < 0.0).all()
    flags = margin_function(case, event)(drawn.kept.z).min(axis=1) < 0.0
    assert np.array_equal(found.seen, drawn.kept.z[flags][:8192])
