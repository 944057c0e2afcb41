"""A bolted joint as a network of springs with contact, solved exactly: nothing of the package."""

from __future__ import annotations

from itertools import product

import numpy as np
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve

# Nodes along the axis: fastener's head, face of the upper part, point where the load enters it,
# its inner face; the same of the lower part in reverse; the nut, which is held.
HEAD, TOP, ENTRY, FACE, LOWER_FACE, LOWER_ENTRY, BOTTOM, NUT = range(8)


def solve(fastener_compliance, clamped_compliance, introduction, shortening, axial):
    """Forces of a joint whose fastener is too short by ``shortening``, under an axial load.

    Parameters
    ----------
    fastener_compliance, clamped_compliance : float
        [mm/N].
    introduction : float
        Share of the parts' compliance between the points where the load enters.
    shortening : float
        How much shorter than the stack the fastener is unstressed [mm].
    axial : float
        Load that pulls the parts apart [N].

    Returns
    -------
    tuple of float
        Force in the fastener and clamp force between the parts [N].
    """
    outer = (1.0 - introduction) / 2.0 * clamped_compliance
    inner = introduction / 2.0 * clamped_compliance
    springs = [
        (TOP, ENTRY, outer),
        (ENTRY, FACE, inner),
        (LOWER_FACE, LOWER_ENTRY, inner),
        (LOWER_ENTRY, BOTTOM, outer),
    ]
    contacts = [(HEAD, TOP), (FACE, LOWER_FACE), (BOTTOM, NUT)]
    for closed in product((True, False), repeat=len(contacts)):
        found = _with_contacts(fastener_compliance, springs, contacts, closed, shortening, axial)
        if found is not None:
            return found
    raise AssertionError("no state of contact is in equilibrium")


def _with_contacts(fastener_compliance, springs, contacts, closed, shortening, axial):
    """Return the forces with these contacts closed, or None where that is not possible."""
    n = 8
    # Unknowns: displacements, then the force of each contact.
    size = n + len(contacts)
    matrix, right = lil_matrix((size, size)), np.zeros(size)

    def spring(i, j, compliance):
        for a, b in ((i, j), (j, i)):
            matrix[a, a] += 1.0 / compliance
            matrix[a, b] -= 1.0 / compliance

    for i, j, compliance in springs:
        spring(i, j, max(compliance, 1e-13))
    spring(HEAD, NUT, fastener_compliance)
    pull = shortening / fastener_compliance
    right[HEAD], right[NUT] = -pull, pull
    right[ENTRY], right[LOWER_ENTRY] = axial, -axial
    for place, ((i, j), is_closed) in enumerate(zip(contacts, closed, strict=True)):
        row = n + place
        # The contact pushes its upper node up and its lower node down.
        matrix[i, row], matrix[j, row] = -1.0, 1.0
        if is_closed:
            matrix[row, i], matrix[row, j] = 1.0, -1.0
        else:
            matrix[row, row] = 1.0
    # The nut is held; a node that nothing holds otherwise stays where it is.
    for node in (NUT, *_loose(springs, contacts, closed)):
        matrix[node, node] += 1.0
    solution = spsolve(matrix.tocsr(), right)
    moved, pushed = solution[:n], solution[n:]
    scale = max(abs(pull), abs(axial), 1.0)
    for (i, j), is_closed, force in zip(contacts, closed, pushed, strict=True):
        if is_closed and force < -1e-9 * scale:
            return None
        if not is_closed and moved[i] - moved[j] < -1e-9 * scale * fastener_compliance:
            return None
    residual = matrix.tocsr() @ solution - right
    if np.abs(residual).max() > 1e-6 * scale:
        return None
    # Equilibrium of each part by itself, whatever holds a loose node.
    upper = pushed[1] - pushed[0] + axial
    lower = pushed[2] - pushed[1] - axial
    if max(abs(upper), abs(lower)) > 1e-6 * scale:
        return None
    return pull + (moved[HEAD] - moved[NUT]) / fastener_compliance, pushed[1]


def _loose(springs, contacts, closed):
    """Nodes of a part that touches nothing: one of each would float."""
    upper, face, lower = closed
    if not upper and not face:
        yield FACE
    if not lower and not face:
        yield LOWER_FACE
