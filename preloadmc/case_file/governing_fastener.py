"""Which fastener of a joint stands for one fastener: the one with least to spare nominally."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from preloadmc.case import Case, Group
from preloadmc.case_file.sections.group import StatedGroup
from preloadmc.chance.tested_law import Tested
from preloadmc.joint import assemble, evaluate, interaction_loss
from preloadmc.limits import ABOVE, margins


def with_group(
    case: Case, stated: StatedGroup, fractions: Mapping[str, float], levels: Mapping[str, str]
) -> Case:
    """Return the case as one of a group, of its governing fastener.

    Parameters
    ----------
    case : Case
        The case without its group.
    stated : StatedGroup
        What the case says of it.
    fractions, levels : mapping of str to float, mapping of str to str
        Share of the variance of each input that the fasteners have in common, and by what.
    """
    facts = stated.facts
    group = Group(
        facts,
        0,
        fractions,
        levels,
        stated.at_least,
        stated.allowed,
        stated.spread,
        stated.lot_share,
    )
    return governed(replace(case, group=group))


def governed(case: Case) -> Case:
    """Return a case with a group as that of the fastener with least to spare nominally.

    A fastener that differs has laws of another case: it stands for one only where all differ.
    """
    group = case.group
    assert group is not None, "a case with a group"
    differ = {fastener for fasteners, _ in group.exceptions for fastener in fasteners}
    looked_at = set(range(group.n)) - differ or differ
    lost = np.round(interaction_loss(group.facts), 9)
    # Fasteners of one station that lose alike are alike; the first of them is looked at.
    distinct = {
        (station, float(lost[fastener])): fastener
        for station, members in enumerate(group.facts.stations)
        for fastener in reversed(members)
        if fastener in looked_at
    }
    of_each = [
        replace(case, group=replace(group, governing=fastener))
        for fastener in sorted(distinct.values())
    ]
    found = min(of_each, key=_least_to_spare)
    return _with_neighbours(found) if group.facts.interacts else found


def _with_neighbours(case: Case) -> Case:
    """Return a case with what is typical of the preloads of its fasteners, and how alike they are.

    Each input's part of the variance is that of its own normal number, from one standard deviation
    below to one above.
    """
    group, joint = case.group, case.joint
    assert group is not None, "a case with a group"
    columns = case.uncertain
    z = np.concatenate([np.zeros((1, len(columns))), np.eye(len(columns)), -np.eye(len(columns))])
    x = case.inputs(z, columns)
    preload = np.broadcast_to(assemble(joint, x).preload, len(z))
    _, above, below = np.split(preload, [1, 1 + len(columns)])
    parts = (0.5 * (above - below)) ** 2
    common = np.array([_common(case, name) for name in columns])
    setting = float(np.broadcast_to(x[joint.method.setting_input], len(z))[0])
    return replace(
        case,
        group=replace(
            group,
            alike=float(common @ parts / max(parts.sum(), 1e-300)),
            typical=float(preload[0]) / setting,
        ),
    )


def _common(case: Case, name: str) -> float:
    """Return the share of an input's variance that is common, with what tests leave open."""
    assert case.group is not None, "a case with a group"
    fraction, law = case.group.fractions[name], case.laws[name]
    if isinstance(law, Tested):
        return fraction + (1.0 - fraction) * law.knowledge.common_share
    return fraction


def _least_to_spare(case: Case) -> tuple[float, ...]:
    """Return the margins of what asks for more preload over what is asked, the smallest first."""
    x = case.means
    found = margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=True)
    shares = [
        round(float(margin.values) / float(margin.reference), 9)
        for margin in found
        if float(margin.reference) > 0.0 and margin.limit.kind.sense == ABOVE
    ]
    # A limit that asks for nothing has any to spare.
    return (*sorted(shares), math.inf)
