"""The joint beside its one fastener: preload by fastener and pass, orders, and lots."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import Case
from preloadmc.case_file.governing_fastener import governed
from preloadmc.judgement.joint_events import JointJudgement
from preloadmc.mechanics.interaction import after_each_pass, passes_until, spread
from preloadmc.mechanics.tightening_order import ORDERS, Pass, around
from preloadmc.questions.run.lots import LotShares, lot_shares
from preloadmc.units import Array

# Of preload by fastener: the ends and quarters that a band shows.
JOINT_QUANTILES = (0.01, 0.25, 0.5, 0.75, 0.99)
# Medians of samples closer than this tell no order.
_TIE = 0.005
LINE, RING = ("around", "middle outwards"), ("around", "star")


@dataclass(frozen=True, slots=True)
class OrderTrial:
    """An order of tightening, nominally and with all fasteners alike, in the passes of the case.

    ``least_left`` is the smallest preload left over that of the setting, ``spread`` largest less
    smallest over the mean. ``passes_until_even`` at the full setting make preloads even, None where
    50 do not.
    """

    order: str
    last_round: bool
    tools_at_once: int
    least_left: float
    spread: float
    passes_until_even: int | None
    stated: bool
    sequence: tuple[Pass, ...]

    @property
    def words(self) -> str:
        """Return the order in words."""
        last = ", then a last round at the full setting" if self.last_round else ""
        return f"{self.order}{last}"

    @property
    def numbers(self) -> str:
        """Return the fasteners in their order, from 1; those tightened at once joined by "+"."""
        _, order = self.sequence[0]
        return ", ".join("+".join(str(each + 1) for each in step) for step in order)


@dataclass(frozen=True, slots=True, eq=False)
class JointResult:
    """What a run finds of the joint as a whole.

    ``passes`` (passes, quantiles, n) and ``residual`` (quantiles, n) are quantiles of preload [N]
    by fastener, after each pass and in its least state; ``spreads`` (passes, 2) the median and the
    95 % quantile of the spread of a joint after each pass. ``weakest_place`` is the place, from 0,
    of the fastener with the least median residual preload. ``orders`` are tried where fasteners
    interact.
    """

    judged: JointJudgement
    passes: Array
    residual: Array
    spreads: Array
    weakest_place: int
    orders: tuple[OrderTrial, ...]
    lots: LotShares | None


def joint_result(case: Case, judged: JointJudgement, seed: int) -> JointResult:
    """Return what a run tells of the joint beside its probabilities.

    Parameters
    ----------
    case : Case
        A case with a group.
    judged : JointJudgement
        Its events with the samples behind them.
    seed : int
        Of the draws of lots.
    """
    drawn = judged.samples
    residual = np.quantile(drawn.residual, JOINT_QUANTILES, axis=0)
    return JointResult(
        judged,
        np.moveaxis(np.quantile(drawn.passes, JOINT_QUANTILES, axis=1), 0, 1),
        residual,
        np.quantile(drawn.spreads, (0.5, 0.95), axis=1).T,
        _weakest(case, residual[JOINT_QUANTILES.index(0.5)]),
        tuple(order_trials(case)),
        lot_shares(case, judged, seed),
    )


def _weakest(case: Case, medians: Array) -> int:
    """Return the fastener with the least median preload: the governing one where others tie."""
    assert case.group is not None, "a joint of several fasteners has a group"
    governing = case.group.governing
    least = int(medians.argmin())
    return governing if medians[governing] < (1.0 + _TIE) * medians[least] else least


def order_trials(case: Case) -> Iterator[OrderTrial]:
    """Yield the stated order and the usual ones, each with and without a last round."""
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    facts = group.facts
    if not facts.interacts:
        return
    n = facts.fasteners
    first_round = facts.passes[0][1]
    has_final = len(facts.passes) > 1 and facts.passes[-2][0] == 1.0
    shares = [share for share, _ in (facts.passes[:-1] if has_final else facts.passes)]
    alike = np.ones(n)
    orders = {facts.order_name: first_round}
    for name in LINE if facts.layout == "row" else RING:
        orders.setdefault(name, ORDERS[name](n, facts.tools))
    for name, order in orders.items():
        until = passes_until(alike, facts.coefficients, order, group.spread)
        for final in (False, True):
            passes: list[Pass] = [(share, order) for share in shares]
            if final:
                passes.append((1.0, around(n)))
            left = after_each_pass(alike[None], facts.coefficients, passes)[-1, 0]
            yield OrderTrial(
                name,
                final,
                facts.tools,
                float(left.min()),
                spread(left),
                until,
                name == facts.order_name and final is has_final,
                tuple(passes),
            )


def best_order(orders: Sequence[OrderTrial]) -> OrderTrial | None:
    """Return the order that leaves the least fastener most; None where the stated one does."""
    if not orders:
        return None
    stated = next(each for each in orders if each.stated)

    def worth(each: OrderTrial) -> tuple[float, bool, bool]:
        # Where others leave hardly more, the stated order stays.
        return round(each.least_left, 2), each.stated, each.order == stated.order

    best = max(orders, key=worth)
    return None if best.stated else best


def with_order(case: Case, trial: OrderTrial) -> Case:
    """Return the case tightened in another order."""
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    facts = replace(group.facts, passes=trial.sequence, order_name=trial.order)
    return governed(replace(case, group=replace(group, facts=facts)))
