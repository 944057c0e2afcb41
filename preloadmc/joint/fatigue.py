"""The load range of a fastener in a state: its stresses on the thread, and what that bears."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.joint.facts import Joint
from preloadmc.joint.judged_state import JudgedState
from preloadmc.joint.tightened import Inputs
from preloadmc.mechanics import fatigue, service
from preloadmc.units import FloatLike

ENDURANCE_INPUT = "fatigue.endurance_limit"


@dataclass(frozen=True, slots=True)
class LoadRange:
    """A load range in one state: arrays (n,) or floats.

    ``loaded`` and ``relieved`` are the fastener's forces [N] at the stated axial load and at the
    other end of the range, ``axial_relieved`` the load there; ``mean`` and ``amplitude`` the
    stresses [MPa] that they make on the stress area, ``borne`` the amplitude [MPa] that the thread
    bears at that mean and ``endurance`` the limit [MPa] that it starts from, both as hot as it is.
    """

    loaded: FloatLike
    axial_relieved: FloatLike
    relieved: FloatLike
    mean: FloatLike
    amplitude: FloatLike
    borne: FloatLike
    endurance: FloatLike


def load_range(joint: Joint, x: Inputs, judged: JudgedState) -> LoadRange | None:
    """Return the load range of a state; None where no axial load comes again and again.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name.
    judged : JudgedState
        The state.

    Returns
    -------
    LoadRange or None

    Notes
    -----
    The preload is that which is left once the states have come again and again. Stresses are on
    the stress area of the thread also where a waist is thinner: it has no notch.
    """
    facts = joint.fatigue
    if facts is None or judged.axial is None or judged.load_share is None:
        return None
    axial_relieved = facts.load_ratio * judged.axial
    loaded = service.fastener_force(judged.preload, judged.axial, judged.load_share)
    relieved = service.fastener_force(judged.preload, axial_relieved, judged.load_share)
    area, left = joint.thread.stress_area, judged.strength_left
    mean_force = 0.5 * (loaded + relieved)
    endurance = x[ENDURANCE_INPUT] * facts.life_factor * left
    borne = endurance
    if facts.yield_force is not None:
        factor = fatigue.rolled_after_factor(mean_force, facts.yield_force * left)
        borne = endurance * factor
    elif facts.mean_stress != "none":
        bears = {"Goodman": fatigue.goodman_amplitude, "Gerber": fatigue.gerber_amplitude}
        tensile = x["fastener.tensile_strength"] * left
        borne = bears[facts.mean_stress](endurance, tensile, mean_force / area)
    return LoadRange(
        loaded,
        axial_relieved,
        relieved,
        mean_force / area,
        fatigue.stress_amplitude(loaded, relieved, area),
        borne,
        endurance,
    )
