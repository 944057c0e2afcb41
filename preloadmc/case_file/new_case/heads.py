"""Heads of fasteners as people call them, and the face that each usually has."""

from __future__ import annotations

import re

from preloadmc.case_file.new_case.answers import NONE
from preloadmc.case_file.new_case.typed import word
from preloadmc.mechanics.names import folded
from preloadmc.mechanics.thread import Thread

# Kinds of heads, with the shape that the case file has for each.
HEADS = {"hexagon": "hexagon", "socket": "socket", "flange": "hexagon", "countersunk": "socket"}
# Words for them, the narrower ones first: a countersunk head has a socket, a flange a hexagon.
_CALLED = {
    "countersunk": r"countersunk|csk|iso 10642",
    "flange": r"flanged?|en 1665",
    "socket": r"socket|allen|shcs|iso 4762|din 912",
    "hexagon": r"hex|hexagon(al)?|iso 401[47]|din 93[13]",
    NONE: r"stud|threaded rod",
}
# Diameter of the bearing face over that of the thread: about those of ISO 4014, ISO 4762, EN 1665
# and ISO 10642 (values from memory).
_SHARES = {"hexagon": 1.4, "socket": 1.45, "flange": 1.95, "countersunk": 2.0, NONE: 1.4}
# Least diameter of the washer face [mm] by nominal diameter [mm], dw of product grade A (values
# from memory), and where it stands.
_FACES: dict[str, tuple[str, dict[int, float]]] = {
    "hexagon": (
        "ISO 4014",
        {3: 4.57, 4: 5.88, 5: 6.88, 6: 8.88, 8: 11.63, 10: 14.63, 12: 16.63, 16: 22.49}
        | {20: 28.19, 24: 33.61, 30: 42.75, 36: 51.11},
    ),
    "socket": (
        "ISO 4762",
        {3: 5.07, 4: 6.53, 5: 8.03, 6: 9.38, 8: 12.33, 10: 15.33, 12: 17.23, 16: 23.17}
        | {20: 28.87, 24: 34.81, 30: 43.61, 36: 52.54},
    ),
}


def head(text: str) -> str:
    """Return a kind of head by its name, or by what else it is called.

    Raises
    ------
    ValueError
        With all of them.

    Examples
    --------
    >>> head("Socket head cap screw"), head("hex bolt"), head("allen"), head("stud")
    ('socket', 'hexagon', 'socket', 'none')
    """
    given = folded(text.replace("-", " "))
    for name, called in _CALLED.items():
        if re.search(rf"\b({called})\b", given):
            return name
    return word(text, (*HEADS, NONE))


def face_of_standard(name: str, found: Thread) -> tuple[float, str] | None:
    """Return the least diameter of a standard face [mm] and its standard; None without a row."""
    standard, rows = _FACES.get(name, ("", {}))
    size = round(found.diameter)
    if found.unit_system != "metric" or size != found.diameter or size not in rows:
        return None
    return rows[size], standard


def usual_face(name: str, found: Thread) -> float:
    """Return the usual diameter of a face [mm], of its standard where that has a row."""
    row = face_of_standard(name, found)
    return _SHARES[name] * found.diameter if row is None else row[0]
