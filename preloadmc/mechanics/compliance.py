"""Elastic compliance of the clamped parts from their geometry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class Layer:
    """One clamped layer, from head to nut: lengths mm, modulus MPa.

    Parameters
    ----------
    thickness : float
        Thickness [mm].
    modulus : float or ndarray
        Young's modulus [MPa].
    hole_diameter : float
        Diameter of the hole [mm].
    outer_diameter : float or None
        Diameter of a round part, or the smallest width through the hole [mm]; None for a part
        wider than the pressure spreads.
    """

    thickness: float
    modulus: FloatLike
    hole_diameter: float
    outer_diameter: float | None

    def __post_init__(self) -> None:
        if not self.thickness > 0:
            raise ValueError(f"thickness of a layer must be above zero, not {self.thickness:g} mm")
        if not self.hole_diameter > 0:
            raise ValueError(f"hole of a layer must be above zero, not {self.hole_diameter:g} mm")
        if self.outer_diameter is not None and not self.outer_diameter > self.hole_diameter:
            raise ValueError(
                f"outer diameter of a layer ({self.outer_diameter:g} mm) must be above that of"
                f" its hole ({self.hole_diameter:g} mm)"
            )


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of the pressed volume of a layer; lengths mm.

    Parameters
    ----------
    layer : int
        Place of the layer, from 0 at the head.
    kind : {"cone", "sleeve"}
        A cone while the pressure spreads, a sleeve where it fills the layer.
    side : {"head", "nut"}
        The pressed face it spreads from.
    thickness, diameter, hole_diameter : float
        Thickness, smaller face of the cone (outer diameter of the sleeve) and hole [mm].
    shape : float
        Compliance times modulus [1/mm].
    """

    layer: int
    kind: str
    side: str
    thickness: float
    diameter: float
    hole_diameter: float
    shape: float


def frustum_stiffness(
    thickness: FloatLike,
    modulus: FloatLike,
    face_diameter: FloatLike,
    hole_diameter: FloatLike,
    half_angle: FloatLike,
) -> FloatLike:
    """Stiffness of a hollow frustum of a cone, pressed at its smaller face.

    Parameters
    ----------
    thickness, face_diameter, hole_diameter : float or ndarray
        t, diameter D of the smaller face and hole d [mm]; D above d.
    modulus : float or ndarray
        E [MPa].
    half_angle : float or ndarray
        Half-angle a of the cone [rad], above 0.

    Returns
    -------
    float or ndarray
        ``pi E d tan a / ln[(2 t tan a + D - d)(D + d) / ((2 t tan a + D + d)(D - d))]`` [N/mm],
        Shigley, 9th ed., eq. 8-19. The book passes the fastener's diameter as the hole.

    Examples
    --------
    Shigley, 9th ed., Ex. 8-5, p. 448: 46.46 Mlbf/in for the upper frustum in steel.

    >>> round(float(frustum_stiffness(0.5, 30.0, 0.9375, 0.625, math.radians(30))), 2)
    46.46
    """
    tan, D, d = np.tan(half_angle), face_diameter, hole_diameter
    far = D + 2 * thickness * tan
    stiffness: FloatLike = (
        math.pi * modulus * d * tan / np.log((far - d) * (D + d) / ((far + d) * (D - d)))
    )
    return stiffness


def sleeve_stiffness(
    thickness: FloatLike, modulus: FloatLike, outer_diameter: FloatLike, hole_diameter: FloatLike
) -> FloatLike:
    """Stiffness of a hollow cylinder.

    Parameters
    ----------
    thickness, outer_diameter, hole_diameter : float or ndarray
        Length and diameters [mm].
    modulus : float or ndarray
        E [MPa].

    Returns
    -------
    float or ndarray
        ``E pi/4 (Do² - d²) / t`` [N/mm].

    Examples
    --------
    >>> round(sleeve_stiffness(40.0, 70e3, 20.0, 10.0))
    412334
    """
    ring = outer_diameter * outer_diameter - hole_diameter * hole_diameter
    return modulus * math.pi / 4 * ring / thickness


