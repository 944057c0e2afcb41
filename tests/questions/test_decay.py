"""Records of vibration tests: how they are read, and what they say."""

import numpy as np
import pytest
from scipy import stats

from preloadmc import decay, load_records
from preloadmc.errors import CaseError, UsageError
from preloadmc.questions.decay import DecayQuestion

CYCLES = (0, 100, 250, 500, 750, 1000, 1500, 2000)
HEADER = "test,element,load cycles,preload [kN]"


@pytest.fixture
def asked(tmp_path):
    """A function that asks of files by their names and texts."""

    def ask(question=None, /, **texts):
        files = []
        for name, text in texts.items():
            path = tmp_path / f"{name}.csv"
            path.write_text(text, encoding="utf-8")
            files.append(load_records(path))
        return decay(files, question)

    return ask


def line(shares, force=40.0):
    """A record of one file that goes straight from share to share."""
    rows = "".join(f"{c},{force * s:.8g}\n" for c, s in zip(CYCLES, shares, strict=False))
    return f"cycles,preload [kN]\n{rows}"


def falling(end, force=40.0, last=2000.0):
    """A record that falls straight to a share at its last cycles."""
    rows = "".join(
        f"{c:g},{force * (1.0 - (1.0 - end) * c / last):.8g}\n" for c in np.linspace(0.0, last, 9)
    )
    return f"cycles,preload [kN]\n{rows}"


def table(ends, lasts=None):
    """A long table of straight records by test and element."""
    rows = []
    for test, (element, end) in ends.items():
        last = (lasts or {}).get(test, 2000.0)
        for c in np.linspace(0.0, last, 9):
            rows.append(f"{test},{element},{c:g},{40.0 * (1.0 - (1.0 - end) * c / last):.8g}")
    return "\n".join([HEADER, *rows]) + "\n"


ENDS = (0.91, 0.88, 0.86, 0.93, 0.9)
PLAIN = (0.3, 0.45, 0.38, 0.25, 0.41)
BOTH = table(
    {f"A{i}": ("wedge", end) for i, end in enumerate(ENDS)}
    | {f"B{i}": ("plain", end) for i, end in enumerate(PLAIN)}
)


def test_what_remains_with_its_limit_by_another_way(asked):
    result = asked(DecayQuestion(at=(1000.0, 2000.0)), both=BOTH)
    wedge, plain = result.elements
    assert (wedge.name, plain.name) == ("wedge", "plain")
    half, full = wedge.remaining
    assert list(half.remaining.shares.values()) == pytest.approx([(1 + e) / 2 for e in ENDS])
    values = np.array(ENDS)
    mean, sd = np.mean(values), np.std(values, ddof=1)
    assert (full.remaining.mean, full.remaining.sd, full.remaining.n) == pytest.approx(
        (mean, sd, 5)
    )
    # k of the one-sided limit by the non-central law of Student (scipy.stats).
    k = stats.nct.ppf(0.95, 4, np.sqrt(5) * stats.norm.ppf(0.99)) / np.sqrt(5)
    assert full.limit == pytest.approx(mean - k * sd)
    low, high = stats.t.interval(0.95, 4, mean, sd / np.sqrt(5))
    assert (full.mean_low, full.mean_high) == pytest.approx((low, high))
    assert full.limit_by_count is None
    assert full.tests_by_count == 299
    again = wedge.remaining_at(2000.0)
    assert (again.mean, again.sd, again.n) == pytest.approx((mean, sd, 5))
    with pytest.raises(ValueError, match="no test of wedge reaches 3000 cycles"):
        wedge.remaining_at(3000.0)


def test_elements_are_compared_pair_by_pair(asked):
    (found,) = asked(both=BOTH).differences
    other = stats.ttest_ind(PLAIN, ENDS, equal_var=False).confidence_interval(0.95)
    assert (found.first, found.second, found.cycles) == ("wedge", "plain", 2000.0)
    assert (found.difference.low, found.difference.high) == pytest.approx((other.low, other.high))
    assert found.difference.tests_to_separate == 3
    # Of three elements each pair takes a third of what may be wrong.
    third = table({f"C{i}": ("ribbed", end) for i, end in enumerate(ENDS)})
    pairs = asked(both=BOTH, third=third).differences
    assert len(pairs) == 3
    assert {each.difference.confidence for each in pairs} == {1.0 - 0.05 / 3}
    alike = next(each for each in pairs if each.second == "ribbed" and each.first == "wedge")
    assert not alike.difference.is_resolved


