"""How joints differ from lot to lot: the probability of a joint given its lot and its tool."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.estimates.band import unknown_numbers
from preloadmc.estimates.conditional import conditional_probabilities
from preloadmc.estimates.equicorrelated import group_probability
from preloadmc.judgement.joint_events import JointJudgement
from preloadmc.judgement.likeliest_way import likeliest_way
from preloadmc.units import Array
from preloadmc.whole_joint import WholeJoint

_OF_LOTS = ("lot", "tool")
_QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True, eq=False)
class LotShares:
    """Share of joints that miss in each of many lots, in rising order, for one event.

    A lot is one draw of what lots and tools have in common. ``share_of_lots`` is that of the lots
    in which more than ``asked`` of joints miss; ``differ_by`` are the inputs that lots and tools
    differ by.
    """

    event: str
    misses: Array
    asked: float
    share_of_lots: float
    differ_by: tuple[str, ...]

    @property
    def quantiles(self) -> tuple[float, float, float]:
        """Return the share of joints that miss in a good lot, the median one, and a bad one."""
        low, middle, high = np.quantile(self.misses, _QUANTILES)
        return float(low), float(middle), float(high)


def lot_shares(case: Case, judged: JointJudgement, seed: int) -> LotShares | None:
    """Return how the event that matters most differs from lot to lot.

    None where fasteners have nothing in common by lot or tool, where no design point tells how
    much, and where the probability of the joint itself is in doubt.

    Notes
    -----
    The governing fastener's probability is estimated given each lot; the equicorrelated integral
    makes that of the joint of it, with what fasteners of one joint have in common besides. A common
    factor brings the mean over lots to what was estimated of the joint.
    """
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    events = [each for each in judged.events if each.event.event and each.event.k == 1]
    asked = [each for each in events if each.judged.allowed is not None] or events

    def weight(place: int) -> float:
        one = asked[place].judged
        return one.known.value / (one.allowed or 1.0)

    chosen = asked[max(range(len(asked)), key=weight)]
    assert chosen.event.event is not None, "an event of single fasteners"
    whole = WholeJoint(case)
    of_lots = whole.places(_OF_LOTS)
    if not len(of_lots) or not chosen.judged.probability.reliable or not case.is_smooth:
        return None
    rng = named_rng(seed, "lots")
    way = likeliest_way(whole, chosen.event.event, rng=rng)
    if way is None:
        return None
    rest = np.setdiff1d(np.arange(whole.shared), of_lots)
    columns = len(rest) + whole.own
    left = max(1.0 - float(way.squares[of_lots].sum()), 1e-12)
    common = min(float(way.squares[rest].sum()) / left, 1.0)
    e = unknown_numbers(len(of_lots), rng)

    def given(z: Array, draw: NDArray[np.intp]) -> Array:
        u = np.empty((len(z), whole.shared))
        u[:, of_lots] = e[draw]
        u[:, rest] = z[:, : len(rest)]
        return margins(u, z[:, len(rest) :])

    margins = way.margins

    def start(z: Array) -> Array:
        return np.concatenate([z[rest], z[whole.shared :]])

    found = conditional_probabilities(
        given,
        [
            (
                np.tile(np.concatenate([point.z[rest], point.z[whole.shared :]]), (len(e), 1)),
                point.column,
            )
            for point in way.points
        ],
        len(e),
        columns,
        rng=rng,
    )
    misses = group_probability(np.clip(found.p, 0.0, 1.0), common, group.n, 1)
    mean = float(misses.mean())
    if mean > 0.0:
        misses = np.minimum(misses * (chosen.judged.probability.value / mean), 1.0)
    most = group.lot_share
    return LotShares(
        chosen.event.name,
        np.sort(misses),
        most,
        float(np.mean(misses > most)),
        tuple(dict.fromkeys(whole.shared_names[place] for place in of_lots)),
    )
