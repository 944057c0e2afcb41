"""Strength of fasteners by property class or grade: minimum values of the standards."""

from __future__ import annotations

import re
from dataclasses import dataclass

from preloadmc.mechanics.names import row_named
from preloadmc.mechanics.softening import (
    CLASS_5_6,
    CLASS_8_8,
    CLASS_10_9,
    CLASS_12_9,
    STAINLESS_A2,
    STAINLESS_A4,
    Softening,
)

MPA_PER_KPSI = 6.894757293168361
MM_PER_INCH = 25.4

_MEMORY = "(value from memory)"


@dataclass(frozen=True, slots=True)
class Grade:
    """Minimum strength of a fastener of one size; MPa.

    Parameters
    ----------
    name : str
        "8.8", "A2-70", "SAE J429 grade 5".
    yield_strength, tensile_strength : float
        Rp0.2 (or ReL) and Rm, the standard's minima [MPa].
    proof_strength : float or None
        Stress under proof load Sp [MPa]; None where the standard has none.
    elongation : float or None
        Smallest elongation after fracture of a machined test piece; None where not at hand.
    hardness : tuple of float or None
        Smallest and largest Rockwell C hardness; None where not at hand.
    source : str
        Standard and mark.
    usual_excess : StrengthExcess or None
        How far real strength usually lies above these minima; None where that is not at hand.
    agreed_above : float or None
        Diameter above which the standard leaves the strengths to agreement between buyer and seller
        [mm]; None where it ends without such a clause.
    softening : Softening
        How its strength falls with temperature.
    """

    name: str
    yield_strength: float
    tensile_strength: float
    proof_strength: float | None
    elongation: float | None
    hardness: tuple[float, float] | None
    source: str
    usual_excess: StrengthExcess | None
    agreed_above: float | None
    softening: Softening


@dataclass(frozen=True, slots=True)
class StrengthExcess:
    """How far real strength lies above the standard's minimum: mean over minimum, and cov."""

    mean_ratio: float
    cov: float
    source: str


USUAL_STRENGTH_EXCESS = StrengthExcess(
    mean_ratio=1.10,
    cov=0.04,
    source="usual excess of actual strength over the minimum, classes 8.8 and up and comparable "
    "quenched and tempered inch grades " + _MEMORY,
)


@dataclass(frozen=True, slots=True)
class _Row:
    """A grade over a range of sizes, up to and including the largest diameter [mm]."""

    largest: float
    proof: float | None
    tensile: float
    yielding: float
    elongation: float | None
    hardness: tuple[float, float] | None


_ISO = "ISO 898-1:2013"
_ISO_NOTE = f"{_ISO}; elongation and hardness {_MEMORY}"
_ISO_MEMORY = f"{_ISO} {_MEMORY}"
_STAINLESS = "ISO 3506-1:2009"
_SAE = "SAE J429 as in Shigley, 9th ed., Table 8-9, p. 433"
_SAE_NOTE = f"{_SAE}; elongation and hardness {_MEMORY}"
_ASTM = "ASTM A325, A354, A490 as in Shigley, 9th ed., Table 8-10"

# Larger sizes of the ISO classes are used by agreement; the table goes on unchanged.
_ANY = float("inf")
# Of ISO 898-1, and of ISO 3506-1 by the strength of the class: M39 and M24 (values from memory).
_AGREED = 39.0
_AGREED_STAINLESS = {50: 39.0, 70: 24.0, 80: 24.0}


def _inch(
    largest: float,
    proof: float,
    tensile: float,
    yielding: float,
    elongation: float | None = None,
    hardness: tuple[float, float] | None = None,
) -> _Row:
    """A row given in inches and kpsi."""
    return _Row(
        largest * MM_PER_INCH,
        proof * MPA_PER_KPSI,
        tensile * MPA_PER_KPSI,
        yielding * MPA_PER_KPSI,
        elongation,
        hardness,
    )


