"""Preload over the service of a joint: creep by its age, and what actions leave."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.case import Case
from preloadmc.joint import SETTLED, Inputs, State, age_of
from preloadmc.mechanics import creep
from preloadmc.steps import Step, Value, force, percent, ratio
from preloadmc.units import FORCE, PERCENT, time_words


def over_time_steps(case: Case, x: Inputs, state: State) -> Iterator[Step]:
    """Share lost to each kind of creep at each moment that decides, and the preload left then."""
    joint = case.joint
    plan = joint.service
    if plan is None or not plan.times:
        return
    acted = False
    for instant in plan.instants:
        name = instant.named(SETTLED)
        left = next((each for each in state.judged if each.name == name), None)
        if left is None:
            continue
        when = name.removeprefix(f"{SETTLED} after ")
        if instant.after or acted:
            acted = True
            yield Step(
                f"Preload after {when}",
                "F_t",
                "",
                (),
                float(left.from_),
                FORCE,
                "what was done, and creep since: age is kept, but for a fastener that is replaced",
            )
            continue
        shares: list[Value] = []
        for place, kind in enumerate(plan.creep, 1):
            age = float(age_of(joint, plan, kind, x, instant.time))
            rate = x[kind.rate_input]
            lost = float(creep.log_time_loss(rate, age, kind.reference))
            shares.append(percent(f"L_{place}", lost))
            yield Step(
                f"Share lost to {kind.name} after {when}",
                f"L_{place}",
                f"{{r_{place}}}·log10(1 + {{n_{place}}})",
                (
                    percent(f"r_{place}", rate),
                    ratio(f"n_{place}", age / kind.reference),
                ),
                lost,
                PERCENT,
                "log-time creep",
                f"n_{place}: age over the reference time, {time_words(kind.reference)}.",
            )
        yield Step(
            f"Preload after {when}",
            "F_t",
            "{F_V}·(1" + "".join(f" - {{{share.symbol}}}" for share in shares) + ")",
            (force("F_V", state.settled), *shares),
            float(left.from_),
            FORCE,
            "shares add",
        )