def pressed_pieces(
    layers: Sequence[Layer],
    head_bearing_diameter: float,
    nut_bearing_diameter: float | None,
    half_angle: float,
) -> tuple[Piece, ...]:
    """Cones and sleeves that stand for the clamped layers, from the head on, then from the nut on.

    Parameters
    ----------
    layers : sequence of Layer
        From head to nut.
    head_bearing_diameter : float
        Diameter of the pressed face under the head [mm].
    nut_bearing_diameter : float or None
        Diameter of the pressed face under the nut [mm]; None for a tapped hole, where the
        pressure spreads from the head alone.
    half_angle : float
        Half-angle of the cones [rad], above 0: 30° in Shigley, or `cone_angle_through` and
        `cone_angle_tapped`.

    Returns
    -------
    tuple of Piece
        Springs in series: a layer's compliance is the sum of its pieces' shapes over its modulus.

    Raises
    ------
    ValueError
        A pressed face is no larger than the hole it lies on.

    Notes
    -----
    Each cone follows `frustum_stiffness`; where it reaches the outer diameter of a layer it goes
    on as a cylinder. The two cones of a through-bolt are cut where they meet: at mid-grip for
    equal faces (Shigley, 9th ed., Sec. 8-5). A single cone for the tapped hole is that of
    VDI 2230-1:2003 (w = 2); for Shigley's way, add the part of the tapped layer down to half a
    diameter and pass the same face at both ends.

    Examples
    --------
    Shigley, 9th ed., Ex. 8-5, p. 448: frusta of 0.5, 0.1875 and 0.3125 in, the second from 1.298
    in, of washer and cover (one steel) on half a diameter of tapped iron.

    >>> stack = [Layer(0.6875, 30.0, 0.625, None), Layer(0.3125, 16.0, 0.625, None)]
    >>> for piece in pressed_pieces(stack, 0.9375, 0.9375, math.radians(30)):
    ...     print(piece.layer, piece.side, round(piece.thickness, 4), round(piece.diameter, 3))
    0 head 0.5 0.938
    1 nut 0.3125 0.938
    0 nut 0.1875 1.298
    """
    grip = sum(layer.thickness for layer in layers)
    places = range(len(layers))
    if nut_bearing_diameter is None:
        return _cone(layers, places, "head", head_bearing_diameter, grip, half_angle)
    offset = (nut_bearing_diameter - head_bearing_diameter) / (4 * math.tan(half_angle))
    meeting = min(max(grip / 2 + offset, 0.0), grip)
    return (
        *_cone(layers, places, "head", head_bearing_diameter, meeting, half_angle),
        *_cone(layers, places[::-1], "nut", nut_bearing_diameter, grip - meeting, half_angle),
    )


# Of a cone's depth: a piece thinner than this is rounding, in which its stiffness has no digit.
_SLIVER = 1e-12


def _cone(
    layers: Sequence[Layer],
    places: Sequence[int],
    side: str,
    face: float,
    depth: float,
    half_angle: float,
) -> tuple[Piece, ...]:
    """Pieces of one cone, layer by layer, down to a depth below the pressed face."""
    pieces = []
    tan = math.tan(half_angle)
    diameter, left = face, depth
    for place in places:
        layer = layers[place]
        thickness = min(layer.thickness, left)
        left -= thickness
        if thickness <= _SLIVER * depth:
            continue
        limit = math.inf if layer.outer_diameter is None else layer.outer_diameter
        hole = layer.hole_diameter
        diameter = min(diameter, limit)
        if diameter <= hole:
            raise ValueError(
                f"pressed face ({diameter:g} mm) must be larger than the hole it lies on"
                f" ({hole:g} mm)"
            )
        conical = min(thickness, (limit - diameter) / (2 * tan))
        if conical <= _SLIVER * depth:
            conical = 0.0
        elif thickness - conical <= _SLIVER * depth:
            conical = thickness
        if conical > 0:
            shape = 1 / float(frustum_stiffness(conical, 1.0, diameter, hole, half_angle))
            pieces.append(Piece(place, "cone", side, conical, diameter, hole, shape))
        if conical < thickness:
            rest = thickness - conical
            shape = 1 / float(sleeve_stiffness(rest, 1.0, limit, hole))
            pieces.append(Piece(place, "sleeve", side, rest, limit, hole, shape))
        diameter += 2 * conical * tan
    return tuple(pieces)


def cone_angle_through(bearing_diameter: float, grip: float, outer_diameter: float) -> float:
    """Half-angle of the pressure cone of a through-bolt, depending on the joint's proportions.

    Parameters
    ----------
    bearing_diameter, grip : float
        d_W and l_K [mm].
    outer_diameter : float
        Diameter D_A of the clamped parts [mm].

    Returns
    -------
    float
        Angle [rad] with ``tan phi = 0.362 + 0.032 ln(beta/2) + 0.153 ln y``, ``beta = l_K/d_W``,
        ``y = D_A/d_W``.

    Notes
    -----
    VDI 2230-1:2003, eq. 5.1/27 (formula from memory).

    Examples
    --------
    >>> round(math.degrees(cone_angle_through(18.0, 36.0, 36.0)), 1)
    25.1
    """
    beta, y = grip / bearing_diameter, outer_diameter / bearing_diameter
    return math.atan(0.362 + 0.032 * math.log(beta / 2) + 0.153 * math.log(y))


def cone_angle_tapped(bearing_diameter: float, grip: float, outer_diameter: float) -> float:
    """Half-angle of the pressure cone of a fastener in a tapped hole.

    Parameters
    ----------
    bearing_diameter, grip, outer_diameter : float
        d_W, l_K and D_A [mm].

    Returns
    -------
    float
        Angle [rad] with ``tan phi = 0.348 + 0.013 ln beta + 0.193 ln y``, ``beta = l_K/d_W``,
        ``y = D_A/d_W``.

    Notes
    -----
    VDI 2230-1:2003, eq. 5.1/26 (formula from memory).

    Examples
    --------
    >>> round(math.degrees(cone_angle_tapped(18.0, 18.0, 36.0)), 1)
    25.7
    """
    beta, y = grip / bearing_diameter, outer_diameter / bearing_diameter
    return math.atan(0.348 + 0.013 * math.log(beta) + 0.193 * math.log(y))
