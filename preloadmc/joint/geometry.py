"""The shape of a joint as its case gives it."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.fastener import NO_HEAD, Shank
from preloadmc.mechanics.materials import Material


@dataclass(frozen=True, slots=True)
class Geometry:
    """Shapes from which compliances, pressed faces and stripping follow; mm, rad, MPa.

    ``shanks`` are the plain lengths from the head on; ``head_face`` and ``nut_face`` the outer
    diameters of the pressed faces, None where unknown (a tapped hole has no nut face). ``turned``
    is the side that is turned, "head" or "nut", and ``turned_hole`` the diameter of the hole there.
    ``mate_material`` is that of the nut or the tapped part, None for that of the fastener.
    ``engagement``, ``mate_tensile_strength`` and ``width_across_flats`` describe the engaged
    thread, None where the case does not.
    """

    head: str
    mate: str
    mate_material: Material | None
    shanks: tuple[Shank, ...]
    turned: str
    turned_hole: float | None
    head_face: float | None
    nut_face: float | None
    cone_half_angle: float
    cone_source: str
    engagement: float | None
    mate_tensile_strength: float | None
    width_across_flats: float | None

    @property
    def turned_face(self) -> float | None:
        """Return the outer diameter of the face that is turned; None where it is unknown."""
        return self.nut_face if self.turned == "nut" else self.head_face

    @property
    def has_nut(self) -> bool:
        """Return whether a nut presses the parts; else the fastener sits in a tapped hole."""
        return self.mate == "nut"

    @property
    def is_stud(self) -> bool:
        """Return whether the fastener has a nut in place of a head."""
        return self.head == NO_HEAD

    @property
    def ends(self) -> tuple[str, ...]:
        """Return what presses the first layer, and the last one where something does."""
        if self.has_nut:
            return ("upper nut", "lower nut") if self.is_stud else ("head", "nut")
        return ("nut",) if self.is_stud else ("head",)

    @property
    def tells_stripping(self) -> bool:
        """Return whether the engaged thread is described so far that its stripping is judged."""
        return self.engagement is not None and self.mate_tensile_strength is not None
