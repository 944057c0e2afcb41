"""The joint in service: creep by age, the states as they come, retightening and checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from preloadmc.inputs import again_input
from preloadmc.joint.assembly import assemble
from preloadmc.joint.facts import Joint
from preloadmc.joint.heat import temperature_of_fastener, temperature_of_layer
from preloadmc.joint.judged_state import JudgedState, elastic_state
from preloadmc.joint.plan import CHECK, REPLACE, SETTLED, Action, Creep, Instant, Service
from preloadmc.joint.quantities import torques_at_rest, total_compliance
from preloadmc.joint.tightened import Assembly, Inputs
from preloadmc.mechanics import creep, hardening, losses
from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class Checked:
    """A check by torque: what it ``reads`` [N·mm] on a joint that ``held`` a preload [N].

    ``fails`` tells where the fastener turned before the pass limit.
    """

    action: Action
    reads: FloatLike
    held: FloatLike
    fails: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Retightened:
    """The force that the wrench of an action ``reached`` [N], as if the fastener were loose.

    ``name`` is that of the settled state then; a fastener that is tighter holds more. The
    ``yield_preload`` [N] goes with the torsion of this tightening; None where no strength is known.
    """

    name: str
    reached: FloatLike
    yield_preload: FloatLike | None


@dataclass(frozen=True, slots=True)
class _Base:
    """A fastener since its last tightening, arrays (n,) or floats.

    ``preload`` [N] is what it had settled to; of what creep has taken by now, ``lost`` had gone
    before. ``born`` are the ages [s] of each creep when the fastener was new; ``stretched`` [mm] is
    its plastic elongation since. ``x`` are the inputs of the fastener that is in now, which was
    tightened so often ``before``, checks apart.
    """

    x: Inputs
    before: FloatLike
    made: Assembly
    preload: FloatLike
    lost: FloatLike
    born: Mapping[str, FloatLike]
    stretched: FloatLike

    def elastic_at(self, lost: FloatLike) -> FloatLike:
        """Return the preload of a joint that never yields [N], once creep has taken a share."""
        return self.preload * (1.0 - (lost - self.lost))


def later_states(
    joint: Joint, plan: Service, x: Inputs, made: Assembly, settled: FloatLike, stretched: FloatLike
) -> tuple[list[JudgedState], list[Retightened], list[Checked]]:
    """Follow a settled joint through its service.

    Parameters
    ----------
    joint, plan : Joint, Service
        Its facts; its service, with times.
    x : mapping of str to float or ndarray (n,)
        Inputs by name.
    made : Assembly
        The joint just tightened.
    settled : float or ndarray (n,)
        Preload settled [N].
    stretched : float or ndarray (n,)
        Plastic elongation that its first states cost [mm].

    Returns
    -------
    list of JudgedState, list of Retightened, list of Checked
        The states at the moments of `Service.judged`, and what each action does.

    Notes
    -----
    Creep takes a share of the settled preload that grows with its age, which retightening leaves as
    it is: after a retightening at t1 the loss is ``L(t) - L(t1)``. Interfaces that have embedded do
    so once; a fastener that is replaced settles anew and begins at age zero. A torque turns a
    fastener on only where it asks for more preload than there is.
    """
    like: dict[str, JudgedState] = {}
    born = {each.name: 0.0 for each in plan.creep}
    base = _Base(x, joint.tightened_before, made, settled, 0.0, born, stretched)
    states: list[JudgedState] = []
    retightened: list[Retightened] = []
    checks: list[Checked] = []
    for instant in plan.instants:
        if instant.after and instant.action is not None:
            base, tightened, checked = _act(joint, plan, x, instant.action, base)
            retightened.append(tightened)
            if checked is not None:
                checks.append(checked)
        now = base.elastic_at(_lost(joint, plan, x, base, instant.time))
        found = []
        for state, name in zip(instant.states, instant.names, strict=True):
            found.append(elastic_state(joint, x, base.made, state, now, like.get(state), name))
            like.setdefault(state, found[-1])
        base, found = _stretched_on(base, found)
        states += found
    return states, retightened, checks


def _lost(joint: Joint, plan: Service, x: Inputs, base: _Base, time: float) -> FloatLike:
    """Return the share of the preload that creep has taken by a time, all of its kinds added."""
    lost: FloatLike = 0.0
    for each in plan.creep:
        age = age_of(joint, plan, each, x, time) - base.born[each.name]
        lost = lost + creep.log_time_loss(x[each.rate_input], age, each.reference)
    return lost


def age_of(joint: Joint, plan: Service, kind: Creep, x: Inputs, time: float) -> FloatLike:
    """Return how old creep is by a time of service [s], at the pace of its tests.

    A state in which it is warmer counts for longer, if it depends on temperature. In what no state
    takes of the time, the joint is at the temperature of assembly.
    """
    if kind.state:
        spell = plan.spell(kind.state)
        assert spell is not None, "the case file asks how long the state lasts"
        return spell.lasted(time) * _pace(joint, kind, x, kind.state)
    if kind.temperature is None:
        return time
    age: FloatLike = 0.0
    left = time
    for spell in plan.spells:
        lasted = spell.lasted(time)
        age = age + lasted * _pace(joint, kind, x, spell.state)
        left -= lasted
    return age + max(left, 0.0) * _pace(joint, kind, x, SETTLED)


def _pace(joint: Joint, kind: Creep, x: Inputs, state: str) -> FloatLike:
    """Return how much faster than in its tests creep ages in a state: by its warmest part."""
    if kind.temperature is None or kind.doubling is None:
        return 1.0
    warmest = temperature_of_fastener(joint, x, state)
    for place in range(1, len(joint.parts) + 1):
        warmest = np.maximum(warmest, temperature_of_layer(joint, x, state, place))
    return creep.ageing_factor(warmest, kind.temperature, kind.doubling)


def _stretched_on(base: _Base, states: Sequence[JudgedState]) -> tuple[_Base, list[JudgedState]]:
    """Return the states without what yield has cost by then, in any of them or before."""
    stretched = base.stretched
    for state in states:
        if state.yields_at is not None:
            stretched = np.maximum(
                stretched,
                hardening.plastic_elongation_from_excess(
                    state.largest, state.yields_at, state.compliance
                ),
            )
    found = [
        replace(state, lost=stretched, preload=state.largest - stretched / state.compliance)
        for state in states
    ]
    return replace(base, stretched=stretched), found


def _act(
    joint: Joint, plan: Service, x: Inputs, action: Action, base: _Base
) -> tuple[_Base, Retightened, Checked | None]:
    """Return the fastener after an action, its tightening, and the check where it is one."""
    lost = _lost(joint, plan, x, base, action.at)
    elastic = base.elastic_at(lost)
    held = losses.not_below_zero(elastic - base.stretched / total_compliance(x))
    again = {**base.x, **{name: x[again_input(action.place, name)] for name in action.redrawn}}
    if action.does == REPLACE:
        made = assemble(replace(joint, tightened_before=0), again)
        settled = losses.preload_after_settling(
            made.preload,
            losses.embedding_force(again["settling.embedding"], total_compliance(again)),
            again["settling.relaxation"],
        )
        born = {each.name: age_of(joint, plan, each, x, action.at) for each in plan.creep}
        then = _Base(again, 0, made, settled, 0.0, born, 0.0)
        return then, _retightened(action, made, np.asarray(True)), None
    made = assemble(replace(joint, tightened_before=base.before + 1), again)
    checked = None
    tried = np.asarray(True)
    if action.does == CHECK:
        checked = _check(joint, action, base, held)
        tried = checked.fails
    turns = tried & (np.asarray(made.preload) > held)
    then = _Base(
        base.x,
        np.asarray(base.before + turns, dtype=float),
        _where(turns, made, base.made),
        np.where(turns, made.preload, base.preload),
        np.where(turns, lost, base.lost),
        base.born,
        np.where(turns, 0.0, base.stretched),
    )
    return then, _retightened(action, made, tried), checked


def _retightened(action: Action, new: Assembly, tried: NDArray[np.bool_]) -> Retightened:
    """Return the force that a wrench alone would reach; none where none is set on."""
    return Retightened(_after(action), np.where(tried, new.peak, 0.0), new.yield_preload)


@lru_cache(maxsize=256)
def _after(action: Action) -> str:
    """Return what the settled state is called right after an action."""
    return Instant(action.at, (), action, after=True).named(SETTLED)


def _check(joint: Joint, action: Action, base: _Base, held: FloatLike) -> Checked:
    """Return what a torque wrench reads as the fastener starts to turn on."""
    x = base.x
    assert base.made.per_preload is not None, "the case file asks for the frictions"
    ratio = x[action.input("breakaway_ratio")]
    tightened = replace(joint, tightened_before=base.before)
    on, _ = torques_at_rest(tightened, x, base.made.per_preload, ratio)
    reads = (held * on + x["tightening.prevailing_torque"]) * x[action.input("reading")]
    limit = 0.0 if action.pass_torque is None else action.pass_torque
    return Checked(action, reads, held, np.asarray(reads) < limit)


def _where(turns: NDArray[np.bool_], new: Assembly, old: Assembly) -> Assembly:
    """Return the last tightening of each fastener."""

    def chosen(one: FloatLike | None, other: FloatLike | None) -> FloatLike | None:
        return None if one is None or other is None else np.where(turns, one, other)

    return replace(
        old,
        peak=np.where(turns, new.peak, old.peak),
        later_yield=chosen(new.later_yield, old.later_yield),
        per_preload=chosen(new.per_preload, old.per_preload),
    )