def test_cycles_to_a_remainder_as_a_lifetime(asked):
    result = asked(DecayQuestion(remainder=0.8, law="weibull"), both=BOTH)
    wedge, plain = (each.lifetime for each in result.elements)
    assert wedge.fell == 0
    assert wedge.chosen is None
    assert wedge.quantiles == ()
    # Nothing of five: 1 - 0.05^(1/5).
    assert wedge.by_count == pytest.approx(1.0 - 0.05**0.2)
    assert wedge.counted_at == 2000.0
    # A straight record reaches 80 % at 0.2 / (1 - end) of its cycles.
    expected = [2000.0 * 0.2 / (1.0 - end) for end in PLAIN]
    assert [cycles for cycles, _ in plain.cycles.values()] == pytest.approx(expected)
    assert all(fell for _, fell in plain.cycles.values())
    shape, _, scale = stats.weibull_min.fit(expected, floc=0.0)
    assert plain.chosen.shape == pytest.approx(shape, rel=1e-3)
    assert plain.chosen.quantile(1.0 - np.exp(-1.0)) == pytest.approx(scale, rel=1e-3)
    assert plain.quantiles[0].low < plain.quantiles[0].cycles < plain.quantiles[0].high
    likelier = asked(both=BOTH).elements[1].lifetime
    assert likelier.chosen.log_likelihood == max(e.log_likelihood for e in likelier.laws)


def test_tests_that_kept_more_are_censored(asked):
    ends = {f"A{i}": ("", end) for i, end in enumerate((0.75, 0.7, 0.9, 0.95))}
    life = asked(long=table(ends)).elements[0].lifetime
    times = np.array([2000 * 0.2 / 0.25, 2000 * 0.2 / 0.3, 2000.0, 2000.0])
    assert [cycles for cycles, _ in life.cycles.values()] == pytest.approx(times)
    assert [fell for _, fell in life.cycles.values()] == [True, True, False, False]
    data = stats.CensoredData(uncensored=times[:2], right=times[2:])
    shape, _, scale = stats.weibull_min.fit(data, floc=0.0)
    weibull = next(each for each in life.laws if each.kind == "weibull")
    assert weibull.shape == pytest.approx(shape, rel=1e-3)
    assert weibull.quantile(1.0 - np.exp(-1.0)) == pytest.approx(scale, rel=1e-3)


def test_two_phases_of_records_with_known_change(asked, seed):
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 2000.0, 41)
    changes = {"a": 400.0, "b": 900.0, "c": None}
    texts = {}
    for name, at in changes.items():
        turned = 0.0 * x if at is None else 0.01 * np.maximum(x - at, 0.0)
        share = 1.0 - 0.08 * (1.0 - np.exp(-x / 100.0)) - turned / 28.0
        noisy = turned + 0.05 * rng.standard_normal(len(x))
        rows = zip(x, 40.0 * share, noisy, strict=True)
        texts[name] = "cycles,preload [kN],rotation [deg]\n" + "".join(
            f"{c:g},{p:.5f},{r:.4f}\n" for c, p, r in rows
        )
    phases = {each.test: each for each in asked(**texts).elements[0].phases}
    for name, at in changes.items():
        found = phases[name].change
        if at is None:
            assert found is None
            continue
        assert found.at == pytest.approx(at, abs=40.0)
        assert found.low - 40.0 <= at <= found.high + 40.0
        assert np.degrees(found.slope) == pytest.approx(0.01, rel=0.05)
        assert phases[name].share_at_change == pytest.approx(0.92, abs=0.01)
    assert phases["a"].share_at_end == pytest.approx(0.92 - 16.0 / 28.0, abs=1e-4)
    assert asked(only=falling(0.9)).elements[0].phases == ()


def test_ratings_by_thresholds_typed_in_or_from_memory(asked):
    ratings = {each.threshold.name: each for each in asked(both=BOTH).elements[0].ratings}
    assert ratings["good by ISO 16130"].reach == 5
    assert not ratings["good by ISO 16130"].is_shown  # the limit is 0.79
    assert ratings["acceptable by ISO 16130"].is_shown
    assert {each.threshold.source for each in ratings.values()} == {"value from memory"}
    typed = asked(DecayQuestion(thresholds=("firm = 87 % at 1500", "soft=0.5")), both=BOTH)
    firm, soft = typed.elements[0].ratings
    assert (firm.threshold.share, firm.threshold.cycles) == (0.87, 1500.0)
    assert firm.threshold.source == "typed in"
    assert "2000 cycles: value from memory" in soft.threshold.source
    assert firm.all_reach
    assert "memory" not in typed.answer[2] or "soft" in typed.answer[2]
    short = asked(short=falling(0.9, last=800.0))
    assert short.elements[0].ratings == ()
    assert "Not rated: no test reaches 2000 cycles." in short.warnings
    assert short.at == (800.0,)


