"""What is fixed about a joint: everything that is a fact and not a law."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from preloadmc.chance.laws import Law
from preloadmc.inputs import NOT_GIVEN
from preloadmc.joint.geometry import Geometry
from preloadmc.joint.plan import AFTER_SLIP, SETTLED, Service, states_by_name
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics.fastener import Section
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.securing import SecuringElement
from preloadmc.mechanics.softening import Softening
from preloadmc.mechanics.thread import Thread
from preloadmc.steps import Step
from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class ClampedPart:
    """One layer between head and nut. Lengths in mm, pressure in MPa."""

    material: Material
    thickness: float
    hole_diameter: float
    outer_diameter: float | None
    limiting_pressure: float | None


@dataclass(frozen=True, slots=True)
class BearingFace:
    """A ring under head, nut or washer: mm, MPa.

    ``material`` is that of the pressed part, ``layer`` its place from the head on, from 1;
    ``under_washer`` tells whether a washer presses it, ``at_mate`` whether it lies at the end of
    the mate, opposite to the head. ``limiting_pressure`` is None where it is not known.
    """

    where: str
    outer_diameter: float
    hole_diameter: float
    limiting_pressure: float | None
    material: Material
    layer: int
    under_washer: bool
    at_mate: bool

    @property
    def area(self) -> float:
        """Return the area of the ring [mm²]."""
        return math.pi / 4 * (self.outer_diameter**2 - self.hole_diameter**2)

    @property
    def limiting_force(self) -> float:
        """Return the force at the limiting pressure [N]; infinite where that is not known."""
        return math.inf if self.limiting_pressure is None else self.limiting_pressure * self.area


@dataclass(frozen=True, slots=True)
class Securing:
    """A securing element with what the case says of it.

    ``torque_ratio`` is tightening torque over that on the seat whose friction the case states.
    ``worn_torque`` [N·mm] is the prevailing torque left in self-loosening, ``breakaway_torque``
    [N·mm] that of a cured bond, ``ramp_angle`` [rad] that of wedge-locking washers, ``hardness``
    and ``seat_hardness`` those of its teeth and of their seat on one scale, ``play`` [rad] how far
    a positive lock lets the fastener turn back; None where the case does not state them.
    ``source`` is where they are from.
    """

    element: SecuringElement
    torque_ratio: float
    worn_torque: float | None
    breakaway_torque: float | None
    ramp_angle: float | None
    hardness: float | None
    seat_hardness: float | None
    source: str
    play: float | None = None

    @property
    def bites(self) -> bool | None:
        """Return whether teeth bite: harder than their seat; None where that is not known."""
        if self.hardness is None or self.seat_hardness is None:
            return None
        return self.hardness > self.seat_hardness

    @property
    def missing(self) -> tuple[str, ...]:
        """Return the keys without which the element's rule cannot be judged."""
        if self.element.loosening != "ramp":
            return ()
        needed = {
            "ramp_angle": self.ramp_angle,
            "hardness": self.hardness,
            "seat_hardness": self.seat_hardness,
        }
        return tuple(key for key, value in needed.items() if value is None)


@dataclass(frozen=True, slots=True)
class Control:
    """One quantity that a method controls: its key in [tightening] and what it is, in words.

    ``default`` is a law that holds where the case does not state the quantity, said with the words
    ``assumed`` and ``source``; without a default the case must state it. ``is_set`` tells what a
    worker sets from what the method has.
    """

    key: str
    words: str
    default: Law | None = None
    assumed: str = ""
    source: str = NOT_GIVEN
    is_set: bool = True

    @property
    def input(self) -> str:
        """Return the name of the input."""
        return f"tightening.{self.key}"


