"""The joint's life: from assembly through settling to every judged state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.joint.assembly import assemble
from preloadmc.joint.facts import Joint
from preloadmc.joint.group import taken_by_neighbours
from preloadmc.joint.in_service import Checked, Retightened, later_states
from preloadmc.joint.judged_state import JudgedState, elastic_state, preload_for_no_slip
from preloadmc.joint.plan import AFTER_SLIP, SETTLED
from preloadmc.joint.quantities import total_compliance
from preloadmc.joint.tightened import Assembly, Inputs
from preloadmc.mechanics import hardening, losses
from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class State:
    """The joint's life on a block of samples: arrays (n,) or floats, forces in N.

    ``all_tightened`` is the preload once all fasteners of the joint are tightened, ``settled`` that
    before any state of service. Margins are taken from ``assembly`` and
    the judged states, which are not clipped; what a reader sees is ``assembled``, ``held`` and
    ``residual``. ``retightened`` and ``checks`` are what actions in service do.
    """

    assembly: Assembly
    all_tightened: FloatLike
    settled: FloatLike
    judged: tuple[JudgedState, ...]
    retightened: tuple[Retightened, ...] = ()
    checks: tuple[Checked, ...] = ()

    @property
    def assembled(self) -> FloatLike:
        """Return the preload after tightening [N]: none where the fastener broke."""
        return self._intact(losses.not_below_zero(self.assembly.preload))

    @property
    def has_neighbours(self) -> bool:
        """Return whether other fasteners of the joint take preload from this one."""
        return self.all_tightened is not self.assembly.preload

    @property
    def left_by_neighbours(self) -> FloatLike:
        """Return the preload once all fasteners of the joint are tightened [N]."""
        return self._intact(losses.not_below_zero(self.all_tightened))

    def held(self, state: JudgedState) -> FloatLike:
        """Return the least preload that the joint really holds in a state [N]."""
        return self._intact(losses.not_below_zero(state.preload))

    def named(self, name: str) -> JudgedState:
        """Return the judged state of that name."""
        return next(judged for judged in self.judged if judged.name == name)

    def left_of(self, force: FloatLike) -> FloatLike:
        """Return the preload that is left where tightening reaches a force [N].

        A tensioner pulls harder than what it leaves.
        """
        assembly = self.assembly
        left = assembly.preload / assembly.peak if assembly.pulls_harder else 1.0
        return force * left

    @property
    def residual(self) -> FloatLike:
        """Return the sample's smallest preload over the judged states [N]."""
        smallest = self.held(self.judged[0])
        for state in self.judged[1:]:
            smallest = np.minimum(smallest, self.held(state))
        return smallest

    def _intact(self, preload: FloatLike) -> FloatLike:
        assembly = self.assembly
        if assembly.plastic_elongation is not None:
            assert assembly.elongation_at_capacity is not None
            broken = assembly.plastic_elongation > assembly.elongation_at_capacity
        elif assembly.capacity is not None:
            broken = assembly.peak > assembly.capacity
        else:
            return preload
        return np.where(broken, 0.0, preload)


def evaluate(joint: Joint, x: Inputs) -> State:
    """Follow the joint from tightening through settling to every judged state.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.

    Returns
    -------
    State
        Arrays (n,) or floats.
    """
    made = assemble(joint, x)
    held = made.preload
    taken = taken_by_neighbours(joint.method.setting_input, x, held)
    if taken is not None:
        held = held - taken
    settled = losses.preload_after_settling(
        held,
        losses.embedding_force(x["settling.embedding"], total_compliance(x)),
        x["settling.relaxation"],
    )
    plan = joint.service
    followed = plan is not None and bool(plan.times)
    first = plan.first_states if plan is not None and followed else joint.all_states
    elastic = [elastic_state(joint, x, made, state, settled) for state in (SETTLED, *first)]
    judged, stretched = _without_what_yields(joint, elastic)
    if plan is None or not followed:
        return State(made, held, settled, _with_slip(joint, x, judged))
    later, retightened, checks = later_states(joint, plan, x, made, settled, stretched)
    if plan.only_end:
        last = _with_slip(joint, x, tuple(later[-len(plan.judged) :]))
        return State(made, held, settled, last, (), tuple(checks))
    states = _with_slip(joint, x, (*judged, *later))
    return State(made, held, settled, states, tuple(retightened), tuple(checks))


def _with_slip(joint: Joint, x: Inputs, states: tuple[JudgedState, ...]) -> tuple[JudgedState, ...]:
    """Return the states, with the settled one once the parts have slipped where tests tell of it.

    A fastener whose parts slip in any state keeps the share that tests left; any other keeps all.
    """
    if not joint.decays:
        return states
    slips = np.asarray(False)
    for state in states:
        if state.may_slip:
            slips = slips | (np.asarray(state.preload) < preload_for_no_slip(joint, state))
    last = [state for state in states if joint.state_of(state.name) == SETTLED][-1]
    kept = np.where(slips, np.clip(x["securing.remaining"], 0.0, 1.0), 1.0)
    # One that is loose already has nothing to lose.
    left = np.where(np.asarray(last.preload) > 0.0, kept, 1.0) * last.preload
    # Slip itself is judged before.
    after = replace(last, name=AFTER_SLIP, preload=left, largest=left, from_=left, transverse=None)
    return (*states, after)


def _without_what_yields(
    joint: Joint, states: Sequence[JudgedState]
) -> tuple[tuple[JudgedState, ...], FloatLike]:
    """Return the states without the elongation that yield in any of them costs, and that [mm].

    The fastener is ideally plastic: what a state would stretch it beyond yield stays as plastic
    elongation, and only more than that yields again. Whatever the order in which states come, the
    one that stretches it most therefore decides, as soon as it has come once; a state that comes
    only once knows what came before it alone.
    """
    beyond = [
        hardening.plastic_elongation_from_excess(state.largest, state.yields_at, state.compliance)
        for state in states
        if state.yields_at is not None
    ]
    if not beyond:
        return tuple(states), 0.0
    left = []
    for place, state in enumerate(states):
        lost: FloatLike = 0.0
        for elongation in beyond[: place + 1] if state.name in joint.once else beyond:
            lost = np.maximum(lost, elongation)
        left.append(replace(state, lost=lost, preload=state.largest - lost / state.compliance))
    most: FloatLike = 0.0
    for elongation in beyond:
        most = np.maximum(most, elongation)
    return tuple(left), most