def test_a_test_that_lost_all_counts_and_one_that_was_stopped_does_not(asked):
    ends = {"A": ("", 0.9), "B": ("", 0.0), "C": ("", 0.6)}
    result = asked(long=table(ends, {"B": 900.0, "C": 1200.0}))
    # The test without preload is no bound to the common cycles, the stopped one is.
    assert result.at == (1200.0, 2000.0)
    at_end = result.elements[0].remaining_at(2000.0)
    assert at_end.shares == pytest.approx({"A": 0.9, "B": 0.0})
    assert at_end.ended_before == ("C",)
    ratings = {each.threshold.name: each for each in result.elements[0].ratings}
    # The stopped test had 60 % left: it has missed the upper thresholds, and tells nothing of 40 %.
    upper, lower = ratings["secured by DIN 25201-4"], ratings["acceptable by ISO 16130"]
    assert [(each.reach, each.n) for each in (upper, lower)] == [(1, 3), (1, 2)]
    assert any("1 of 3 tests ended before 2000 cycles" in each for each in result.warnings)


def test_one_file_a_test_and_units_that_differ(asked):
    newtons = falling(0.8, force=40000.0).replace("[kN]", "[N]")
    shares = falling(0.9, force=100.0).replace("[kN]", "[%]")
    bare = falling(0.7, force=1.0).replace(" [kN]", "")
    result = asked(kilo=falling(0.85), newtons=newtons, shares=shares, bare=bare)
    remaining = result.elements[0].remaining[-1].remaining
    ends = {"kilo": 0.85, "newtons": 0.8, "shares": 0.9, "bare": 0.7}
    assert remaining.shares == pytest.approx(ends)
    assert [each.initial for each in result.elements[0].tests] == [40000.0, 40000.0, None, None]


def test_semicolons_decimal_commas_and_conditions(asked):
    text = (
        "# rig 3\nTest;Securing element;amplitude [mm];Load cycles;Clamp force [kN]\n"
        "a;wedge;0,4;0;40,0\na;wedge;0,4;2000;36,0\n"
        "b;wedge;0,6;0;40,0\nb;wedge;0,6;2000;34,0\n"
    )
    result = asked(rig=text)
    assert result.elements[0].remaining[-1].remaining.shares == pytest.approx({"a": 0.9, "b": 0.85})
    assert "amplitude 0.4 mm and 0.6 mm" in result.holds_for
    assert "do not state joint and clamp length" in result.holds_for
    assert result.answer[2].endswith(f"{result.holds_for}.")
    (mixed,) = (each for each in result.warnings if "amplitude" in each)
    assert mixed.startswith("Tests of different amplitude are taken together: 0.4 mm and 0.6 mm")
    (one,) = asked(DecayQuestion(where={"amplitude": "0,4"}), rig=text).elements
    assert [test.test for test in one.tests] == ["a"]


def test_one_record_has_no_scatter_and_says_so(asked):
    result = asked(one=falling(0.9))
    (found,) = (each for each in result.elements[0].remaining if each.remaining.cycles == 2000.0)
    assert (found.limit, found.remaining.sd, found.mean_low) == (None, None, None)
    assert result.differences == ()
    assert result.warnings[0].startswith("One record only of tested element: no scatter is known")
    assert not any(each.is_shown for each in result.elements[0].ratings)


def test_a_record_that_rises_is_told(asked, seed):
    risen = line((1.0, 0.9, 0.8, 0.75, 0.85, 0.8, 0.75, 0.7))
    (told,) = (each for each in asked(up=risen, down=falling(0.8)).warnings if "rises" in each)
    assert "test up rises again, by 10 % up to 750 cycles" in told
    # Noise alone is none.
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 2000.0, 201)
    noisy = 40.0 * (1.0 - 0.1 * x / 2000.0) + 0.4 * rng.standard_normal(len(x)) * (x > 0)
    rows = "".join(f"{c:g},{p:.4f}\n" for c, p in zip(x, noisy, strict=True))
    result = asked(noisy=f"cycles,preload [kN]\n{rows}", down=falling(0.8))
    assert not any("rises" in each for each in result.warnings)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("cycles,preload [kN]\n0,40\n", "no cycles above 0"),
        ("cycles,preload [kN]\n0,40\n500,38\n400,37\n", "is a test named twice.*400 after 500"),
        ("cycles,preload [kN]\n0,40\n500,38\n500,37\n", "500 after 500"),
        ("cycles,preload [kN]\n-1,40\n500,38\n", "load cycles of 0 or above"),
        ("cycles,preload [kN]\n100,40\n500,38\n", "a preload at 0 cycles, or a column 'initial"),
        ("cycles,preload\n0,100\n500,95\n", "a share of the initial preload; else a unit"),
        ("cycles,preload [%]\n0,80\n500,75\n", "95 % or more at 0 cycles"),
        ("cycles,preload [N·m]\n0,80\n500,75\n", "N·m"),
        ("cycles,preload [kN]\n0,-1\n500,75\n", "a preload of 0 or above"),
        ("cycles,force\n0,40\n500,38\n", "a column 'preload' with the preload"),
        ("time,preload [kN]\n0,40\n500,38\n", "a column 'load cycles' with the load cycles"),
        (f"{HEADER}\na,x,0,40\na,y,500,38\n", "one element for each test.*x. and .y"),
        ("cycles,preload [kN]\n0,40 %\n500,38\n", "no unit in the cell"),
        ("cycles,preload [kN]\n,40\n500,\n", "a row with load cycles and preload"),
        ("cycles,initial preload [kN],preload [kN]\n0,40,40\n9,41,38\n", "two initial preloads"),
    ],
)
def test_what_is_no_record_is_explained(asked, text, words):
    with pytest.raises(CaseError, match=f"(?s){words}"):
        asked(bad=text)