@dataclass(frozen=True, slots=True)
class Method:
    """A tightening method: what it controls and reads, how it makes preload, how that is derived.

    Parameters
    ----------
    name : str
        As the case file names it.
    controls : tuple of Control
        The quantities that it controls, and those that it alone has besides.
    setting : str
        Key of the quantity that is moved to find the best setting.
    tighten : callable
        ``tighten(joint, x, basis)`` returns what the method leaves on a block of samples.
    steps : callable
        ``steps(joint, x, assembly)`` yields the same by hand, at nominal values.
    reads_friction : bool
        Preload follows from a torque: frictions of thread and bearing, or a nut factor.
    passes_yield : bool
        Meant to carry the fastener past yield, which is then no miss.
    elastic : Method, optional
        The same method for a case that means the fastener to stay below yield; without it, a
        method that passes yield always does.
    twists : bool
        Twists the fastener while it stretches it.
    scatter_about : str
        Key of the set quantity that the bias and scatter of the tool are about. Empty for a method
        without such a tool, whose controlled quantity holds all scatter itself. Methods of one key
        set the same quantity: a wrench scatters about its torque, be that the final one, a snug
        torque before an angle, or that of a pulse tool. What is known of a pump force says nothing
        of a torque, nor either of an elongation.
    typical_scatter : str
        Row of the table of typical scatter that the tool itself makes most of: a smaller scatter
        is doubted. Empty where friction or the joint makes most of it.
    holds_friction : bool
        The controlled quantity already holds the scatter of friction, which is not sampled then.
    stretches_fastener : bool
        Needs the fastener's own compliance; that of the whole joint is not enough.
    stops_at_angle : bool
        Stops at an angle: the joint's stiffness governs its preload, and wind-up takes a part of
        the angle.
    monitors : tuple of str
        What the tool can read beside what it controls, "angle" or "torque": see `acceptance`.
    in_proportion : bool
        The scatter of what is set grows with it; else it stays as wide wherever the setting goes.
    """

    name: str
    controls: tuple[Control, ...]
    setting: str
    tighten: Callable[[Joint, Inputs, Basis], Tightened]
    steps: Callable[[Joint, Inputs, Assembly], Iterator[Step]]
    reads_friction: bool = False
    passes_yield: bool = False
    elastic: Method | None = None
    twists: bool = True
    scatter_about: str = ""
    typical_scatter: str = ""
    holds_friction: bool = False
    stretches_fastener: bool = False
    stops_at_angle: bool = False
    monitors: tuple[str, ...] = ()
    in_proportion: bool = True

    @property
    def has_tool(self) -> bool:
        """Return whether a tool scatters about a set value."""
        return bool(self.scatter_about)

    @property
    def reads_angle(self) -> bool:
        """Return whether the turn matters: the method stops at it, or the tool checks it.

        The angle that only seats the joint is then an input.
        """
        return any(control.key == "seating_angle" for control in self.controls)

    @property
    def setting_input(self) -> str:
        """Return the name of the input that is moved to find the best setting."""
        return f"tightening.{self.setting}"


