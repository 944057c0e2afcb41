"""Loads on a group of equal fasteners that a rigid plate shares out."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.units import Array


def circle(n: int, diameter: float, first_angle: float = 0.0) -> Array:
    """Positions of fasteners spaced evenly on a circle, about its centre.

    Parameters
    ----------
    n : int
        Number of fasteners.
    diameter : float
        Diameter of the bolt circle [mm].
    first_angle : float
        Angle of the first fastener from the x axis [rad], counter-clockwise like the order.

    Returns
    -------
    (n, 2) ndarray
        x and y [mm].

    Examples
    --------
    >>> circle(4, 100.0).round(9).tolist()
    [[50.0, 0.0], [0.0, 50.0], [-50.0, 0.0], [-0.0, -50.0]]
    """
    angles = first_angle + 2 * math.pi / n * np.arange(n)
    return diameter / 2 * np.column_stack((np.cos(angles), np.sin(angles)))


def row(n: int, pitch: float) -> Array:
    """Positions of fasteners spaced evenly on a line along x, about its middle.

    Parameters
    ----------
    n : int
        Number of fasteners.
    pitch : float
        Distance between neighbours [mm].

    Returns
    -------
    (n, 2) ndarray
        x and y [mm].

    Examples
    --------
    >>> row(3, 50.0).tolist()
    [[-50.0, 0.0], [0.0, 0.0], [50.0, 0.0]]
    """
    along = pitch * (np.arange(n) - (n - 1) / 2)
    return np.column_stack((along, np.zeros(n)))


def axial_shares(positions: Array) -> Array:
    """Axial force on each fastener per unit of axial force and of bending moment on the plate.

    Parameters
    ----------
    positions : (n, 2) ndarray
        x and y of the fasteners [mm], about any origin.

    Returns
    -------
    (n, 3) ndarray
        Per axial force through the centroid of the fasteners [N/N], and per moment about the x and
        about the y axis through it [N per N·mm]. With z along the axial force, moments turn by the
        right hand: ``M_x = sum F_i y_i`` and ``M_y = -sum F_i x_i``.

    Raises
    ------
    ValueError
        The fasteners lie on one line: they cannot take a moment about it. (They still share a force
        through their centroid equally.)

    Notes
    -----
    From first principles: the plate stays plane, so ``F_i = a + b x_i + c y_i``, and equilibrium
    gives a, b and c. The axes need not be principal axes of the group. Equal fasteners, no prying,
    and a plate that stays in touch everywhere.

    Examples
    --------
    On a circle of diameter D a moment loads the outermost fastener by ``4 M/(n D)``.

    >>> axial_shares(circle(8, 200.0))[2, :2].round(6).tolist()
    [0.125, 0.0025]
    """
    x, y = (positions - positions.mean(axis=0)).T
    if _on_one_line(x, y):
        raise ValueError("fasteners on one line cannot take a bending moment about that line")
    plane = np.column_stack((np.ones(len(x)), x, y))
    loads = np.column_stack((np.ones(len(x)), y, -x))
    # F = plane @ c and loads.T @ F = the unit loads.
    return plane @ np.linalg.inv(loads.T @ plane)


def transverse_shares(positions: Array) -> Array:
    """Transverse force on each fastener per unit of transverse force and of torsion on the plate.

    Parameters
    ----------
    positions : (n, 2) ndarray
        x and y of the fasteners [mm], about any origin.

    Returns
    -------
    (n, 2, 3) ndarray
        x and y component on each fastener, per force along x and along y through the centroid
        [N/N], and per moment about the axis of the fasteners through it [N per N·mm],
        counter-clockwise.

    Raises
    ------
    ValueError
        All fasteners are at one place: they cannot take a moment about their axis.

    Notes
    -----
    Primary shear ``F/n`` and secondary shear ``M r_i / sum r²`` square to the arm: Shigley, 9th
    ed., chapter 8, bolted joint in eccentric shear (from memory). For equal fasteners that carry
    in proportion to their displacement, such as fitted ones, or while nothing slips.

    Examples
    --------
    On a circle of diameter D a moment loads each fastener by ``2 M/(n D)``.

    >>> transverse_shares(circle(4, 100.0))[0].round(6).tolist()
    [[0.25, 0.0, 0.0], [0.0, 0.25, 0.005]]
    """
    x, y = (positions - positions.mean(axis=0)).T
    polar = float(x @ x + y @ y)
    if polar == 0.0:
        raise ValueError("fasteners at one place cannot take a moment about their axis")
    n = len(x)
    shares = np.zeros((n, 2, 3))
    shares[:, 0, 0] = shares[:, 1, 1] = 1 / n
    shares[:, 0, 2] = -y / polar
    shares[:, 1, 2] = x / polar
    return shares


# Of the larger second moment: a smaller one below this is rounding of positions on one line.
_ROUNDING = 1e-12


def _on_one_line(x: Array, y: Array) -> bool:
    """Tell whether the smaller principal second moment of the fasteners is none."""
    xx, yy, xy = float(x @ x), float(y @ y), float(x @ y)
    larger = (xx + yy) / 2 + math.hypot((xx - yy) / 2, xy)
    return xx * yy - xy * xy <= _ROUNDING * larger * larger
