"""The joint just tightened, as records: what a method draws on, leaves, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from preloadmc.units import FloatLike

Inputs = Mapping[str, FloatLike]


@dataclass(frozen=True, slots=True)
class Basis:
    """What every method may draw on: torque per preload, and the strengths with its torsion.

    ``per_preload`` [mm], ``yield_preload`` and ``capacity`` [N] are None where not known.
    """

    per_preload: FloatLike | None
    yield_preload: FloatLike | None
    capacity: FloatLike | None


@dataclass(frozen=True, slots=True)
class Tightened:
    """What a method leaves; the fields of `Assembly` of the same names, where they differ."""

    preload: FloatLike
    peak: FloatLike | None = None
    plastic_elongation: FloatLike | None = None
    elongation_at_capacity: FloatLike | None = None
    as_elastic: FloatLike | None = None


@dataclass(frozen=True, slots=True)
class Assembly:
    """The joint just tightened, on a block of samples: arrays (n,) or floats, forces in N.

    ``preload`` is what the method leaves, ``peak`` the largest force of tightening; both are
    neither clipped nor capped, so that margins keep their sign and slope. Where a turn meant to
    stay elastic would pass yield, both are held at yield instead, and ``as_elastic`` is what the
    turn would have made of a fastener that never yields: its excess over yield is the miss. It is
    None for other methods. ``yield_preload`` and ``capacity`` (where the fastener breaks) go with
    the torsion of the method; None where no strength is given. ``plastic_elongation`` [mm] and
    ``elongation_at_capacity`` [mm] are None for methods that are meant to stay elastic.
    ``thread_torque`` [N·mm] twists the fastener.
    """

    preload: FloatLike
    peak: FloatLike
    yield_preload: FloatLike | None
    capacity: FloatLike | None
    later_yield: FloatLike | None
    plastic_elongation: FloatLike | None
    elongation_at_capacity: FloatLike | None
    as_elastic: FloatLike | None
    thread_torque: FloatLike
    per_preload: FloatLike | None

    @property
    def pulls_harder(self) -> bool:
        """Return whether tightening pulls harder than what it leaves: a tensioner does."""
        return self.peak is not self.preload