@dataclass(frozen=True, slots=True)
class Fatigue:
    """A load range that comes again and again, and how the thread bears its amplitude.

    ``load_ratio`` is the axial load at the other end of the range over that of the case.
    ``life_factor`` multiplies the endurance limit for fewer cycles than endurance takes.
    ``mean_stress`` is "none", "Goodman" or "Gerber"; ``yield_force`` [N], the smallest yield
    strength times the stress area, belongs to threads rolled after heat treatment, None of others.
    """

    load_ratio: float
    life_factor: float
    mean_stress: str
    yield_force: float | None


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A window of the ``monitored`` quantity, "angle" [rad] or "torque" [N·mm].

    A fastener that ends outside ``low`` to ``high`` is rejected. The angle counts from the
    ``threshold`` torque [N·mm].
    """

    monitored: str
    low: float
    high: float
    threshold: float = 0.0


@dataclass(frozen=True, slots=True)
class Joint:
    """The facts of a joint.

    ``section`` carries the preload: the thread's stress area, or a waist below it.
    ``part_shares`` (k,) are the shares of the clamped parts' compliance, one a layer, adding to 1.
    ``seat_factor`` multiplies bearing friction (a countersunk seat). ``weak_length`` [mm] is that
    of the weakest section within the grip, where a fastener past yield stretches. ``grade`` is the
    property class, empty where the strengths are stated by themselves, and ``softening`` how they
    fall with temperature, None where that is not known; ``strength_is_one_figure`` tells a yield
    strength without a law, which real fasteners exceed. ``torsional_compliance`` [rad/(N·mm)] is
    the twist of the fastener between head and engaged thread, None where no layers say how long
    that is. ``measured_share`` is the compliance over which an elongation is measured, the
    ``gauge_length`` [mm] or all between the ends, over that of the fastener. The ``states`` come
    again and again, but for those that come ``once``. ``acceptance`` is what the tool checks of
    each fastener, None where it checks nothing; ``fatigue`` how the axial load comes again and
    again, ``service`` what becomes of the joint with time, None where nothing is said of either.
    The fastener has been ``tightened_before`` so many times. It ``decays``, where tests say what is
    left of its preload once the parts slip.
    """

    thread: Thread
    geometry: Geometry
    section: Section
    weak_length: float
    torsional_compliance: float | None
    gauge_length: float | None
    measured_share: float
    method: Method
    uses_nut_factor: bool
    fastener_material: Material
    parts: tuple[ClampedPart, ...]
    part_shares: tuple[float, ...]
    states: tuple[str, ...]
    once: frozenset[str]
    direct_thermal_change: bool
    seat_factor: float
    slip_faces: int
    load_introduction: float
    bearing_faces: tuple[BearingFace, ...]
    securing: Securing | None
    grade: str = ""
    softening: Softening | None = None
    acceptance: Acceptance | None = None
    fatigue: Fatigue | None = None
    strength_is_one_figure: bool = False
    service: Service | None = None
    tightened_before: FloatLike = 0
    decays: bool = False

    @property
    def has_no_upper_end(self) -> bool:
        """Return whether nothing says how much preload there may be.

        That is where each fastener is tightened to its own yield and the yield strength is one
        figure: a stronger fastener is tightened harder.
        """
        return self.method.passes_yield and self.strength_is_one_figure

    @property
    def clamp_length(self) -> float:
        """Return the thickness of all layers together [mm]."""
        return sum(part.thickness for part in self.parts)

    @property
    def mate_material(self) -> Material:
        """Return the material of the nut or the tapped part: the fastener's unless stated."""
        return self.geometry.mate_material or self.fastener_material

    @property
    def pulled_at_mate(self) -> bool:
        """Return whether a tensioner pulls at the mate, so that the head takes its pump force.

        It pulls at a nut, on the thread above it. The nut's seat and engaged thread carry what is
        left once the pump lets go; the other end holds against the pump.
        """
        return not self.geometry.is_stud

    @property
    def judged_states(self) -> tuple[str, ...]:
        """Return the names of the states in which preload is judged, in order of life."""
        slipped = (AFTER_SLIP,) if self.decays else ()
        return (*self._states_of_life, *slipped)

    @property
    def _states_of_life(self) -> tuple[str, ...]:
        if self.service is not None and self.service.times:
            if self.service.only_end:
                return self.service.judged
            return (SETTLED, *self.service.first_states, *self.service.judged)
        return (SETTLED, *self.all_states)

    @property
    def all_states(self) -> tuple[str, ...]:
        """Return the names of the states beside the settled one."""
        return ("service",) if self.direct_thermal_change else self.states

    def state_of(self, name: str) -> str:
        """Return the state that a judged state is at some time: "hot" of "hot after 5 years"."""
        if name == AFTER_SLIP:
            return SETTLED
        if self.service is None or not self.service.times:
            return name
        return states_by_name(self.service).get(name, name)
