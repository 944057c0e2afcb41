"""The answer in three lines that a manager can read: how likely, what dominates, what to do."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from preloadmc.case import Case
from preloadmc.judgement.acceptance import rejects_words
from preloadmc.judgement.dominates import misses_words
from preloadmc.judgement.headline import unmet_words
from preloadmc.judgement.misses import MissRanking, Unranked
from preloadmc.judgement.next_tests import NextTests, tests_words
from preloadmc.judgement.verdicts import (
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    WORTH_SAYING,
    Judged,
    Judgement,
    state_words,
    unknown_words,
)
from preloadmc.questions.control import NO_HELP, ControlResult, bias_words, control_words
from preloadmc.questions.run.life import LifeResult
from preloadmc.questions.run.whole_joint import OrderTrial
from preloadmc.told import and_words
from preloadmc.units import format_number, time_words

# Where half of the fasteners with too little preload have broken, breaking is what there is to
# say.
MOST_BREAK = 0.5
# Shares of all misses from which one side is said to make nearly all of them, or most.
NEARLY_ALL, MOST = 0.95, 0.6
# A figure of a line, unlike a number in a name such as "layer 1".
_FIGURE = re.compile(r"\d (%|per million|more)|\d x 10")
_WINDOW = ("under_preload", "over_preload", "any_under", "any_over", "any_outside")
_STATED_MINIMUM = "minimum preload"


def answer(
    case: Case,
    judged: Judgement,
    misses: Mapping[str, MissRanking | Unranked],
    control: ControlResult | None,
    *,
    halved_meets: bool = False,
    unbiased_meets: bool = False,
    to_test: Sequence[NextTests] = (),
    order: OrderTrial | None = None,
    life: LifeResult | None = None,
) -> tuple[str, str, str]:
    """Return the three lines.

    Parameters
    ----------
    case : Case
        What was run.
    judged : Judgement
        The verdict on every limit.
    misses : mapping of str to MissRanking or Unranked
        What dominates each side.
    control : ControlResult or None
        What controlling each source of scatter is worth.
    halved_meets : bool
        Whether half the scatter of the leading source was judged anew and meets every limit.
    unbiased_meets : bool
        Whether the case without the tool's bias was judged anew and meets every limit.
    to_test : sequence of NextTests
        Which tests are worth doing, for each limit that more tests may settle.
    order : OrderTrial, optional
        An order of tightening that was judged anew and meets every limit, where the stated one does
        not.
    life : LifeResult, optional
        What becomes of the joint over its service, where times of it are stated.

    Returns
    -------
    tuple of str
        How likely, what dominates, what to do.
    """
    return (
        f"How likely: {_how_likely(case, judged, life)}",
        f"What dominates: {misses_words(misses)}",
        "What to do: "
        f"{_what_to_do(case, judged, control, halved_meets, unbiased_meets, to_test, order, life)}",
    )


def _how_likely(case: Case, judged: Judgement, life: LifeResult | None) -> str:
    """Return one probability with its upper limit, of what kind it is, and what else is missed."""
    outside = next((each for each in judged.of_joint if each.name == "any_outside"), None)
    within = "" if life is None else f" within {time_words(life.end)}"
    if outside is None:
        words = (
            f"{judged.outside.words} of fasteners end outside the preload window{within}"
            f"{judged.outside.limit_words}"
        )
    else:
        words = (
            f"{outside.words} of joints have a fastener outside the preload window{within}"
            f"{outside.limit_words}"
        )
    return f"{case.given_words}, {words}{_kind_words(judged)}{unmet_words(judged, _WINDOW)}."


def _kind_words(judged: Judgement) -> str:
    """Return which side of the window most misses are on; empty where neither is known."""
    if not (judged.under.probability.reliable and judged.over.probability.reliable):
        return ""
    under, over = (side.probability.value for side in judged.sides)
    if judged.outside.is_limited or max(under, over) == 0.0:
        return ""
    much = f"too much preload (above {judged.upper_limit})"
    little = "too little preload"
    if judged.breaking > MOST_BREAK * under:
        little += ", most of them broken during tightening"
    larger, words = (under, little) if under >= over else (over, much)
    if larger >= NEARLY_ALL * (under + over):
        return f", nearly all with {words}"
    if larger >= MOST * (under + over):
        return f", most with {words}"
    return f", some with {little}, some with {much}"


def _what_to_do(
    case: Case,
    judged: Judgement,
    control: ControlResult | None,
    halved_meets: bool,
    unbiased_meets: bool,
    to_test: Sequence[NextTests],
    order: OrderTrial | None,
    life: LifeResult | None,
) -> str:
    bias = bias_words(judged, control) if control is not None and unbiased_meets else ""
    if life is not None and (words := _service_words(judged, life)):
        return words
    first = _setting_words(case, judged, bias, to_test, order) + rejects_words(judged.screening)
    # A line has two figures at most: those of control stand where the setting has none.
    figures = _FIGURE.search(first) is None
    second = (
        ""
        if control is None
        else control_words(judged, control, confirmed=halved_meets, figures=figures)
    )
    # What control is worth is told for the window alone, and of what is known beyond a table.
    of_window = judged.verdict == MEETS or any(
        side.verdict in (MISSES, NOT_RESOLVED) for side in judged.sides
    )
    if judged.verdict == NOT_JUDGED or not of_window or judged.outside.is_limited:
        second = ""
    if judged.verdict == MEETS:
        second = "" if second == NO_HELP else second and f"should misses be rarer still, {second}"
    return f"{first}. {second[0].upper()}{second[1:]}." if second else f"{first}."


def _service_words(judged: Judgement, life: LifeResult) -> str:
    """Return what to do in service, where time alone makes too little preload; empty elsewhere.

    A retightening is advised where the case with it meets every limit to the end of service.
    """
    wrong = judged.with_verdict(MISSES) + judged.with_verdict(NOT_RESOLVED)
    if life.longest is None or life.all_along or {*wrong} != {judged.under}:
        return ""
    held = f"too little preload stays within what is allowed for {time_words(life.longest)} or more"
    tried = [each for each in (life.first_retightening, life.at_longest) if each is not None]
    good = min(
        (each for each in tried if each.verdict == MEETS),
        key=lambda each: each.under.upper,
        default=None,
    )
    unknown = _unknown(judged)
    if life.without is not None:
        planned = (
            f"what is planned takes too little preload from {life.without.words} to "
            f"{judged.under.words} by {time_words(life.end)}, which is not enough"
        )
        other = f"look for a higher setting{_aim}"
        if good is not None:
            other = f"a single retightening at {time_words(good.time)} alone meets every limit"
        return f"{planned}: {other}{unknown}."
    if good is None:
        look = f"inspect by then, or look for a higher setting{_aim}"
        return f"with nothing done, {held}: {look}{unknown}."
    return (
        f"retighten at {time_words(good.time)}: every limit judged is then met to "
        f"{time_words(life.end)}{unknown}. With nothing done, {held}."
    )


def _setting_words(
    case: Case,
    judged: Judgement,
    bias: str,
    to_test: Sequence[NextTests],
    order: OrderTrial | None,
) -> str:
    """Return what to do about the setting: nothing, or which way, and what closes that way."""
    if order is not None:
        return (
            f"tighten in this order: {order.words} ({order.numbers}), in the same passes; every "
            f"limit judged then meets what is allowed{_unknown(judged)}"
        )
    missed, unresolved = (judged.with_verdict(each) for each in (MISSES, NOT_RESOLVED))
    if not missed and unresolved:
        return _unresolved_words(unresolved, to_test)
    if not missed and judged.verdict == MEETS:
        return f"no change needed: every limit judged is within what is allowed{_unknown(judged)}"
    if not missed:
        return state_words(judged)
    breaking = judged.breaking
    if breaking > MOST_BREAK * judged.under.probability.value and breaking > WORTH_SAYING:
        share = format_number(100 * breaking, 2)
        return (
            f"aim lower: {share} % of fasteners break during tightening and hold no preload "
            "(`preloadmc aim` finds the setting)"
        )
    if bias:
        return bias
    return _directions(case, missed, judged)


def _unresolved_words(unresolved: Sequence[Judged], to_test: Sequence[NextTests]) -> str:
    words = []
    sampled = [each for each in unresolved if not each.wants_tests]
    if sampled:
        names = and_words([each.subject for each in sampled])
        # What a tabulated law does not tell, more samples do not tell either.
        from_table = any(each.is_limited for each in sampled)
        more = "test more fasteners" if from_table else 'sample more (--precision "1 %")'
        are = "is" if len(sampled) == 1 else "are"
        words.append(f"{more}: whether {names} {are} within what is allowed is not resolved")
    words += [tests_words(each) for each in to_test]
    of_joint = [each for each in unresolved if each.wants_tests and each.is_of_joint]
    if of_joint:
        names = and_words([each.subject for each in of_joint])
        words.append(f"of the joint {names} {_rests(of_joint)} on too few tests to be resolved")
    return "; ".join(words)


def _rests(limits: Sequence[Judged]) -> str:
    return "rests" if len(limits) == 1 else "rest"


def _directions(case: Case, missed: Sequence[Judged], judged: Judgement) -> str:
    """Return which way the missed limits ask the setting to go, and what stands against it."""
    more = [each for each in missed if each.wants_more is True]
    less = [each for each in missed if each.wants_more is False]
    rest = [each for each in missed if each.wants_more is None]
    words = []
    if more and less:
        words.append(
            f"no setting is likely to serve: {_names(more)} {_asks(more)} more preload, "
            f"{_names(less)} less; reduce scatter or change the joint; `preloadmc aim` tells "
            "what is missing"
        )
    elif more:
        words.append(f"look for a higher setting{_aim}: {_names(more)} {_is_missed(more)}")
        # What misses a limit besides the stated minimum is not helped by a lower one.
        if more == [judged.under] and judged.governing(judged.under).name == _STATED_MINIMUM:
            words.append("or allow a lower preload if the joint can bear it")
    elif less:
        words.append(f"look for a lower setting{_aim}: {_names(less)} {_is_missed(less)}")
    if rest:
        words.append(f"{_names(rest)} {_is_missed(rest)}, at any setting: change the joint")
    return "; ".join(words) + _unknown(judged)


# A recommendation of a direction alone may break a limit on the way.
_aim = " within every limit (`preloadmc aim` finds it, if there is one)"


def _names(limits: Sequence[Judged]) -> str:
    return and_words([each.subject for each in limits])


def _is_missed(limits: Sequence[Judged]) -> str:
    """Return the verb: sides of the window occur, limits are missed."""
    if all(not each.is_limit for each in limits):
        return "occurs too often" if len(limits) == 1 else "occur too often"
    if all(each.is_limit for each in limits):
        return "is missed too often" if len(limits) == 1 else "are missed too often"
    return "are beyond what is allowed"


def _asks(limits: Sequence[Judged]) -> str:
    return "asks for" if len(limits) == 1 else "ask for"


def _unknown(judged: Judgement) -> str:
    words = unknown_words(judged, briefly=True)
    return f" ({words})" if words else ""