def test_an_initial_preload_of_its_own_column(asked):
    text = "cycles,initial preload [kN],preload [kN]\n100,40,39\n2000,40,36\n"
    (test,) = asked(late=text).elements[0].tests
    assert test.initial == 40000.0
    assert test.cycles == pytest.approx([0.0, 100.0, 2000.0])
    assert test.share == pytest.approx([1.0, 0.975, 0.9])


def test_a_test_named_twice_and_bad_options(asked, tmp_path):
    with pytest.raises(UsageError, match=r"test A0 stands in .*both.csv and .*other.csv"):
        asked(both=BOTH, other=table({"A0": ("wedge", 0.5)}))
    (tmp_path / "deep").mkdir()
    twin = tmp_path / "deep" / "one.csv"
    for path in (tmp_path / "one.csv", twin):
        path.write_text(falling(0.9), encoding="utf-8")
    with pytest.raises(UsageError, match=r"another file is called one\.csv too"):
        decay([load_records(tmp_path / "one.csv"), load_records(twin)])
    for question, words in (
        (DecayQuestion(law="normal"), "weibull or lognormal"),
        (DecayQuestion(remainder=0.99), "above 5 % and at most 95 %"),
        (DecayQuestion(at=(0.0,)), "1 cycle or more"),
        (DecayQuestion(thresholds=("good",)), "a name and a share"),
        (DecayQuestion(thresholds=("good=85 % at",)), "unknown unit 'at'; such as"),
        (DecayQuestion(thresholds=("good=much",)), "such as 'good=85 %'"),
        (DecayQuestion(thresholds=("good=120 %",)), "at most 100 %"),
        (DecayQuestion(thresholds=("good=80 % at 0",)), "1 cycle or more"),
        (DecayQuestion(thresholds=("good=80 %", "good=85 %")), "each name once"),
    ):
        with pytest.raises(UsageError, match=words):
            asked(question, one=falling(0.9))


def test_what_to_do(asked):
    shown = asked(DecayQuestion(thresholds=("firm=70 %",)), both=BOTH)
    assert "wedge meets 'firm' (70 % after 2000 cycles" in shown.answer[2]
    near = asked(DecayQuestion(thresholds=("firm=85 %",)), both=BOTH)
    assert "test more of wedge: every test meets 'firm'" in near.answer[2]
    alike = table(
        {f"A{i}": ("one", end) for i, end in enumerate((0.5, 0.3, 0.6))}
        | {f"B{i}": ("two", end) for i, end in enumerate((0.55, 0.2, 0.4))}
    )
    result = asked(DecayQuestion(thresholds=("firm=85 %",)), alike=alike)
    planned = result.differences[-1].difference.tests_to_separate
    assert f"{planned} tests of each would separate the elements" in result.answer[2]
    assert "is not resolved" in result.answer[1]
    poor = asked(DecayQuestion(thresholds=("firm=85 %",)), poor=table({"A": ("one", 0.5)}))
    assert "no element meets a threshold in every test" in poor.answer[2]


@pytest.mark.slow
@pytest.mark.statistical
def test_the_tolerance_limit_holds_as_often_as_it_says(asked, seed):
    rng = np.random.default_rng(seed)
    held, series = 0, 300
    for _ in range(series):
        ends = {f"T{i}": ("", end) for i, end in enumerate(rng.normal(0.8, 0.04, 6))}
        (found,) = asked(long=table(ends)).elements[0].remaining
        held += found.limit <= 0.8 + 0.04 * stats.norm.ppf(0.01)
    assert stats.binomtest(held, series, 0.95).pvalue > 1e-3
    assert stats.binomtest(held, series, 0.85).pvalue < 1e-3