_GRADES: dict[str, tuple[str, tuple[_Row, ...]]] = {
    "4.6": (_ISO_NOTE, (_Row(_ANY, 225, 400, 240, 0.22, None),)),
    "4.8": (_ISO, (_Row(_ANY, 310, 420, 340, None, None),)),
    "5.6": (_ISO_MEMORY, (_Row(_ANY, 280, 500, 300, 0.20, None),)),
    "5.8": (_ISO, (_Row(_ANY, 380, 520, 420, None, None),)),
    "6.8": (_ISO_MEMORY, (_Row(_ANY, 440, 600, 480, None, None),)),
    "8.8": (
        _ISO_NOTE,
        (
            _Row(16, 580, 800, 640, 0.12, (22, 32)),
            _Row(_ANY, 600, 830, 660, 0.12, (23, 34)),
        ),
    ),
    "9.8": (_ISO_NOTE, (_Row(16, 650, 900, 720, 0.10, (28, 37)),)),
    "10.9": (_ISO_NOTE, (_Row(_ANY, 830, 1040, 940, 0.09, (32, 39)),)),
    "12.9": (_ISO_NOTE, (_Row(_ANY, 970, 1220, 1100, 0.08, (39, 44)),)),
    **{
        f"{steel}-{strength}": (_STAINLESS, (_Row(_ANY, None, tensile, yielding, None, None),))
        for steel in ("A2", "A4")
        for strength, tensile, yielding in ((50, 500, 210), (70, 700, 450), (80, 800, 600))
    },
    "SAE J429 grade 1": (_SAE, (_inch(1.5, 33, 60, 36),)),
    "SAE J429 grade 2": (_SAE, (_inch(0.75, 55, 74, 57), _inch(1.5, 33, 60, 36))),
    "SAE J429 grade 4": (_SAE, (_inch(1.5, 65, 115, 100),)),
    "SAE J429 grade 5": (
        _SAE_NOTE,
        (
            _inch(1.0, 85, 120, 92, 0.14, (25, 34)),
            _inch(1.5, 74, 105, 81, 0.14, (19, 30)),
        ),
    ),
    "SAE J429 grade 5.2": (_SAE, (_inch(1.0, 85, 120, 92),)),
    "SAE J429 grade 7": (_SAE_NOTE, (_inch(1.5, 105, 133, 115, 0.12, (28, 34)),)),
    "SAE J429 grade 8": (_SAE_NOTE, (_inch(1.5, 120, 150, 130, 0.12, (33, 39)),)),
    "SAE J429 grade 8.2": (_SAE, (_inch(1.0, 120, 150, 130),)),
    "ASTM A325": (_ASTM, (_inch(1.0, 85, 120, 92), _inch(1.5, 74, 105, 81))),
    "ASTM A354 BD": (_ASTM, (_inch(2.5, 120, 150, 130),)),
    "ASTM A490": (_ASTM, (_inch(1.5, 120, 150, 130),)),
}

# Quenched and tempered steels, of which the usual excess is known. Cold-worked classes (4.8, 5.8,
# 6.8, grade 4), soft ones and stainless steels lie far above their minimum, by no usual share.
_QUENCHED = (
    "8.8",
    "9.8",
    "10.9",
    "12.9",
    "SAE J429 grade 5",
    "SAE J429 grade 5.2",
    "SAE J429 grade 7",
    "SAE J429 grade 8",
    "SAE J429 grade 8.2",
    "ASTM A325",
    "ASTM A354 BD",
    "ASTM A490",
)

_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
# "SAE8", "Gr.5" and "grade8", with a blank in between.
_GRADE_MARK = re.compile(r"\b(sae|grade|gr\.?)\s*(?=\d)")


def _spelling(name: str) -> str:
    text = _DECIMAL_COMMA.sub(".", name.casefold()).replace("898-1", "").replace("3506-1", "")
    words = _GRADE_MARK.sub(r"\1 ", text.replace("-", " ")).split()
    filler = ("sae", "astm", "iso", "j429", "grade", "gr", "gr.", "class", "property")
    return " ".join(word for word in words if word not in filler)


def _family(name: str) -> str:
    """ "SAE" for a grade of SAE J429, nothing for all else."""
    words = _GRADE_MARK.sub(r"\1 ", name.casefold())
    marks = ("sae", "j429", "grade", "gr ", "gr. ")
    return "SAE" if any(word in words for word in marks) else ""


def _key(name: str) -> str:
    """Family and bare name, so that "SAE 8.2" and an ISO class never meet."""
    return f"{_family(name)} {_spelling(name)}"


