"""Margins: negative where a requirement is missed, in every state, on the side it belongs to."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preloadmc import load_case
from preloadmc.engine import OUTCOMES, margin_function, sample
from preloadmc.errors import NotFiniteError
from preloadmc.joint import evaluate
from preloadmc.limits import as_columns, margins, on_side

PARTS = {"clamped": [{"material": "steel", "thickness": "32 mm"}]}


def found(case, **changed):
    """All margins of the window by (limit, state), with inputs at their means or as given."""
    x = {name: law.mean for name, law in case.laws.items()}
    x.update({name.replace("__", "."): value for name, value in changed.items()})
    each = margins(case.joint, case.requirement, x, evaluate(case.joint, x))
    return {(m.limit.name, m.limit.state): m for m in each}


def values(case, **changed):
    return {key: m.values for key, m in found(case, **changed).items()}


def sides(case):
    return {key: m.limit.sides for key, m in found(case).items()}


def test_a_stated_window(make_case):
    case = make_case({"settling.embedding": "8 um"})
    window = values(case)
    assembled = 77.4e3 / (0.16187 * 12)
    assert window["minimum preload", "settled"] == pytest.approx(assembled - 2e3 - 28e3, abs=2)
    assert window["maximum preload", "assembly"] == pytest.approx(62e3 - assembled, abs=2)
    assert sides(case) == {
        ("minimum preload", "settled"): ("under",),
        ("breaking in tightening", "assembly"): ("under", "over"),
        ("maximum preload", "assembly"): ("over",),
        ("yield", "assembly"): ("over",),
    }


def test_every_state_is_judged_from_both_sides(make_case):
    temperature = {
        "assembly": "20 degC",
        "state": [
            {"name": name, "fastener": temperature, "clamped": "20 degC"}
            for name, temperature in (("tighter", "0 degC"), ("looser", "60 degC"))
        ],
    }
    case = make_case({**PARTS, "temperature": temperature})
    window = values(case)
    assert {state for limit, state in window if limit == "minimum preload"} == {
        "settled",
        "tighter",
        "looser",
    }
    later = {state for limit, state in window if limit in ("maximum preload", "yield")}
    assert later == {"assembly", "tighter", "looser"}
    under = [window["minimum preload", state] for state in ("looser", "settled", "tighter")]
    assert under == sorted(under)
    assert window["maximum preload", "tighter"] < window["maximum preload", "assembly"]


def test_a_margin_is_neither_clipped_at_zero_nor_capped_at_yield(make_case):
    lost = make_case({"settling.embedding": "1 mm"})
    assert values(lost)["minimum preload", "settled"] == pytest.approx(-238_000, rel=1e-3)
    over = make_case({"tightening.torque": "150 N·m", "requirement.maximum_preload": "63 kN"})
    window = values(over)
    slope = (150e3 - 149e3) / (0.16187 * 12)
    less = values(over, tightening__torque=149e3)
    for limit in ("yield", "maximum preload", "breaking in tightening"):
        change = less[limit, "assembly"] - window[limit, "assembly"]
        assert change == pytest.approx(slope, rel=1e-3)


def test_breaking_in_tightening_is_under_and_over(make_case):
    case = make_case({"tightening.torque": "200 N·m"})
    drawn = sample(case, seed=1, samples=10, precision=None)
    assert {drawn.misses[name] for name in OUTCOMES} == {10}
    # The torque equation itself would give far more than the minimum.
    assert values(case)["minimum preload", "settled"] > 0.0


@pytest.mark.parametrize(
    ("maximum", "expected"),
    [
        ("62 kN", {"maximum preload", "yield"}),
        ({"from": "yield", "fraction": 0.9}, {"90 % of yield"}),
        ({"from": "yield", "fraction": 1}, {"yield"}),
        # More than yield was allowed: yield itself still ends what is elastic.
        ({"from": "yield", "fraction": 1.2}, {"yield", "120 % of yield"}),
        (None, {"yield"}),
    ],
)
def test_what_bounds_the_preload_from_above(make_case, maximum, expected):
    case = make_case({"requirement.maximum_preload": maximum})
    over = {limit for (limit, _), which in sides(case).items() if which == ("over",)}
    assert over == expected


def test_without_a_strength_only_the_stated_window_is_judged(make_case):
    case = make_case({"fastener.property_class": None})
    assert set(sides(case)) == {("minimum preload", "settled"), ("maximum preload", "assembly")}


def test_no_slip(make_case):
    # mu n F_K = F_Q with F_K = F - (1 - Phi) F_A and Phi = n delta_P/(delta_S + delta_P) = 0.125
    case = make_case(
        {
            "requirement.minimum_preload": {"from": "no slip"},
            "friction.joint": 0.2,
            "load": {
                "axial": "8 kN",
                "transverse": "3 kN",
                "slip_faces": 2,
                "load_introduction": 0.5,
            },
        }
    )
    (under,) = [v for (_, state), v in values(case).items() if state == "settled"]
    assembled = 77.4e3 / (0.16187 * 12)
    assert under == pytest.approx(assembled - 3e3 / (0.2 * 2) - 0.875 * 8e3, abs=2)


def test_a_transverse_load_slips_the_parts_in_either_direction(make_case):
    case = make_case(
        {
            "requirement.minimum_preload": {"from": "no slip"},
            "friction.joint": 0.2,
            "load.transverse": "3 kN",
        }
    )
    forth, back = (values(case, load__transverse=force) for force in (3e3, -3e3))
    assert forth == pytest.approx(back)


def test_no_separation(make_case):
    case = make_case(
        {"requirement.minimum_preload": {"from": "no separation"}, "load.axial": "8 kN"}
    )
    (under,) = [v for (_, state), v in values(case).items() if state == "settled"]
    assert under == pytest.approx(77.4e3 / (0.16187 * 12) - 0.75 * 8e3, abs=2)


def test_a_total_compliance_serves_where_no_load_is_shared(make_case):
    parts = {"joint": {"compliance": "4 um/kN"}, "settling.embedding": "8 um"}
    whole, apart = make_case(parts), make_case({"settling.embedding": "8 um"})
    assert values(whole) == pytest.approx(values(apart))


@pytest.mark.parametrize("wrong", [np.nan, np.inf, -np.inf])
def test_a_margin_that_is_not_finite_is_an_error_never_a_survival(make_case, wrong):
    each = tuple(found(make_case(), tightening__torque=np.array([77e3, wrong, 77e3])).values())
    words = "a margin is not a finite number: breaking in tightening, maximum preload, minimum pre"
    with pytest.raises(NotFiniteError, match=words):
        as_columns(each, 3)


def test_sampling_stops_at_a_margin_that_is_not_finite(make_case, monkeypatch):
    case = make_case({"tightening.tool": {"law": "normal", "cov": "5 %"}})
    law = type(case.laws["tightening.tool"])
    monkeypatch.setattr(law, "from_normal", lambda self, z: np.where(z > 2.0, np.nan, 1.0))
    with pytest.raises(NotFiniteError, match="a margin is not a finite number"):
        sample(case, seed=1, samples=10_000, precision=None)


def test_columns_are_the_margins_in_order(make_case):
    case = make_case({"tightening.tool": {"law": "normal", "cov": "5 %"}})
    z = np.array([[-1.0], [0.0], [2.0]])
    each = tuple(found(case, tightening__tool=1.0 + 0.05 * z[:, 0]).values())
    under, over = (on_side(each, (side,)) for side in ("under", "over"))
    assert as_columns(each, 3).shape == (3, 4)
    for outcome, chosen in (("under_preload", under), ("over_preload", over)):
        assert margin_function(case, outcome)(z) == pytest.approx(as_columns(chosen, 3))
    assert len(on_side(each, ("under", "over"))) == len(each) == len(under) + len(over) - 1


@pytest.fixture(scope="module")
def conveyor(request):
    (path,) = (request.config.rootpath / "cases").glob("conveyor*.toml")
    return load_case(path)


@given(st.floats(1.0, 3.0))
def test_more_torque_never_loosens_and_never_spares_yield(conveyor, factor):
    torque = conveyor.laws["tightening.torque"].mean
    low, high = values(conveyor), values(conveyor, tightening__torque=factor * torque)
    for (limit, state), margin in low.items():
        change = high[limit, state] - margin
        assert change >= 0.0 if limit == "minimum preload" else change <= 0.0
