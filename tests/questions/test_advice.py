"""Following the advice breaks no limit that the program knows: sampled anew, on random joints.

`ADVICE_CASES` in the environment sets how many random joints are tried.
"""

import os

import pytest
from random_joints import random_joint
from scipy.stats import binom

from preloadmc import aim, compare, load_case
from preloadmc.engine import OUTCOMES, sample
from preloadmc.judgement.verdicts import MEETS
from preloadmc.limits import allowed_for
from preloadmc.questions.aim import case_at

CASES = int(os.environ.get("ADVICE_CASES", "12"))
# Four times what a judgement draws. An allowed probability of 1e-4 shows 105 misses in it.
SAMPLES = 2**20
# More misses than these come by chance once in a million checks.
RARE = 1e-6


def broken(case):
    """The limits that plain samples of a case show to be missed more often than allowed."""
    drawn = sample(case, seed=987, samples=SAMPLES, precision=None, threads=2)
    requirement = case.requirement
    allowed = dict(
        zip(OUTCOMES, (requirement.allowed_under, requirement.allowed_over), strict=False)
    )
    for limit in drawn.limits:
        if not limit.sides:
            allowed[limit.name] = allowed_for(case.joint, requirement, limit)
    return {
        name: (drawn.misses[name] / drawn.n, most)
        for name, most in allowed.items()
        if most is not None and binom.sf(drawn.misses[name] - 1, drawn.n, most) < RARE
    }


def doubtful_figures(judged):
    """The figures of estimates in doubt, as they would be printed."""
    return [
        f"{100 * each.probability.value:.3g}"
        for each in judged
        if not each.probability.reliable and each.probability.value > 0.0
    ]


def shipped(request):
    return [
        load_case(path)
        for path in sorted((request.config.rootpath / "cases").glob("*.toml"))
        if path.stem != "loosened_cover"
    ]


@pytest.fixture
def random_case(write_case):
    def make(seed, **more):
        return load_case(write_case({"joint": None, **random_joint(seed), **more}))

    return make


def check_aim(case):
    result = aim(case)
    lowest, highest = result.aim.misses[0].min(), result.aim.misses[0].max()
    if result.to_set is None:
        assert "recommended" in result.answer[2] or "no set" in result.answer[2]
        return False
    assert result.to_set.judged.verdict == MEETS
    settings = [result.to_set]
    if result.interval_limits is not None:
        settings += result.interval_limits
    for at in settings:
        assert lowest <= at.setting <= highest
        assert broken(case_at(case, at.setting)) == {}
    for at in settings:
        for each in at.judged:
            if each.allowed is not None:
                assert each.known.high <= each.allowed, (each.name, at.setting)
    return True


@pytest.mark.slow
def test_what_aim_recommends_holds_on_shipped_cases(request):
    assert sum(check_aim(case) for case in shipped(request)) >= 3


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(CASES))
def test_what_aim_recommends_holds(random_case, seed):
    check_aim(random_case(seed))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(CASES))
def test_what_compare_recommends_holds(random_case, seed):
    cost = {"per_joint": 1.0, "per_under": 200.0, "per_over": 100.0}
    tool = {"name": "better tool", "tightening": {"tool": {"law": "normal", "cov": "1.5 %"}}}
    tool["cost"] = {"per_joint": 1.2}
    stronger = {"name": "stronger", "fastener": {"property_class": "12.9"}}
    case = random_case(seed, cost=cost, alternative=[tool, stronger])
    for at_best in (False, True):
        result = compare(case, at_best=at_best)
        best = result.choice.best
        if best is None:
            assert "choose none" in result.answer[2] or "each of these" in result.answer[2]
        for place in result.choice.meeting if best is None else (best,):
            assert broken(result.alternatives[place].case) == {}
        for each in result.alternatives:
            for figure in doubtful_figures(each.judged):
                assert not any(f" {figure} " in line for line in result.answer[:2]), figure
