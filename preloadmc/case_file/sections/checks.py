"""What belongs together across the sections of one case, and what is taken for granted there."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.sections.strength import TENSILE, YIELD
from preloadmc.inputs import ALONG, input_kind
from preloadmc.joint import Method
from preloadmc.joint.methods.past_yield import HARDENING_SOURCE, HELD_SOURCE
from preloadmc.mechanics import torsion
from preloadmc.told import Magnitude
from preloadmc.units import ANGLE, TORQUE, format_quantity

# What a turn without scatter takes for granted, by the input that would hold it.
_TURN_TAKEN_AS = {
    "tightening.angle": "the tool is taken to read the angle exactly",
    "tightening.seating_angle": "every joint is taken to seat alike",
}
_STIFFNESS = ("joint.compliance", "joint.fastener_compliance", "joint.clamped_compliance")
_WIND_UP = "wind-up of the shank"
# What the twist is told at [N·mm]: of the size of the torque of a medium fastener.
_TORQUE_OF_TWIST = 100e3


def check_bearing_diameter(draft: Draft, method: Method | None, uses_nut_factor: bool) -> None:
    """The bearing diameter enters the torque equation, and splits a nut factor for torsion."""
    name = "fastener.bearing_diameter"
    if name in draft.laws or draft.stated.problems.at("fastener"):
        return
    if method is not None and method.reads_friction and not uses_nut_factor:
        draft.stated.missing(name, "give it, or bearing_outer_diameter and hole_diameter")
    elif uses_nut_factor and draft.mean(YIELD) is not None and "friction.thread" not in draft.laws:
        draft.stated.missing(
            name,
            "it splits the nut factor for the torsion that goes with yield: give it, or "
            "bearing_outer_diameter and hole_diameter, or [friction] thread",
        )


def check_prevailing_torque(draft: Draft, method: Method | None) -> None:
    """A torque that only turns the nut leaves no preload."""
    name = "tightening.prevailing_torque"
    prevailing = draft.mean(name)
    if method is None or prevailing is None or draft.stated.problems.at("tightening"):
        return
    for control in method.controls:
        set_value = draft.mean(control.input)
        if set_value is None or input_kind(control.input).dimension is not TORQUE:
            continue
        given = set_value * (1.0 + (draft.mean("tightening.bias") or 0.0))
        if prevailing >= given:
            draft.stated.problem(
                name,
                f"a torque below {format_quantity(given, TORQUE, draft.unit_system)}, what the "
                "tool gives on the average: the fastener would turn and never clamp",
            )


def check_total_compliance(draft: Draft, method: Method | None) -> None:
    """A total compliance is enough only where nothing asks for the fastener's own."""
    name = "joint.compliance"
    asked = draft.stated.problems.at("joint", "requirement.minimum_preload")
    if name not in draft.laws or asked:
        return
    words = ""
    if draft.has_law(*ALONG):
        words = "does not say what share of an axial load the fastener takes"
    elif method is not None and method.stretches_fastener:
        words = "does not say how far the fastener stretches"
    if words:
        draft.stated.problems.add(
            name, None, f"fastener_compliance and clamped_compliance: their total {words}"
        )


def check_past_yield(draft: Draft, method: Method | None, weak_length: float | None) -> None:
    """Methods that go past yield need what happens there; a turn below it, where yield is.

    Parameters
    ----------
    draft : Draft
        The case so far.
    method : Method or None
        Its tightening method.
    weak_length : float or None
        Length of the weakest section within the grip [mm]; None where it is not known.
    """
    if method is None or not (method.passes_yield or method.stops_at_angle):
        return
    stated = draft.stated
    for name, words in _asked_at_yield(method):
        known = draft.mean(name) is not None or name in stated
        if not known and not stated.problems.at("fastener.property_class"):
            stated.missing(name, words)
    if not method.passes_yield:
        return
    if not stated.each("clamped") and not stated.problems.at("clamped"):
        stated.missing("clamped", "this method stretches the free thread")
    elif (
        weak_length is not None
        and not weak_length > 0.0
        and not stated.problems.at("clamped", "fastener.segment")
    ):
        stated.problems.add(
            "fastener.segment",
            None,
            "plain lengths shorter than the grip: this method stretches the free thread",
        )


