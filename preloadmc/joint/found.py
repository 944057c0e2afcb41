"""The joint as an inspection finds it: preload left, whether the nut has turned, torques."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from preloadmc.evidence import OBSERVATIONS
from preloadmc.joint.facts import Joint
from preloadmc.joint.judged_state import preload_for_no_slip
from preloadmc.joint.life import State
from preloadmc.joint.quantities import (
    torque_per_preload,
    torques_at_rest,
    total_compliance,
)
from preloadmc.joint.tightened import Inputs
from preloadmc.mechanics import loosening, losses
from preloadmc.units import Array, FloatLike

# A mark shows a turn of the nut from this angle on [rad]: engineering judgement.
VISIBLE_TURN = math.radians(5.0)


@dataclass(frozen=True, slots=True)
class Found:
    """What an inspection at the temperature of assembly finds: arrays (n,) or floats.

    ``preload`` [N]; ``turned`` [rad], how far the nut has turned back; torques [N·mm] at which the
    fastener starts to turn on and to turn back, None where no friction is known. ``slipped`` tells
    whether the parts slid on each other, None where no load says so, and ``jammed`` whether the
    thread was jammed before the fastener clamped. ``recorded_torque`` [N·mm] is what the tool has
    recorded of the fastener, None where the method sets no torque; ``grade`` the property class
    that its head shows, empty where none is stated. ``at_times`` is what other inspections of the
    same fastener find, by their time of service [s].
    """

    preload: FloatLike
    turned: FloatLike
    tightening_torque: FloatLike | None
    loosening_torque: FloatLike | None
    slipped: NDArray[np.bool_] | None
    jammed: NDArray[np.bool_]
    recorded_torque: FloatLike | None
    grade: str
    at_times: Mapping[float, Found] = field(default_factory=dict)

    def after(self, time: float | None) -> Found:
        """Return what is found after a time of service [s]: itself where that has no other."""
        return self if time is None else self.at_times.get(time, self)

    def shows(self, kind: str, grade: str = "") -> FloatLike | None:
        """Return what a finding of that kind is about: a true value, or the chance of seeing it.

        Parameters
        ----------
        kind : str
            Kind of a reading or an observation that names no input of its own.
        grade : str
            Property class that was read, of a head mark.

        Returns
        -------
        float, ndarray (n,) or None
            In N, mm, MPa, K, rad; None where the case does not tell.
        """
        if kind in OBSERVATIONS and OBSERVATIONS[kind].is_grade:
            return float(self.grade == grade) if self.grade else None
        return _SHOWN[kind](self)


_SHOWN: dict[str, Callable[[Found], FloatLike | None]] = {
    "residual preload": lambda found: found.preload,
    "tightening torque": lambda found: found.tightening_torque,
    "loosening torque": lambda found: found.loosening_torque,
    "rotation": lambda found: found.turned,
    "recorded torque": lambda found: found.recorded_torque,
    "mark": lambda found: _chance(np.asarray(found.turned) > VISIBLE_TURN),
    "slip mark": lambda found: None if found.slipped is None else _chance(found.slipped),
    "gap": lambda found: _chance(np.asarray(found.preload) <= 0.0),
    "thread bottomed": lambda found: _chance(found.jammed),
}


def _chance(is_so: NDArray[np.bool_]) -> Array:
    return np.where(is_so, 1.0, 0.0)


def inputs_as_they_were(joint: Joint, x: Inputs) -> dict[str, FloatLike]:
    """Return the inputs with what came about otherwise than the case says.

    The quantity that is set is off by the ``setting.error``, which is a factor; every transverse
    load is ``rotation.overload`` times that of the case. Either may be absent.
    """
    was = dict(x)
    if "setting.error" in x:
        was[joint.method.setting_input] = x[joint.method.setting_input] * x["setting.error"]
    if "rotation.overload" in x:
        for name in x:
            if name.endswith(".transverse"):
                was[name] = x[name] * x["rotation.overload"]
    return was


def as_found(
    joint: Joint,
    x: Inputs,
    state: State,
    *,
    back_rotation: FloatLike,
    tightened_share: FloatLike,
    torque_share: FloatLike,
    breakaway_ratio: FloatLike,
    prevailing_torque: FloatLike,
) -> Found:
    """Follow a joint from its last state to what an inspection finds.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.
    state : State
        What `evaluate` returned for them, of a joint as settled or at a time of service
        (`over_time.at`).
    back_rotation : float or ndarray
        How far service turns the nut back where the parts slip and nothing holds it [rad].
    tightened_share : float or ndarray
        Share of its preload that the fastener was given: 1, or less for one that was missed.
    torque_share : float or ndarray
        Share of its torque that it took. More than that of its preload went into a jammed thread:
        a nut that met the end of its thread, or a screw the ground of its hole.
    breakaway_ratio : float or ndarray
        Friction when the nut starts to turn again over friction in tightening.
    prevailing_torque : float or ndarray
        What turns the fastener without preload in the inspection, worn by use [N·mm].

    Notes
    -----
    Settling and heat lower the preload and leave the nut where it was. A fastener that yielded in
    any state has kept its plastic elongation: the settled joint is found without it. Slip of the
    parts turns the nut back, as far as its securing element lets it: see `loosening`. They slip
    where the preload that is left is too small, in any state. Where the case states no transverse
    load with joint friction, slip is taken for granted.

    A jammed thread holds the nut, so that slip does not turn it, and asks for the torque that went
    into it again, on and back, as preload does: its torques are those of a tightened fastener.

    A tool records the torque that it takes itself to deliver: its setting with its scatter, and
    without its bias, of which it knows nothing.
    """
    full = state.held(state.judged[0])
    slips = _slips(joint, state, tightened_share)
    jammed = np.asarray(torque_share) > np.asarray(tightened_share)
    preload, turned = _turned_back(
        joint, x, state, full * tightened_share, np.where(slips & ~jammed, back_rotation, 0.0)
    )
    recorded = None
    if joint.method.setting == "torque":
        recorded = x["tightening.torque"] * x["tightening.tool"] * torque_share
    on: FloatLike | None = None
    back: FloatLike | None = None
    per_preload = torque_per_preload(joint, x)
    if per_preload is not None:
        on_per_preload, back_per_preload = torques_at_rest(joint, x, per_preload, breakaway_ratio)
        pressed = np.where(jammed, preload + full * (torque_share - tightened_share), preload)
        bond: FloatLike = 0.0
        if joint.securing is not None and joint.securing.breakaway_torque is not None:
            bond = np.where(np.asarray(turned) > 0.0, 0.0, joint.securing.breakaway_torque)
        on = pressed * on_per_preload + prevailing_torque + bond
        back = pressed * back_per_preload + prevailing_torque + bond
    may_slip = any(judged.may_slip for judged in state.judged)
    return Found(
        preload, turned, on, back, slips if may_slip else None, jammed, recorded, joint.grade
    )


def _turned_back(
    joint: Joint, x: Inputs, state: State, before: FloatLike, back_rotation: FloatLike
) -> tuple[FloatLike, FloatLike]:
    """Return preload [N] and angle [rad] where slip turns a nut back by an angle unless held."""
    turns = np.asarray(True)
    floor: FloatLike = 0.0
    securing = joint.securing
    if securing is not None:
        if securing.play is not None:
            back_rotation = np.minimum(back_rotation, securing.play)
        if securing.ramp_angle is not None and securing.bites:
            excess = loosening.ramp_excess(securing.ramp_angle, joint.thread.lead_angle)
            turns = turns & (excess <= 0.0)
        if securing.breakaway_torque is not None:
            held = loosening.breakaway_excess(securing.breakaway_torque, before, joint.thread.pitch)
            turns = turns & (np.asarray(held) < 0.0)
        if securing.worn_torque is not None:
            assured = loosening.preload_held_by_prevailing_torque(
                securing.worn_torque, joint.thread.pitch
            )
            loaded = [np.asarray(j.axial) != 0.0 for j in state.judged if j.axial is not None]
            floor = np.where(np.logical_or.reduce(loaded), 0.0, assured) if loaded else assured
    compliance = total_compliance(x)
    angle = np.where(turns, back_rotation, 0.0)
    lost = losses.rotation_loss(angle, joint.thread.pitch, compliance)
    floor = np.minimum(floor, before)
    preload = np.maximum(before - lost, floor)
    # Against a prevailing torque the nut stops at the floor; without one it goes on turning.
    stopped = (before - floor) * compliance * 2 * math.pi / joint.thread.pitch
    return preload, np.where(np.asarray(floor) > 0.0, np.minimum(angle, stopped), angle)


def _slips(joint: Joint, state: State, tightened_share: FloatLike) -> NDArray[np.bool_]:
    """Return whether the parts slip in any state; True where no load says otherwise."""
    loaded = [judged for judged in state.judged if judged.may_slip]
    if not loaded:
        return np.asarray(True)
    slips = np.asarray(False)
    for judged in loaded:
        needed = preload_for_no_slip(joint, judged)
        slips = slips | (np.asarray(judged.preload) * tightened_share < needed)
    return slips