_BY_KEY = {_key(name): name for name in _GRADES}


def grade(name: str, diameter: float) -> Grade:
    """Minimum strength of a fastener of a property class or grade.

    Parameters
    ----------
    name : str
        ISO 898-1 class ("8.8"), ISO 3506-1 class ("A2-70"), SAE J429 grade ("SAE 5", "SAE J429
        grade 5", "grade 8") or ASTM bolt ("ASTM A325").
    diameter : float
        Nominal diameter [mm]; some values depend on it.

    Returns
    -------
    Grade

    Raises
    ------
    ValueError
        No such class or grade (with the nearest names), or not in that size.

    References
    ----------
    ISO 898-1:2013; ISO 3506-1:2009; SAE J429.

    Examples
    --------
    >>> grade("8.8", 12.0).yield_strength, grade("8.8", 20.0).yield_strength
    (640.0, 660.0)
    >>> round(grade("SAE 5", 12.7).proof_strength / 6.894757, 1)  # kpsi
    85.0
    """
    found = grade_named(name)
    source, rows = _GRADES[found]
    for row in rows:
        if diameter <= row.largest * (1 + 1e-9):
            return Grade(
                name=found,
                yield_strength=float(row.yielding),
                tensile_strength=float(row.tensile),
                proof_strength=None if row.proof is None else float(row.proof),
                elongation=row.elongation,
                hardness=row.hardness,
                source=source,
                usual_excess=USUAL_STRENGTH_EXCESS if found in _QUENCHED else None,
                agreed_above=_agreed_above(found) if rows[-1].largest == _ANY else None,
                softening=_softening(found),
            )
    raise ValueError(
        f"{found} is defined up to a diameter of {rows[-1].largest:g} mm, not {diameter:g} mm"
    )


def grade_named(name: str) -> str:
    """Name of a property class or grade as the table has it, from any spelling.

    Raises
    ------
    ValueError
        No such class or grade, with the nearest names.

    Examples
    --------
    >>> grade_named("grade 8"), grade_named("a2-70")
    ('SAE J429 grade 8', 'A2-70')
    """
    # A number alone may be a grade or the beginning of a class: neither is taken for granted.
    bare = f"SAE J429 grade {name.strip()}"
    if bare in _GRADES:
        classes = [other for other in _GRADES if other.startswith(f"{name.strip()}.")]
        hint = ", ".join((f"'SAE {name.strip()}' for {bare}", *classes))
        raise ValueError(f"unknown property class or grade {name!r}; nearest: {hint}")
    known = (other for other in _GRADES if other.startswith(_family(name)))
    return row_named("property class or grade", name, _BY_KEY, known, _key)


def _softening(name: str) -> Softening:
    """How a class softens; comparable inch grades as 8.8, soft and cold-worked ones as 5.6."""
    stainless = {"A2": STAINLESS_A2, "A4": STAINLESS_A4}.get(name.partition("-")[0])
    by_class = {"10.9": CLASS_10_9, "12.9": CLASS_12_9}.get(name)
    return stainless or by_class or (CLASS_8_8 if name in _QUENCHED else CLASS_5_6)


def _agreed_above(name: str) -> float:
    steel, _, strength = name.partition("-")
    return _AGREED_STAINLESS[int(strength)] if steel in ("A2", "A4") else _AGREED


def grade_sizes(name: str) -> tuple[tuple[float, float], ...]:
    """Ranges of diameter over which the strengths of a class or grade differ.

    Parameters
    ----------
    name : str
        One of `known_grades`.

    Returns
    -------
    tuple of (float, float)
        Above the first and up to the second diameter [mm]; the last one may be infinite.

    Examples
    --------
    >>> grade_sizes("8.8"), grade_sizes("9.8")
    (((0.0, 16.0), (16.0, inf)), ((0.0, 16.0),))
    """
    ends = [float(row.largest) for row in _GRADES[name][1]]
    return tuple(zip([0.0, *ends], ends, strict=False))


def known_grades() -> tuple[str, ...]:
    """Names of every property class and grade of the table."""
    return tuple(_GRADES)


def grades_with_usual_excess() -> tuple[str, ...]:
    """Names of the classes and grades whose usual excess over the minimum is known."""
    return _QUENCHED
