"""The fastener's shape: its segments within the grip, weakest section and compliance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from preloadmc.mechanics.names import unknown_name
from preloadmc.mechanics.thread import Thread
from preloadmc.units import FloatLike

# Lengths over nominal diameter that stand for head, engaged thread, nut and tapped hole,
# VDI 2230-1:2003 (values from memory).
HEAD_LENGTHS = {"hexagon": 0.5, "socket": 0.4}
# A stud or threaded rod: a nut and an engaged thread in place of the head.
NO_HEAD = "none"
MATE_LENGTHS = {"nut": 0.4, "tapped hole": 0.33}
ENGAGED_THREAD_LENGTH = 0.5
LENGTHS_SOURCE = "VDI 2230-1:2003, substitute lengths (values from memory)"


@dataclass(frozen=True, slots=True)
class Segment:
    """One length of the fastener's shank or free thread: length mm, stressed area mm²."""

    length: float
    area: float

    def __post_init__(self) -> None:
        if not self.length >= 0:
            raise ValueError(f"length of a segment cannot be negative: {self.length:g} mm")
        if not self.area > 0:
            raise ValueError(f"area of a segment must be above zero, not {self.area:g} mm²")


@dataclass(frozen=True, slots=True)
class Shank:
    """One plain length of the fastener: full shank, reduced shank or waist; mm."""

    diameter: float
    length: float

    def __post_init__(self) -> None:
        if not self.diameter > 0:
            raise ValueError(f"diameter of a shank must be above zero, not {self.diameter:g} mm")
        if not self.length >= 0:
            raise ValueError(f"length of a shank cannot be negative: {self.length:g} mm")

    @property
    def area(self) -> float:
        """Area of the section [mm²]."""
        return math.pi / 4 * self.diameter * self.diameter


@dataclass(frozen=True, slots=True)
class Section:
    """A circular section that carries the preload: area mm², diameter mm."""

    area: float
    diameter: float


@dataclass(frozen=True, slots=True)
class Term:
    """One term of the fastener's compliance: length mm, area mm², modulus MPa."""

    name: str
    length: float
    area: float
    modulus: FloatLike

    @property
    def compliance(self) -> FloatLike:
        """Compliance ``l/(E A)`` [mm/N]."""
        return self.length / (self.modulus * self.area)


def fastener_segments(
    thread: Thread, shanks: Sequence[Shank], grip: float, thread_area: float
) -> tuple[Segment, ...]:
    """Segments of the fastener within the grip: the shanks, then free thread for the rest.

    Parameters
    ----------
    thread : Thread
        Thread of the fastener.
    shanks : sequence of Shank
        Plain lengths from the head on; none for a fastener threaded up to its head.
    grip : float
        Clamped length, washers included [mm].
    thread_area : float
        Area with which the free thread stretches [mm²]: ``thread.core_area`` (VDI 2230-1:2003) or
        ``thread.stress_area`` (Shigley, 9th ed., eq. 8-17).

    Returns
    -------
    tuple of Segment
        Lengths adding to the grip.

    Raises
    ------
    ValueError
        The plain lengths exceed the grip: the shank would reach into the mating thread.

    Examples
    --------
    >>> from preloadmc.mechanics.thread import thread
    >>> m12 = thread("M12")
    >>> [s.length for s in fastener_segments(m12, [Shank(12.0, 30.0)], 45.0, m12.core_area)]
    [30.0, 15.0]
    """
    plain = sum(shank.length for shank in shanks)
    if plain > grip:
        raise ValueError(
            f"plain lengths of {thread.designation} ({plain:g} mm) exceed the grip ({grip:g} mm):"
            " the shank would reach into the mating thread"
        )
    segments = [Segment(shank.length, shank.area) for shank in shanks]
    return (*segments, Segment(grip - plain, thread_area))


def weakest_section(thread: Thread, shanks: Sequence[Shank]) -> Section:
    """Smallest section of the fastener: the thread's stress area, or a waist below it.

    Parameters
    ----------
    thread : Thread
        Thread of the fastener.
    shanks : sequence of Shank
        Plain lengths.

    Returns
    -------
    Section
        Area and diameter for yield and capacity, VDI 2230-1:2003 (A0, d0).

    Examples
    --------
    >>> from preloadmc.mechanics.thread import thread
    >>> weakest_section(thread("M12"), [Shank(12.0, 20.0), Shank(9.0, 20.0)]).diameter
    9.0
    """
    threaded = Section(thread.stress_area, thread.stress_diameter)
    plain = [Section(shank.area, shank.diameter) for shank in shanks]
    return min([threaded, *plain], key=lambda section: section.diameter)


