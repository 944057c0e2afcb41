"""The table [tightening] accept: the window of what the tool reads beside what it controls."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Band, Quantity, Table
from preloadmc.case_file.reading import Stated
from preloadmc.inputs import Default
from preloadmc.joint import MONITORED, Acceptance, Method
from preloadmc.units import TORQUE

_ACCEPT = "tightening.accept"
_READING = f"{_ACCEPT}.reading"
_THRESHOLD = f"{_ACCEPT}.threshold"
_WINDOWS = {name: f"{_ACCEPT}.{name}" for name in MONITORED}
_EXAMPLES = {"angle": '["20 deg", "45 deg"]', "torque": '["60 N·m", "95 N·m"]'}
FIELDS = (
    Field(
        _ACCEPT,
        Table(),
        "window of what the tool reads beside what it controls; a fastener outside is rejected "
        "and tightened again",
    ),
    *(
        Field(
            _WINDOWS[name],
            Band(Quantity(dimension, low=0.0)),
            f"lowest and highest {name} at the end of tightening that is accepted",
            _EXAMPLES[name],
        )
        for name, dimension in MONITORED.items()
    ),
    Field(
        _THRESHOLD,
        Quantity(TORQUE, low=0.0),
        "torque from which the angle counts",
        '"10 N·m"',
        Default(0.0, "0: the angle counts from the first contact of the parts"),
    ),
)


def unread_inputs(stated: Stated) -> frozenset[str]:
    """Return the inputs of [tightening] accept where nothing is accepted or rejected."""
    return frozenset() if _accepts(stated) else frozenset({_READING})


def _accepts(stated: Stated) -> bool:
    return any(path in stated for path in _WINDOWS.values())


def acceptance_of(draft: Draft, method: Method | None) -> Acceptance | None:
    """Return what the tool checks of each fastener; None where it checks nothing."""
    stated = draft.stated
    given = [name for name, path in _WINDOWS.items() if path in stated]
    if not given:
        for path in (_THRESHOLD, _READING):
            if path in stated:
                words = " or ".join(_WINDOWS.values())
                stated.problem(path, f"the window that it belongs to: state {words}")
        return None
    if method is None:
        return None
    monitored, *more = given
    for name in given:
        if name not in method.monitors:
            reads = " or ".join(method.monitors) or "nothing beside what it controls"
            stated.problem(
                _WINDOWS[name], f"remove it: with '{method.name}' the tool monitors {reads}"
            )
    if more:
        stated.problem(_WINDOWS[more[0]], f"remove it: {_WINDOWS[monitored]} is checked already")
    if monitored == "angle":
        draft.assume_default(_THRESHOLD)
        _ask_for_stiffness(draft)
    elif _THRESHOLD in stated:
        stated.problem(_THRESHOLD, "remove it: no angle is checked")
    threshold = stated.known(_THRESHOLD, float)
    if monitored == "torque" or threshold > 0.0:
        _ask_for_friction(draft, method)
    band = stated.get(_WINDOWS[monitored], tuple)
    if band is None:
        return None
    low, high = band
    return Acceptance(monitored, low, high, threshold)


def _ask_for_stiffness(draft: Draft) -> None:
    parts = ("joint.fastener_compliance", "joint.clamped_compliance")
    known = all(name in draft.laws for name in parts) or "joint.compliance" in draft.laws
    if not known and not draft.stated.problems.at("joint", "clamped", "fastener"):
        draft.stated.missing(
            "joint.compliance", "the stiffness that makes an angle, or [[clamped]] layers"
        )


def _ask_for_friction(draft: Draft, method: Method) -> None:
    known = any(draft.mean(f"friction.{key}") for key in ("nut_factor", "bearing", "total"))
    if not known and not method.reads_friction:
        draft.stated.missing(
            "friction.bearing", "friction under the head, which makes the torque; or a nut_factor"
        )
