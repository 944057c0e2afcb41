"""What aiming recommends is checked: by other random numbers, and where estimates are in doubt."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from closed_joints import (
    WIDTH,
    K,
    lognormal_joint,
    lognormal_shares,
)
from judgements import MEETS, MISSES, UNSURE, doubted, judgement, limit
from scipy.special import ndtri

from preloadmc import aim, load_case
from preloadmc.errors import EstimateError
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.judgement import judge
from preloadmc.judgement.headline import headline_words
from preloadmc.judgement.wording import probability_words
from preloadmc.questions.aim import question, setting_words
from preloadmc.questions.aim.answer import aim_answer
from preloadmc.questions.aim.question import agree
from preloadmc.questions.aim.records import JudgedSetting
from preloadmc.questions.aim.setting import Setting
from preloadmc.report.text.aim import aim_text

UNCONFIRMED = (
    " Search and independent check disagree: the report has both, and no justification is made of "
    "them."
)
DOUBTFUL = Probability(
    4.321e-4, 4.2e-4, 4.5e-4, 0.95, "importance", 100, 100, reliable=False, note="heavy weights"
)


@pytest.fixture
def lognormal(make_case):
    """A function that returns the lognormal joint with what is allowed of each side."""
    return lambda *allowed, **more: lognormal_joint(make_case, *allowed, **more)


def test_a_margin_that_turns_is_refused(lognormal, monkeypatch):
    moved = Setting.moved

    def turning(self, values, to):
        # Falls from 1.1 to 1.3 times the present setting, between those of the window.
        share = to / self.present
        return moved(self, values, self.present * (share + 0.3 * np.sin(8.0 * share)))

    monkeypatch.setattr(Setting, "moved", turning)
    with pytest.raises(EstimateError, match="does not run one way with the set torque"):
        aim(lognormal(1e-3, 1e-3))


def test_the_verification_catches_a_wrong_setting(lognormal, monkeypatch):
    """The curve believes the tool to give 4 % more than the case makes of the same setting.

    What is told of the setting is what the check finds, which is what the closed form gives.
    """
    sound = aim(lognormal(1e-4, 1e-4))
    assert UNCONFIRMED not in sound.answer[2]
    assert sound.to_set.judged is not sound.verification.judged
    moved = Setting.moved
    monkeypatch.setattr(Setting, "moved", lambda self, x, to: moved(self, x, 1.04 * to))
    result = aim(lognormal(1e-4, 1e-4))
    assert result.verification.agrees == (False, False)
    assert not result.verification.confirmed
    assert result.answer[2].endswith(UNCONFIRMED)
    assert result.to_set.judged is result.verification.judged
    exact = [float(part[0]) for part in lognormal_shares(result.to_set.setting)]
    believed = [float(part[0]) for part in lognormal_shares(1.04 * result.to_set.setting)]
    told = result.looked_at.judged.sides
    for side, by_search, found, wrong in zip(
        told, result.verification.by_search, exact, believed, strict=True
    ):
        assert side.probability.value == pytest.approx(found, rel=0.25)
        assert by_search.value == pytest.approx(wrong, rel=0.25)
        assert side.words in aim_text(result)
    # The table shows what does not agree, not one figure twice.
    lines = [line for line in aim_text(result).splitlines() if line.endswith("  DISAGREES")]
    assert len(lines) == 2
    for line, side, by_search in zip(lines, told, result.verification.by_search, strict=True):
        words = [probability_words(each) for each in (by_search, side.probability)]
        assert words[0] != words[1]
        assert words[0] in line.partition(words[1])[0]


def test_a_setting_that_is_missed_anew_is_not_recommended(lognormal, monkeypatch):
    """The search thinks all torques 15 % higher than they are: what meets then is too loose."""
    moved = Setting.moved
    monkeypatch.setattr(Setting, "moved", lambda self, x, to: moved(self, x, 1.15 * to))
    result = aim(lognormal(1e-4, 1e-4))
    assert result.to_set is None
    assert (result.aim.verdict, result.aim.interval) == ("misses", None)
    assert result.answer[1] == (
        "What limits: too little preload (minimum preload, settled) is missed at every set torque."
    )
    assert result.answer[2].endswith(UNCONFIRMED)
    assert result.looked_at.judged is result.verification.judged


@pytest.mark.slow
def test_the_shipped_cases_are_confirmed(case_files):
    for path in case_files:
        assert aim(load_case(path)).verification.confirmed


def test_a_doubtful_limit_is_neither_told_nor_met(lognormal, monkeypatch):
    monkeypatch.setattr(
        judge, "tail_probability", lambda *_, **__: SimpleNamespace(probability=DOUBTFUL)
    )
    result = aim(lognormal(1e-6, 1e-4))
    back_off = result.looked_at.judged.named("spontaneous back-off")
    assert (back_off.probability, back_off.verdict) == (DOUBTFUL, "not resolved")
    assert result.to_set is None
    assert not any("432" in line for line in result.answer)
    assert result.answer[1] == (
        "What limits: whether spontaneous back-off is within what is allowed is not resolved at "
        "the settings that come nearest."
    )
    at = setting_words(result.setting, result.looked_at.setting, "metric")
    assert result.answer[2].startswith(
        "What to set: nothing is recommended, since no set torque is sure to meet every limit "
        f'(heavy weights); set it to about {at} in the case and run that with --precision "1 %" to '
        f"resolve it; weighted misses are least at about {at}, which is no recommendation."
    )
    # The table shows it with its doubt.
    assert "432 per million (420 to 450) ?" in aim_text(result)


def test_a_doubtful_side_is_judged_by_plain_samples(lognormal, monkeypatch):
    """Weights in doubt give way to plain samples: their figures stand in no line."""
    sound = question.estimates_at

    def doubtful(*arguments):
        return {**sound(*arguments), "under_preload": DOUBTFUL}

    monkeypatch.setattr(question, "estimates_at", doubtful)
    result = aim(lognormal(1e-2, 1e-2))
    assert not any("432" in line for line in result.answer)
    assert result.present.judged.under.probability.method == "plain"
    assert "432 per million (420 to 450) ?" in aim_text(result)


def test_the_lines_tell_no_figure_in_doubt(lognormal):
    """Whatever is in doubt at the settings told of: as a range, or by plain samples."""
    doubtful = doubted(from_counts(4_321, 100_000))
    judged = judgement(
        MEETS,
        doubted(MISSES),
        limit("pressure under head", doubtful, kind="pressure", plain=from_counts(0, 100)),
    )
    words = headline_words(judged)
    # 5,000 of 100,000 miss one in a hundred for sure: 5 % +- 1.96 sqrt(0.05 0.95/100,000).
    assert headline_words(replace(judged, limits=judged.limits[:2])) == (
        "too much preload: between 4.87 and 5.14 %"
    )
    # Nothing comes nearer to what is allowed, by its upper limit, than what is hardly sampled.
    assert "4.3" not in words
    # 1,000 of them do not tell: 1 % +- 1.96 sqrt(0.01 0.99/100,000).
    unsure = headline_words(judgement(doubted(UNSURE), MEETS))
    assert "too little preload: not resolved: between 0.939 and 1.06 %" in unsure
    result = aim(lognormal(1e-3, 1e-3))
    told = replace(
        result, present=JudgedSetting(80e3, judged), looked_at=JudgedSetting(80e3, judged)
    )
    assert not any("4.3" in line for line in aim_answer(told))


@pytest.mark.slow
@pytest.mark.parametrize("allowed", [(1e-2, 1e-3), (1e-6, 1e-4), (1e-4, 1e-4)])
def test_a_recommendation_hardly_depends_on_the_seed(lognormal, allowed):
    """Of 20 seeds none recommends a setting further off than the coarsest is rounded."""
    case = lognormal(*allowed)
    found = [aim(case, seed=seed) for seed in range(20)]
    settings = [result.to_set.setting / 1e3 for result in found if result.to_set is not None]
    assert all("not resolved" in result.answer[1] for result in found if result.to_set is None)
    assert len(settings) >= 19
    assert max(settings) - min(settings) <= max(map(rounded_to, settings)) + 1e-9


def rounded_to(setting):
    """The coarsest of 50, 10, 5 ... that a setting is a multiple of."""
    return next(
        step
        for step in (50.0, 10.0, 5.0, 1.0, 0.5, 0.1, 0.05, 0.01)
        if abs(setting / step - round(setting / step)) < 1e-6
    )


def estimate(value, spread):
    return Probability(value, value / spread, value * spread, 0.95, "importance", 100, 100)


def test_estimates_agree_within_their_scatter():
    assert agree(estimate(1e-4, 1.2), estimate(1.3e-4, 1.2))
    assert not agree(estimate(1e-4, 1.2), estimate(1.7e-4, 1.2))
    # Half of a 95 % interval is 1.96 s.d.: 3.3 of both together are a factor of
    # exp(3.3 sqrt 2 ln 1.2/1.96) = 1.544, or of 1.530 with two s.d. in its place.
    assert agree(estimate(1e-4, 1.2), estimate(1.52e-4, 1.2))
    assert not agree(estimate(1e-4, 1.2), estimate(1.55e-4, 1.2))
    bound = from_counts(0, 10_000)
    assert agree(bound, estimate(1e-5, 1.2))
    assert agree(estimate(1e-5, 1.2), bound)
    assert not agree(estimate(1e-2, 1.2), bound)
    near_one = Probability(0.99998, 0.999, 1.0, 0.95, "importance", 100, 100)
    assert agree(near_one, from_counts(9_995, 10_000))
    assert not agree(near_one, from_counts(9_900, 10_000))


def test_an_unbounded_miss_is_checked_by_plain_samples(make_case):
    """Beyond what any estimator finds, the check says how rare it must be at least."""
    friction = {"friction.nut_factor": {"law": "lognormal", "mean": K, "cov": "1 %"}}
    result = aim(lognormal_joint(make_case, 1e-4, 1e-4, **friction))
    for outcome in result.verification.judged.sides:
        assert (outcome.probability.misses, outcome.probability.samples) == (0, 2**18)
        # 1 - 0.025^(1/n): Clopper-Pearson without a miss.
        assert outcome.probability.high == pytest.approx(-math.expm1(math.log(0.025) / 2**18))
    assert result.verification.confirmed
    # A cov of 9.8 % would do, more than five times as much: ln(62/30)/(2 x 3.72) = 0.0976.
    assert WIDTH / (-2.0 * ndtri(1e-4)) > 0.05
    found = result.room.of("friction")
    assert (found.verdict, found.factor) == ("followed", 5.0)


@pytest.mark.slow
def test_a_window_far_wider_than_the_scatter_is_not_left_open(make_case):
    """36 standard deviations to each side: 14 per million by plain samples would not do for 1e-6.

    P(|z| > 4.9) = 9e-7 does, with one input.
    """
    friction = {"friction.nut_factor": {"law": "lognormal", "mean": K, "cov": "1 %"}}
    result = aim(lognormal_joint(make_case, 1e-6, 1e-6, **friction))
    for outcome in result.verification.judged.sides:
        assert (outcome.probability.misses, outcome.verdict) == (0, "meets")
        assert 5e-7 < outcome.probability.high < 1e-6
        assert outcome.probability.note == "no miss found within 4.9 s.d."
    assert result.to_set is not None
    assert result.verification.confirmed
