"""The smallest threads a usual tolerance class lets pass: 6g with 6H, and 2A with 2B."""

from __future__ import annotations

import math
from dataclasses import dataclass

from preloadmc.mechanics.thread import MM_PER_INCH, Thread

SOURCE = "ISO 965-1 (6g, 6H) and ASME B1.1 (2A, 2B), formulas (from memory)"

# Steps of nominal diameter in ISO 965-1, mm; tolerances follow the geometric mean of a step.
_STEPS = (2.8, 5.6, 11.2, 22.4, 45.0, 90.0)
_MICROMETRE = 1e-3


@dataclass(frozen=True, slots=True)
class LeastMaterial:
    """Diameters of the thinnest threads that pass; mm.

    Parameters
    ----------
    diameter, pitch_diameter : float
        Smallest major and pitch diameter of the fastener.
    internal_pitch_diameter, internal_minor_diameter : float
        Largest pitch and minor diameter of the nut.
    """

    diameter: float
    pitch_diameter: float
    internal_pitch_diameter: float
    internal_minor_diameter: float


def least_material(thread: Thread) -> LeastMaterial:
    """Least-material diameters: 6g/6H for ISO threads, 2A/2B for inch threads.

    Parameters
    ----------
    thread : Thread
        Basic geometry.

    Returns
    -------
    LeastMaterial

    Notes
    -----
    Formulas of ISO 965-1 (normal length of engagement) and ASME B1.1 (engagement of one
    diameter), from memory; ISO 965-1 rounds them to preferred numbers, which step by 6 %.

    Examples
    --------
    M10, 6g: pitch diameter 8.862 mm at least (value from memory).

    >>> from preloadmc.mechanics.thread import thread
    >>> round(least_material(thread("M10")).pitch_diameter, 2)
    8.86
    """
    return _iso(thread) if thread.series.startswith("ISO") else _unified(thread)


def _iso(thread: Thread) -> LeastMaterial:
    P = thread.pitch
    low = max(step for step in _STEPS if step < thread.diameter)
    high = min(step for step in _STEPS if step >= thread.diameter)
    allowance = (15 + 11 * P) * _MICROMETRE
    major = (180 * P ** (2 / 3) - 3.15 / math.sqrt(P)) * _MICROMETRE
    pitch = 90 * P**0.4 * math.sqrt(low * high) ** 0.1 * _MICROMETRE
    minor = (230 * P**0.7 if P >= 1 else 433 * P - 190 * P**1.22) * _MICROMETRE
    return LeastMaterial(
        diameter=thread.diameter - allowance - major,
        pitch_diameter=thread.pitch_diameter - allowance - pitch,
        internal_pitch_diameter=thread.pitch_diameter + 1.32 * pitch,
        internal_minor_diameter=thread.internal_minor_diameter + minor,
    )


def _unified(thread: Thread) -> LeastMaterial:
    D, P = thread.diameter / MM_PER_INCH, thread.pitch / MM_PER_INCH
    pitch = (0.0015 * D ** (1 / 3) + 0.0015 * D**0.5 + 0.015 * P ** (2 / 3)) * MM_PER_INCH
    allowance = 0.3 * pitch
    major = 0.060 * P ** (2 / 3) * MM_PER_INCH
    minor = (0.25 * P - 0.40 * P * P) * MM_PER_INCH
    return LeastMaterial(
        diameter=thread.diameter - allowance - major,
        pitch_diameter=thread.pitch_diameter - allowance - pitch,
        internal_pitch_diameter=thread.pitch_diameter + 1.3 * pitch,
        internal_minor_diameter=thread.internal_minor_diameter + minor,
    )
