"""Where the fasteners of [group] sit, and what each takes of the loads of the joint."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity
from preloadmc.case_file.list_kinds import Row, Rows
from preloadmc.inputs import Default
from preloadmc.joint.group import AXIAL, BENDING, TORSIONAL, TRANSVERSE
from preloadmc.mechanics import rigid_plate
from preloadmc.units import ANGLE, LENGTH, RATIO, Array

CIRCLE, ROW, _POSITIONS = "group.circle", "group.row", "group.positions"
_LAYOUTS = {CIRCLE: "circle", ROW: "row", _POSITIONS: "positions"}
_AXIAL_SHARES, _TRANSVERSE_SHARES = "group.axial_shares", "group.transverse_shares"
DIRECTION_ACROSS, DIRECTION_OPENS = "group.transverse_direction", "group.bending_direction"
# Typed shares of a load add up to one, as far as they are rounded.
_ROUNDED = 0.005
LOAD_FIELDS = (
    Field(
        CIRCLE,
        Quantity(LENGTH, above=0.0),
        "diameter of the bolt circle",
        '"240 mm"',
        called=("bolt_circle", "bolt_circle_diameter", "pitch_circle", "pcd", "diameter"),
    ),
    Field(
        ROW,
        Quantity(LENGTH, above=0.0),
        "distance from fastener to fastener in a row",
        '"80 mm"',
        called=("pitch", "spacing", "distance"),
    ),
    Field(
        _POSITIONS,
        Rows(Row(Quantity(LENGTH), 2)),
        "x and y of every fastener",
        '[["0 mm", "0 mm"], ["80 mm", "0 mm"]]',
    ),
    Field(
        DIRECTION_ACROSS,
        Quantity(ANGLE),
        "direction of the transverse load, from the x axis on",
        '"90 deg"',
        Default(0.0, "0 deg: along the x axis, towards fastener 1 of a circle"),
    ),
    Field(
        DIRECTION_OPENS,
        Quantity(ANGLE),
        "direction in which the bending moment opens the joint, from the x axis on",
        '"90 deg"',
        Default(0.0, "0 deg: on the side of the x axis, that of fastener 1 of a circle"),
    ),
    Field(
        _AXIAL_SHARES,
        Row(Quantity(RATIO, low=-1.0, high=1.0)),
        "share of the axial load that each fastener takes, in place of even ones",
        "[0.3, 0.2, 0.3, 0.2]",
    ),
    Field(
        _TRANSVERSE_SHARES,
        Row(Quantity(RATIO, low=-1.0, high=1.0)),
        "share of the transverse load that each fastener takes, in place of even ones",
        "[0.3, 0.2, 0.3, 0.2]",
    ),
)


def positions_of(draft: Draft, n: int | None) -> tuple[str, Array | None]:
    """Return the layout and the positions about their centroid; none where none are stated.

    ``n`` is the number of fasteners, None where it is not known: then there are no positions.
    """
    stated = draft.stated
    given = [path for path in _LAYOUTS if path in stated]
    for path in given[1:]:
        stated.problem(path, f"remove it: {given[0]} gives the positions already")
    if not given:
        return "", None
    layout = _LAYOUTS[given[0]]
    if layout == "positions":
        points = stated.get(_POSITIONS, tuple)
        if points is None or n is None:
            return layout, None
        if len(points) != n:
            stated.problem(_POSITIONS, f"a position for each of the {n} fasteners")
            return layout, None
        found = np.array(points)
        if len({tuple(point) for point in points}) < n:
            stated.problem(_POSITIONS, "positions that are all different")
            return layout, None
        return layout, found - found.mean(axis=0)
    size = stated.get(given[0], float)
    if size is None or n is None:
        return layout, None
    return layout, rigid_plate.circle(n, size) if layout == "circle" else rigid_plate.row(n, size)


def loads_of(
    draft: Draft, n: int | None, positions: Array | None
) -> tuple[Array, Array, Array, Array, Array] | None:
    """Return what each fastener takes of axial load, bending, transverse load and torsion.

    None with the problem noted, also where ``n`` is not known.
    """
    stated = draft.stated
    axial = _typed_shares(draft, _AXIAL_SHARES, AXIAL, n)
    typed = _typed_shares(draft, _TRANSVERSE_SHARES, TRANSVERSE, n)
    if AXIAL in stated or TRANSVERSE in stated:
        for path, load, shares in (
            (_AXIAL_SHARES, AXIAL, axial),
            (_TRANSVERSE_SHARES, TRANSVERSE, typed),
        ):
            if load in stated and shares is None:
                draft.assume(path, "even", "rigid plate, load through the centroid")
    moments = [path for path in (BENDING, TORSIONAL) if path in stated]
    if moments and not any(path in stated or stated.problems.at(path) for path in _LAYOUTS):
        stated.problem(moments[0], f"positions of the fasteners: state {' or '.join(_LAYOUTS)}")
    if n is None or (moments and positions is None):
        return None
    angle = stated.known(DIRECTION_ACROSS, float)
    direction = np.array([math.cos(angle), math.sin(angle)])
    zero = np.zeros(n)
    bending, torsional = zero, np.zeros((n, 2))
    share = np.full(n, 1.0 / n) if typed is None else typed
    transverse = share[:, None] * direction
    if BENDING in stated and positions is not None:
        draft.assume_default(DIRECTION_OPENS)
        opens = stated.known(DIRECTION_OPENS, float)
        found = _bending(positions, np.array([math.cos(opens), math.sin(opens)]))
        if found is None:
            words = (
                "a moment that opens the joint along its row: fasteners on one line carry no other"
            )
            stated.problem(BENDING, words)
            return None
        bending = found
    if TORSIONAL in stated and positions is not None:
        torsional = rigid_plate.transverse_shares(positions)[:, :, 2]
        if TRANSVERSE in stated:
            # Without a moment all fasteners carry the load alike, whatever its direction.
            draft.assume_default(DIRECTION_ACROSS)
    return (
        np.full(n, 1.0 / n) if axial is None else axial,
        bending,
        transverse,
        torsional,
        direction,
    )


def _bending(positions: Array, opens: Array) -> Array | None:
    """Return each fastener's axial force per moment that opens the joint in a direction [1/mm].

    None where all sit on one line and the moment opens the joint across it.
    """
    along = positions @ opens
    try:
        shares = rigid_plate.axial_shares(positions)
    except ValueError:
        if not np.allclose(np.abs(along), np.hypot(*positions.T), rtol=1e-6, atol=1e-9):
            return None
        found: Array = along / float(along @ along)
        return found
    # A moment about y pulls at positive x, or the other way about: taken so that it opens the joint
    # in the direction asked for.
    about = shares[:, 1] * -opens[1] + shares[:, 2] * opens[0]
    signed: Array = about if float(about @ along) > 0.0 else -about
    return signed


def _typed_shares(draft: Draft, path: str, load: str, n: int | None) -> Array | None:
    """Return the shares of a load that are typed; None where they are even."""
    stated = draft.stated
    if path not in stated:
        return None
    if load not in stated and not stated.problems.at(load):
        stated.problem(path, f"remove it, or state {load}, the load that is shared")
    shares = stated.get(path, tuple)
    if shares is None:
        return None
    if n is not None and len(shares) != n:
        stated.problem(path, f"a share for each of the {n} fasteners")
    elif abs(sum(shares) - 1.0) > _ROUNDED:
        stated.problem(path, f"shares that add up to 1; these add up to {sum(shares):.4g}")
    else:
        return np.array(shares) / sum(shares)
    return None
