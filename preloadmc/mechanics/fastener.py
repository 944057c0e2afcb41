"""The fastener's shape: shank, waist and free thread within the grip, and the weakest section."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from preloadmc.mechanics.compliance import Segment
from preloadmc.mechanics.thread import MM_PER_INCH, Thread


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
        The plain lengths exceed the grip: the mate would run up on the shank.

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
            " the nut would run up on the shank"
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


def usual_thread_length(thread: Thread, fastener_length: float) -> float:
    """Length of thread that a standard bolt of a given length carries.

    Parameters
    ----------
    thread : Thread
        Thread of the bolt.
    fastener_length : float
        Length below the head L [mm].

    Returns
    -------
    float
        Metric: ``2d + 6`` up to L = 125, ``2d + 12`` up to 200, ``2d + 25`` beyond [mm]. Inch:
        ``2d + 1/4 in`` up to L = 6 in, ``2d + 1/2 in`` beyond. Never more than L.

    Notes
    -----
    Shigley, 9th ed., Table 8-7, p. 427; metric for d up to 48 mm.

    Examples
    --------
    M12 of 60 mm: 30 mm of thread (Shigley, instructor's solution 8-22).

    >>> from preloadmc.mechanics.thread import thread
    >>> usual_thread_length(thread("M12"), 60.0)
    30.0
    """
    if thread.series.startswith("ISO"):
        extra = 6.0 if fastener_length <= 125 else 12.0 if fastener_length <= 200 else 25.0
    else:
        extra = (0.25 if fastener_length <= 6 * MM_PER_INCH else 0.5) * MM_PER_INCH
    return min(2 * thread.diameter + extra, fastener_length)