def fastener_terms(
    segments: Sequence[Segment],
    diameter: float,
    core_area: float,
    modulus: FloatLike,
    head: str,
    mate: str,
    mate_modulus: FloatLike,
) -> tuple[Term, ...]:
    """Terms of the fastener's compliance from the head on.

    Parameters
    ----------
    segments : sequence of Segment
        Shank, waist and free thread between head and mate, lengths adding to the grip.
    diameter, core_area : float
        Nominal diameter d [mm] and area A_d3 of the core [mm²].
    modulus : float or ndarray
        E of the fastener [MPa].
    head : {"hexagon", "socket", "none"}
        Kind of head; "none" for a stud, which has a nut in its place.
    mate : {"nut", "tapped hole"}
        What the thread engages.
    mate_modulus : float or ndarray
        E of the nut, or of the part with the tapped hole [MPa].

    Returns
    -------
    tuple of Term
        Named "head", "segment 1" and on, "engaged thread", then the mate; their compliances add up
        to ``delta_S = l_SK/(E A_N) + sum l_i/(E A_i) + 0.5 d/(E A_d3) + l_M/(E_M A_N)`` [mm/N] with
        ``A_N = pi d²/4``; l_SK = 0.5 d (hexagon) or 0.4 d (socket); l_M = 0.4 d (nut) or 0.33 d
        (tapped hole). A stud begins with "upper nut", 0.4 d, and "upper engaged thread", 0.5 d, as
        any other nut.

    Raises
    ------
    ValueError
        An unknown head or mate.

    Notes
    -----
    VDI 2230-1:2003, Sec. 5.1.1 (from memory). The free thread's area is A_d3 there; Shigley,
    9th ed., eq. 8-17, takes As and leaves out head, engaged thread and nut.

    Examples
    --------
    >>> terms = fastener_terms([Segment(30.0, 76.25)], 12.0, 76.25, 205e3, "hexagon", "nut", 205e3)
    >>> [(term.name, round(term.length, 2)) for term in terms]
    [('head', 6.0), ('segment 1', 30.0), ('engaged thread', 6.0), ('nut', 4.8)]
    """
    if head not in (*HEAD_LENGTHS, NO_HEAD):
        raise unknown_name("head", head, (*HEAD_LENGTHS, NO_HEAD))
    if mate not in MATE_LENGTHS:
        raise unknown_name("mate of the thread", mate, MATE_LENGTHS)
    nominal_area = math.pi / 4 * diameter * diameter
    begins = [
        Term("upper nut", MATE_LENGTHS["nut"] * diameter, nominal_area, modulus),
        Term("upper engaged thread", ENGAGED_THREAD_LENGTH * diameter, core_area, modulus),
    ]
    if head != NO_HEAD:
        begins = [Term("head", HEAD_LENGTHS[head] * diameter, nominal_area, modulus)]
    return (
        *begins,
        *(
            Term(f"segment {place}", segment.length, segment.area, modulus)
            for place, segment in enumerate(segments, 1)
        ),
        Term("engaged thread", ENGAGED_THREAD_LENGTH * diameter, core_area, modulus),
        Term(mate, MATE_LENGTHS[mate] * diameter, nominal_area, mate_modulus),
    )


def terms_between_ends(terms: Sequence[Term]) -> tuple[Term, ...]:
    """Terms of the compliance that a measurement of the fastener's length takes in.

    Parameters
    ----------
    terms : sequence of Term
        From `fastener_terms`.

    Returns
    -------
    tuple of Term
        Half of the head, every length within the grip and the core of the engaged thread; the mate
        moves as a whole and is no part of what is measured.

    Notes
    -----
    The length is measured between the two ends of the fastener, mechanically or by ultrasound.
    The stress runs out in the head: half of its substitute length (from memory); a stud has the
    core of an engaged thread there as well. With the whole
    `fastener_terms` in place of these the preload comes out 8 to 12 % too low for usual grips.

    Examples
    --------
    >>> terms = fastener_terms([Segment(30.0, 76.25)], 12.0, 76.25, 205e3, "hexagon", "nut", 205e3)
    >>> [(term.name, round(term.length, 2)) for term in terms_between_ends(terms)]
    [('half of the head', 3.0), ('segment 1', 30.0), ('engaged thread', 6.0)]
    """
    first, *rest = terms[:-1]
    if first.name == "head":
        return (replace(first, name="half of the head", length=first.length / 2), *rest)
    return tuple(rest)


def terms_over_gauge_length(terms: Sequence[Term], gauge_length: float) -> tuple[Term, ...]:
    """Terms of the compliance of a gauge length, from the head on.

    Parameters
    ----------
    terms : sequence of Term
        From `fastener_terms`.
    gauge_length : float
        Length over which the elongation is measured [mm].

    Returns
    -------
    tuple of Term
        Lengths adding to the gauge length.

    Raises
    ------
    ValueError
        The gauge length is longer than the grip.

    Examples
    --------
    >>> within = [Segment(30.0, 113.1), Segment(15.0, 76.25)]
    >>> terms = fastener_terms(within, 12.0, 76.25, 205e3, "hexagon", "nut", 205e3)
    >>> [(term.name, term.length) for term in terms_over_gauge_length(terms, 34.0)]
    [('segment 1', 30.0), ('segment 2', 4.0)]
    """
    within = [term for term in terms if term.name.startswith("segment")]
    found, left = [], gauge_length
    for term in within:
        found.append(replace(term, length=min(term.length, left)))
        left -= found[-1].length
    if left > 1e-9 * gauge_length:
        grip = sum(term.length for term in within)
        raise ValueError(f"gauge length ({gauge_length:g} mm) exceeds the grip ({grip:g} mm)")
    return tuple(term for term in found if term.length > 0.0)
