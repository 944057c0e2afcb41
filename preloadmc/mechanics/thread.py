"""Thread geometry from a designation: ISO metric coarse and fine, UNC and UNF."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from preloadmc.mechanics.names import unknown_name
from preloadmc.typed_numbers import without_vulgar_fractions

MM_PER_INCH = 25.4

# ISO 261:1998 / ISO 262:1998: nominal diameter, coarse pitch, then fine pitches, mm.
_METRIC = (
    (3, 0.5, 0.35),
    (3.5, 0.6, 0.35),
    (4, 0.7, 0.5),
    (5, 0.8, 0.5),
    (6, 1, 0.75),
    (7, 1, 0.75),
    (8, 1.25, 1, 0.75),
    (10, 1.5, 1.25, 1, 0.75),
    (12, 1.75, 1.5, 1.25, 1),
    (14, 2, 1.5, 1.25, 1),
    (16, 2, 1.5, 1),
    (18, 2.5, 2, 1.5, 1),
    (20, 2.5, 2, 1.5, 1),
    (22, 2.5, 2, 1.5, 1),
    (24, 3, 2, 1.5, 1),
    (27, 3, 2, 1.5, 1),
    (30, 3.5, 3, 2, 1.5, 1),
    (33, 3.5, 3, 2, 1.5),
    (36, 4, 3, 2, 1.5),
    (39, 4, 3, 2, 1.5),
    (42, 4.5, 4, 3, 2, 1.5),
    (45, 4.5, 4, 3, 2, 1.5),
    (48, 5, 4, 3, 2, 1.5),
    (52, 5, 4, 3, 2, 1.5),
    (56, 5.5, 4, 3, 2, 1.5),
    (60, 5.5, 4, 3, 2, 1.5),
    (64, 6, 4, 3, 2, 1.5),
)

# Threads that are named in place of one that is unknown: the pitches of one size.
_NAMED = 4
# ASME B1.1-2003: nominal size in inches, threads per inch UNC and UNF.
_UNIFIED = (
    ("1/4", 20, 28),
    ("5/16", 18, 24),
    ("3/8", 16, 24),
    ("7/16", 14, 20),
    ("1/2", 13, 20),
    ("9/16", 12, 18),
    ("5/8", 11, 18),
    ("3/4", 10, 16),
    ("7/8", 9, 14),
    ("1", 8, 12),
    ("1 1/8", 7, 12),
    ("1 1/4", 7, 12),
    ("1 3/8", 6, 12),
    ("1 1/2", 6, 12),
)

_METRIC_SPELLING = re.compile(r"M ?(\d+(?:\.\d+)?)(?: ?[X*-] ?(\d+(?:\.\d+)?))?")
_UNIFIED_SPELLING = re.compile(
    r"(?:(?:(\d+)[ -])?(\d+/[1-9]\d*)|(\d*\.\d+|\d+)) ?(?:- ?(\d+) ?(UNC|UNF)?|(UNC|UNF))"
)
# Tolerance classes of ISO 965 and ASME B1.1, as in M12-6g and 1/2-13 UNC-2A: they change none of
# the basic sizes.
_TOLERANCE_CLASS = re.compile(r"(?<=\d) ?- ?\d[EFGH](?:/?\d[EFGH])?$|(?<=UN[CF]) ?-? ?[123][AB]$")
_SERIES_FIRST = re.compile(r"(UN[CF]) (.+)")
_ANY_METRIC = re.compile(r"(?:MF?|) ?(\d+(?:\.\d+)?)(?![/\d])(?:.*[X*-] ?(\d+(?:\.\d+)?))?.*")
_ANY_UNIFIED = re.compile(r"(?:(\d+)[ -])?(\d+/[1-9]\d*).*")
# The coarsest pitch of the table; what is typed above it behind a size is a length [mm].
_COARSEST = 6.0


@dataclass(frozen=True, slots=True)
class Thread:
    """Basic geometry of one 60° thread; lengths mm, areas mm², angle rad.

    Parameters
    ----------
    designation : str
        The usual spelling, "M12", "M12x1.25", "5/16-18 UNC".
    diameter, pitch, pitch_diameter : float
        Nominal diameter d, pitch P and pitch diameter d2.
    core_diameter : float
        Root diameter d3 of the fastener's thread.
    internal_minor_diameter : float
        Minor diameter D1 of the nut's thread.
    stress_area, stress_diameter : float
        Tensile stress area As and the diameter ``sqrt(4 As / pi)`` of its circle.
    core_area : float
        Area of the circle of the core diameter.
    lead_angle : float
        Lead angle at the pitch diameter.
    series : str
        "ISO coarse", "ISO fine", "UNC" or "UNF".
    """

    designation: str
    diameter: float
    pitch: float
    pitch_diameter: float
    core_diameter: float
    internal_minor_diameter: float
    stress_area: float
    stress_diameter: float
    core_area: float
    lead_angle: float
    series: str

    @property
    def unit_system(self) -> str:
        """Return the units that go with it: "inch" for an inch thread, else "metric"."""
        return "inch" if self.series.startswith("UN") else "metric"


def thread(designation: str) -> Thread:
    """Geometry of the thread that a designation names.

    The profile is that of ISO 68-1, which ASME B1.1 shares::

        d2 = d - 0.649519 P     d3 = d - 1.226869 P     D1 = d - 1.082532 P
        As = pi/4 ((d2 + d3)/2)²                 ISO threads (ISO 898-1)
        As = pi/4 (d - 0.974279 P)²              inch threads (ASME B1.1)

    Parameters
    ----------
    designation : str
        "M12", "M12x1.25", "1/2-13 UNC", "1/2-20 UNF", "5/16-18", "1/2 UNC"; the letter case, a
        comma for the decimal point, "×", spaces and a tolerance class do not matter.

    Returns
    -------
    Thread

    Raises
    ------
    ValueError
        The thread is not in the tables of ISO 261/262 (M3 to M64) or ASME B1.1 (1/4 to 1 1/2).

    References
    ----------
    ISO 261:1998, ISO 262:1998, ISO 724:1993, ISO 898-1:2013; ASME B1.1-2003.

    Examples
    --------
    Stress areas of 84.3 mm² (ISO 898-1) and 0.1419 in² (Shigley, 9th ed., Table 8-2, p. 413):

    >>> round(thread("M12").stress_area, 1)
    84.3
    >>> round(thread("1/2-13 UNC").stress_area / 25.4**2, 4)
    0.1419
    """
    found = _by_spelling().get(_spelling(designation))
    if found is None:
        raise _unknown(designation)
    return found


def _unknown(designation: str) -> ValueError:
    """Error for a thread that the tables do not hold, with those of the nearest size."""
    text = _plain(designation)
    rows = tuple(dict.fromkeys(_by_spelling().values()))
    more = ""
    if unified := _ANY_UNIFIED.fullmatch(text):
        size = _inches(unified[1] or "", unified[2]) * MM_PER_INCH
        near = [row for row in rows if row.series.startswith("UN")]
    elif metric := _ANY_METRIC.fullmatch(text):
        size = float(metric[1])
        near = [row for row in rows if row.series.startswith("ISO")]
        if not any(row.diameter == size for row in near):
            near = [row for row in near if row.series == "ISO coarse"]
        pitch = float(metric[2] or 0.0)
        if 0.0 < pitch <= _COARSEST:
            near.sort(key=lambda row: abs(row.pitch - pitch))
        elif text.startswith("M") and pitch:
            more = f"; {metric[2]} is no pitch: a length is that of the layers and of the shank"
    else:
        return unknown_name("thread", designation.strip(), known_threads())
    # In order of size, then of pitch as typed, or as the tables have them: the coarse pitch first.
    near.sort(key=lambda row: abs(row.diameter - size))
    listed = ", ".join(row.designation for row in near[:_NAMED])
    return ValueError(f"unknown thread {designation.strip()!r}; nearest: {listed}{more}")


def known_threads() -> tuple[str, ...]:
    """Designations of every thread of the tables, by series and size."""
    return tuple(dict.fromkeys(found.designation for found in _by_spelling().values()))


def _spelling(designation: str) -> str:
    """The usual spelling of a designation, as far as it has the form of one."""
    text = _TOLERANCE_CLASS.sub("", _plain(designation))
    if metric := _METRIC_SPELLING.fullmatch(text):
        size, pitch = metric.groups()
        return f"M{float(size):g}" + (f"x{float(pitch):g}" if pitch else "")
    if unified := _UNIFIED_SPELLING.fullmatch(text):
        whole, fraction, other, per_inch, series, alone = unified.groups()
        inches = _inches(whole or "", fraction or other)
        size = " ".join(
            str(part) for part in (inches.numerator // inches.denominator, inches % 1) if part
        )
        if alone:
            return f"{size} {alone}"
        return f"{size}-{per_inch}" + (f" {series}" if series else "")
    return text


def _plain(designation: str) -> str:
    """A designation in capitals, without inch marks, and with plain fractions and points."""
    text = without_vulgar_fractions(designation).upper().replace("×", "X").replace(",", ".")
    text = " ".join(re.sub(r'["″”]|\bIN(?:CH)?\b\.?', "", text).split())
    return _SERIES_FIRST.sub(r"\2 \1", text)


def _inches(whole: str, size: str) -> Fraction:
    return Fraction(whole or "0") + Fraction(size)


@cache
def _by_spelling() -> dict[str, Thread]:
    """Threads by every usual spelling; the coarse pitch may be named or not."""
    found: dict[str, Thread] = {}
    for diameter, coarse, *fine in _METRIC:
        name = f"M{diameter:g}"
        found[name] = _geometry(name, diameter, coarse, "ISO coarse")
        found[f"{name}x{coarse:g}"] = found[name]
        for pitch in fine:
            fine_name = f"{name}x{pitch:g}"
            found[fine_name] = _geometry(fine_name, diameter, pitch, "ISO fine")
    for size, coarse_per_inch, fine_per_inch in _UNIFIED:
        diameter = float(sum(Fraction(part) for part in size.split())) * MM_PER_INCH
        for per_inch, series in ((coarse_per_inch, "UNC"), (fine_per_inch, "UNF")):
            name = f"{size}-{per_inch} {series}"
            found[name] = _geometry(name, diameter, MM_PER_INCH / per_inch, series)
            found[f"{size}-{per_inch}"] = found[f"{size} {series}"] = found[name]
    return found


def _geometry(designation: str, diameter: float, pitch: float, series: str) -> Thread:
    pitch_diameter = diameter - 0.649519 * pitch
    core_diameter = diameter - 1.226869 * pitch
    if series.startswith("ISO"):
        stress_diameter = (pitch_diameter + core_diameter) / 2
    else:
        stress_diameter = diameter - 0.974279 * pitch
    return Thread(
        designation=designation,
        diameter=float(diameter),
        pitch=float(pitch),
        pitch_diameter=pitch_diameter,
        core_diameter=core_diameter,
        internal_minor_diameter=diameter - 1.082532 * pitch,
        stress_area=math.pi / 4 * stress_diameter**2,
        stress_diameter=stress_diameter,
        core_area=math.pi / 4 * core_diameter**2,
        lead_angle=math.atan(pitch / (math.pi * pitch_diameter)),
        series=series,
    )