def _asked_at_yield(method: Method) -> Iterator[tuple[str, str]]:
    """Yield the strengths that a method needs at yield and past it, with what is said of them."""
    yield YIELD, "this method needs it, or a property_class"
    if method.passes_yield:
        yield TENSILE, "this method needs it, or a property_class"
        words = "the plastic strain at the tensile strength, from a tensile test: this method goes "
        words += "past yield"
        if method.elastic is not None:
            words += (
                " where the case states a maximum_plastic_elongation or a maximum_preload above "
                "yield; without them it is meant to stay elastic"
            )
        yield "fastener.plastic_strain", words


def assume_torsion(
    draft: Draft, method: Method | None, uses_nut_factor: bool, states: tuple[str, ...]
) -> None:
    """Say what is taken for granted where tension meets torsion."""
    if draft.mean(YIELD) is None:
        return
    if uses_nut_factor and "friction.thread" not in draft.laws:
        draft.assume(
            "friction.thread",
            "solved from the nut factor of each sample, equal in thread and under the head",
            "total friction of ISO 16047:2005, by the exact torque equation",
        )
    if states:
        draft.assume(
            "torsion in later states", "half of that of tightening", "VDI 2230 (from memory)"
        )
    _assume_past_yield(draft, method)


def _assume_past_yield(draft: Draft, method: Method | None) -> None:
    """Say what is made of a fastener that tightening carries past yield."""
    if method is None or not method.reads_friction:
        return
    if method.passes_yield:
        draft.assume(
            "preload past yield",
            "followed up to the stated plastic strain; over-preload is what the requirement states "
            "as such, not yield itself",
            HARDENING_SOURCE,
        )
    elif method.stops_at_angle:
        draft.assume(
            "preload past yield",
            "none is meant: a turn past yield is over-preload, with the preload held at yield; "
            "whether it breaks the fastener is not judged without plastic_strain of [fastener]",
            HELD_SOURCE,
        )
    else:
        draft.assume(
            "preload past yield",
            "the torque equation holds up to the capacity at the tensile strength, with torsion; "
            "beyond it the fastener breaks",
            "equilibrium; von Mises stress of a fully plastic section as for yield",
        )


def assume_wind_up(draft: Draft, method: Method | None, twist: float | None) -> None:
    """Say whether a part of an angle winds up the shank.

    Parameters
    ----------
    draft : Draft
        The case so far.
    method : Method or None
        Its tightening method.
    twist : float or None
        Twist of the fastener between head and engaged thread per torque [rad/(N·mm)]; None where
        no layers say how long that is.
    """
    if method is None or not method.reads_angle:
        return
    if twist is None:
        wrong = "preload" if method.stops_at_angle else "preload at an angle"
        draft.assume(
            _WIND_UP,
            "not included: no [[clamped]] layers say how long the twisted shank is; "
            f"{wrong} comes out a few per cent high",
            "engineering judgement",
        )
        return
    draft.assume(
        _WIND_UP,
        (
            Magnitude(twist * _TORQUE_OF_TWIST, ANGLE, 3),
            " at ",
            Magnitude(_TORQUE_OF_TWIST, TORQUE),
            " between head and engaged thread, with the shear modulus of Poisson's ratio "
            f"{torsion.POISSON_RATIO:g}: it takes a part of the angle",
        ),
        f"{torsion.TWIST_SOURCE}; {torsion.POISSON_SOURCE}",
    )


def doubt_exact_turn(draft: Draft, method: Method | None) -> None:
    """Warn where a turn makes preload of what nothing scatters of.

    Angle and stiffness make the preload of such a method, as friction makes that of a torque.
    """
    if method is None or not method.reads_angle:
        return
    for name, words in _TURN_TAKEN_AS.items():
        law = draft.laws.get(name)
        if law is not None and law.sd == 0.0:
            draft.warnings.append(f"{name} has no scatter: {words}; state it as a law.")
    stiffness = [draft.laws[name] for name in _STIFFNESS if name in draft.laws]
    if stiffness and all(law.sd == 0.0 for law in stiffness):
        governed = (
            f"with '{method.name}' it governs the scatter of preload"
            if method.stops_at_angle
            else "it makes the angle that the tool checks"
        )
        draft.warnings.append(
            f"The stiffness is taken as exact: {governed}; state it as a law "
            "([joint] compliance, or fastener_compliance and clamped_compliance)."
        )
