"""A case over time: up to a time of service, at it, with or without what is done in it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from preloadmc.case import Case
from preloadmc.chance.laws import Constant, Law
from preloadmc.inputs import again_input, input_kind
from preloadmc.joint import CHECK, REPLACE, RETIGHTEN, Action, Joint, Method, Service

CHANGE = "friction.change_per_tightening"
# What is new where a fastener is replaced; of the setting itself nothing is.
_NEW = ("tool", "friction", "strength", "settling")
_OWN = ("again.", "settling.over_time.", "service.")


def redrawn(laws: Mapping[str, Law], method: Method, does: str) -> tuple[str, ...]:
    """Return the inputs that are new in an action of service: of the tool, or of the fastener."""
    groups = _NEW if does == REPLACE else ("tool",)
    kept = {"tightening.bias", CHANGE}
    if not method.holds_friction:
        kept.add(method.setting_input)
    return tuple(
        name
        for name, law in laws.items()
        if input_kind(name).group in groups
        and name not in kept
        and not name.startswith(_OWN)
        and not isinstance(law, Constant)
    )


def drawn_anew(
    place: int,
    names: Collection[str],
    laws: Mapping[str, Law],
    correlations: Mapping[tuple[str, str], float],
) -> tuple[dict[str, Law], dict[tuple[str, str], float]]:
    """Return laws and correlations of what an action draws anew: those of assembly."""
    return (
        {again_input(place, name): laws[name] for name in names},
        {
            (again_input(place, first), again_input(place, second)): rho
            for (first, second), rho in correlations.items()
            if first in names and second in names
        },
    )


def tightens_again(method: Method) -> bool:
    """Return whether a method tells what it makes of a fastener that is tight already."""
    return not (method.stops_at_angle or method.holds_friction)


def until(case: Case, time: float, moments: Collection[float] | None = None) -> Case:
    """Return a case, its exceptions and its alternatives up to a time of service [s].

    What is looked at before are other ``moments`` [s] than its own, where some are given.
    """
    service = service_of(case.joint)
    if moments is not None:
        service = replace(service, times=tuple(moments))
    return _with_service(case, service.until(time))


def at(case: Case, time: float) -> Case:
    """Return a case of which only what holds at a time of service [s] is judged."""
    return _with_service(case, replace(service_of(case.joint).until(time), only_end=True))


def without_actions(case: Case) -> Case:
    """Return a case in whose service nothing is done."""
    return _with_service(case, replace(service_of(case.joint), actions=()))


def with_checks_read(case: Case) -> Case:
    """Return a case whose checks in service are read, and lead to nothing.

    Which fasteners a check has retightened depends on the setting in steps.
    """
    service = service_of(case.joint)
    if all(each.pass_torque is None for each in service.actions):
        return case
    actions = tuple(replace(each, pass_torque=None) for each in service.actions)
    return _with_service(case, replace(service, actions=actions))


def with_action(case: Case, time: float, does: str) -> Case:
    """Return a case in whose service something is done at one more time [s].

    Its tool, or its fastener, is drawn anew then, by the laws of assembly.
    """
    service = service_of(case.joint)
    place = 1 + max((each.place for each in service.actions), default=0)
    names = redrawn(case.laws, case.joint.method, does)
    action = Action(place, time, does, None, names)
    actions = tuple(sorted((*service.actions, action), key=lambda each: each.at))
    made = _with_service(case, replace(service, actions=actions))
    again, pairs = drawn_anew(place, names, case.laws, case.correlations)
    return replace(made, laws={**made.laws, **again}, correlations={**made.correlations, **pairs})


def planned_cost(case: Case) -> float:
    """Return what the actions of service cost a fastener, without what checks have retightened."""
    cost = case.cost
    if cost is None:
        return 0.0
    prices = {
        CHECK: cost.per_check,
        RETIGHTEN: cost.per_retightening,
        REPLACE: cost.per_replacement,
    }
    return sum(prices[action.does] for action in service_of(case.joint).actions)


def service_of(joint: Joint) -> Service:
    """Return the service of a joint; where nothing is said of it, one in which it only lasts."""
    return joint.service or Service((), (), (), joint.all_states, ())


def _with_service(case: Case, service: Service) -> Case:
    group = case.group
    if group is not None:
        exceptions = tuple(
            (places, replace(other, joint=replace(other.joint, service=service)))
            for places, other in group.exceptions
        )
        group = replace(group, exceptions=exceptions)
    return replace(
        case,
        joint=replace(case.joint, service=service),
        group=group,
        alternatives=tuple(_as_long(each, service) for each in case.alternatives),
    )


def _as_long(case: Case, service: Service) -> Case:
    """Return an alternative up to the same time: what is done in its service is its own."""
    own = replace(service_of(case.joint), times=service.times, only_end=service.only_end)
    return _with_service(case, own.until(service.times[-1]) if service.times else own)
