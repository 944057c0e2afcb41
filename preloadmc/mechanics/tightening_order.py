"""The order in which the fasteners of a joint are tightened, with one tool or several at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

# Groups of fasteners, counted from 0, each tightened at once.
Order = tuple[tuple[int, ...], ...]
# Share of the target preload, and the order.
Pass = tuple[float, Order]


def around(n: int, tools: int = 1) -> Order:
    """One fastener after the other; several tools start evenly spaced and go round together.

    Parameters
    ----------
    n, tools : int
        Number of fasteners, and of those tightened at once.

    Returns
    -------
    Order
        Each fastener once; the last groups are smaller where the tools do not divide n.

    Examples
    --------
    >>> around(6, 2)
    ((0, 3), (1, 4), (2, 5))
    """
    part = -(-n // tools)
    return tuple(tuple(range(first, n, part)) for first in range(part))


def star(n: int, tools: int = 1) -> Order:
    """Crosswise: each fastener opposite the last one, or as far away as the circle lets it.

    Parameters
    ----------
    n, tools : int
        Number of fasteners, and of those tightened at once.

    Returns
    -------
    Order
        Each fastener once. Where four divides n, squares of four (two opposite, then the two
        between them), else opposite pairs, or for odd n single ones; the squares, pairs or single
        ones themselves skip about half of their number at a time. For 4, 8, 12, 16, 20 and 24
        the star pattern of ASME PCC-1 (from memory). The last group is smaller where the tools do
        not divide n.

    Examples
    --------
    >>> star(8)
    ((0,), (4,), (2,), (6,), (1,), (5,), (3,), (7,))
    >>> star(8, 2)
    ((0, 4), (2, 6), (1, 5), (3, 7))
    >>> star(5)
    ((0,), (2,), (4,), (1,), (3,))
    """
    corners = 4 if n % 4 == 0 else 2 if n % 2 == 0 else 1
    part = n // corners
    step = max(part // 2, 1)
    # Opposite first, then the pair square to it.
    turns = (0, 2 * part, part, 3 * part) if corners == 4 else (0, part)[:corners]
    # Through the places that are a step apart, then through those one further on.
    starts = _walk(part, step)
    return _in_groups([start + turn for start in starts for turn in turns], tools)


def middle_outwards(n: int, tools: int = 1) -> Order:
    """From the middle of a row to its ends, on both sides in turn.

    Parameters
    ----------
    n, tools : int
        Number of fasteners, and of those tightened at once.

    Returns
    -------
    Order
        Each fastener once. Several tools work on both sides alike: the middle one of an odd number
        comes alone, and the last group may be smaller.

    Examples
    --------
    >>> middle_outwards(5)
    ((2,), (1,), (3,), (0,), (4,))
    >>> middle_outwards(5, 2)
    ((2,), (1, 3), (0, 4))
    """
    half = n // 2
    outwards = [i for side in range(half) for i in (half - 1 - side, n - half + side)]
    middle: Order = ((half,),) if n % 2 else ()
    return middle + _in_groups(outwards, tools)


ORDERS: Mapping[str, Callable[[int, int], Order]] = MappingProxyType(
    {"around": around, "star": star, "middle outwards": middle_outwards}
)


def _walk(n: int, step: int) -> list[int]:
    """Return 0 to n - 1, a step apart around the circle, skipping on where one is taken."""
    found: list[int] = []
    place = 0
    for _ in range(n):
        while place in found:
            place = (place + 1) % n
        found.append(place)
        place = (place + step) % n
    return found


def _in_groups(fasteners: list[int], tools: int) -> Order:
    return tuple(tuple(fasteners[i : i + tools]) for i in range(0, len(fasteners), tools))
