"""How the fasteners of [group] are tightened, and what one takes from the others."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Flag, Quantity, Table, Whole
from preloadmc.case_file.list_kinds import OrderOrWord, Row, Rows
from preloadmc.case_file.sections.group_loads import CIRCLE, ROW
from preloadmc.case_file.word_kinds import Word
from preloadmc.inputs import Default
from preloadmc.mechanics import interaction
from preloadmc.mechanics.tightening_order import ORDERS, Order, Pass, around
from preloadmc.units import LENGTH, RATIO, STRESS, Array

_ORDER, _TOOLS, _PASSES = "group.order", "group.tools_at_once", "group.passes"
_FINAL = "group.final_round"
_NEIGHBOURS, _MATRIX = "group.interaction.neighbours", "group.interaction.matrix"
_THICKNESS, _WIDTH = "group.interaction.ring_thickness", "group.interaction.ring_width"
_MODULUS = "group.interaction.ring_modulus"
_RING = (_THICKNESS, _WIDTH, _MODULUS)
_LINES = ("circle", "row")
SEQUENCE = (_ORDER, _TOOLS, _PASSES, _FINAL)
_SHARE = Quantity(RATIO, low=0.0, high=1.0)
TIGHTENING_FIELDS = (
    Field(
        _ORDER,
        OrderOrWord(Word(tuple(ORDERS))),
        "order of tightening",
        '"star"',
        Default("around", "around: one after the other"),
        called=("sequence", "pattern"),
    ),
    Field(
        _TOOLS,
        Whole(1, 4),
        "tools that tighten at once, opposite each other",
        "2",
        Default(1, "1: one fastener at a time"),
        called=("tools", "wrenches"),
    ),
    Field(
        _PASSES,
        Row(Quantity(RATIO, above=0.0, high=1.0)),
        "share of the full setting in each pass, the last one 100 %",
        '["50 %", "100 %"]',
        Default((1.0,), "one pass at the full setting"),
        called=("stages", "steps", "rounds"),
    ),
    Field(
        _FINAL,
        Flag(),
        "whether a last round at the full setting follows, one after the other",
        "true",
        Default(False, "false: no last round"),
    ),
    Field("group.interaction", Table(), "preload that tightening one fastener takes from others"),
    Field(
        _NEIGHBOURS,
        Row(_SHARE),
        "share of what a fastener gains that its first, second... neighbour on each side loses",
        '["12 %", "3 %"]',
    ),
    Field(
        _MATRIX,
        Rows(Row(Quantity(RATIO, low=-1.0, high=1.0))),
        "share of what the fastener of each column gains that the one of each row loses",
        "[[0, 0.1], [0.1, 0]]",
    ),
    Field(
        _THICKNESS,
        Quantity(LENGTH, above=0.0),
        "thickness of the flange ring, to estimate the interaction from stiffness",
        '"28 mm"',
    ),
    Field(
        _WIDTH,
        Quantity(LENGTH, above=0.0),
        "radial width of the flange ring, to estimate the interaction from stiffness",
        '"60 mm"',
    ),
    Field(
        _MODULUS,
        Quantity(STRESS, above=0.0),
        "modulus of the flange ring; half of it where two equal flanges bend",
        '"205 GPa"',
    ),
)


def coefficients_of(draft: Draft, n: int | None, layout: str) -> tuple[Array | None, str]:
    """Return the coefficients of elastic interaction (n, n), None with the problem noted.

    ``n`` is the number of fasteners, None where it is not known: then there are none either.
    """
    stated = draft.stated
    ring = [path for path in _RING if path in stated]
    ways = [path for path in (_NEIGHBOURS, _MATRIX) if path in stated] + ring[:1]
    for path in ways[1:]:
        stated.problem(path, f"remove it: {ways[0]} gives the interaction already")
    if not ways:
        draft.assume(
            "group.interaction",
            "none: tightening a fastener takes nothing from the others",
            "not given in the case file; soft gaskets and thin flanges interact",
        )
        return (None if n is None else np.zeros((n, n))), ""
    found: Array | None = None
    source = "stated in the case file"
    if ways[0] == _MATRIX:
        rows = stated.get(_MATRIX, tuple)
        if rows is not None and (len(rows), len(rows[0])) != ((n or len(rows)),) * 2:
            stated.problem(_MATRIX, f"{n or len(rows)} rows of {n or len(rows)} numbers")
        elif rows is not None and np.array(rows).diagonal().any():
            stated.problem(_MATRIX, "zeros on the diagonal: no fastener takes from itself")
        elif rows is not None:
            found = np.array(rows)
    elif ways[0] == _NEIGHBOURS:
        shares = stated.get(_NEIGHBOURS, tuple)
        if layout not in ("circle", "row"):
            stated.problem(
                _NEIGHBOURS, f"a circle or a row, which tell neighbours: state {CIRCLE} or {ROW}"
            )
        elif shares is not None and n is not None and len(shares) >= n:
            stated.problem(_NEIGHBOURS, f"fewer than {n} shares: there are no more neighbours")
        elif shares is not None and n is not None:
            found = interaction.by_neighbour(n, shares, closed=layout == "circle")
    else:
        found, source = _from_stiffness(draft, n, layout)
    if found is None or n is None:
        return None, source
    too_much = interaction.takes_too_much(found)
    if too_much:
        which = _listed([fastener + 1 for fastener in too_much])
        stated.problem(
            ways[0],
            "an interaction that leaves each fastener some preload; here the others take all of "
            f"it from fastener {which}",
        )
        return None, source
    return found, source


def _from_stiffness(draft: Draft, n: int | None, layout: str) -> tuple[Array | None, str]:
    """Return coefficients estimated from the stiffness of the flange ring and of the fasteners."""
    stated = draft.stated
    for path in _RING:
        if path not in stated:
            stated.missing(path, stated.field(path).asked)
    size = stated.get(CIRCLE if layout == "circle" else ROW, float) if layout in _LINES else None
    if layout not in _LINES:
        stated.problem(
            _THICKNESS, f"a circle or a row, which tell neighbours: state {CIRCLE} or {ROW}"
        )
    fastener, clamped = (draft.mean(f"joint.{part}_compliance") for part in ("fastener", "clamped"))
    if fastener is None or clamped is None:
        stated.problem(
            _THICKNESS, "[joint] fastener_compliance and clamped_compliance apart, or the layers"
        )
    thickness, width, modulus = (stated.get(path, float) for path in _RING)
    if not (n and thickness and width and modulus and size and fastener and clamped):
        return None, ""
    pitch = math.pi * size / n if layout == "circle" else size
    bending = modulus * width * thickness**3 / 12.0
    found = interaction.from_stiffness(n, pitch, layout == "circle", fastener, clamped, bending)
    draft.assume(
        "group.interaction",
        f"the first neighbour loses {100 * found[0, 1]:.2g} %, the second "
        f"{100 * found[0, 2 % n]:.2g} % of what a fastener gains",
        "beam on an elastic foundation, Hetényi 1946 (from memory); an estimate",
    )
    return found, "beam on an elastic foundation, Hetényi 1946 (from memory)"


def passes_of(draft: Draft, n: int | None) -> tuple[tuple[Pass, ...], str, int] | None:
    """Return the passes of tightening, what their order is called, and the tools at once."""
    stated = draft.stated
    ordered = _order_of(draft, n)
    shares = stated.known(_PASSES, tuple)
    if list(shares) != sorted(shares) or shares[-1] != 1.0:
        stated.problem(_PASSES, "shares that rise to 100 % in the last pass")
        return None
    if n is None or ordered is None or stated.problems.at(_PASSES, _FINAL):
        return None
    steps, name, tools = ordered
    if tools > 1:
        words = f"the {tools} tools at once share what is shared by tool, as one tool would"
        draft.assume("group.tools_at_once shared", words, "engineering judgement")
    passes = [(share, steps) for share in shares]
    if stated.known(_FINAL, bool):
        passes.append((1.0, around(n)))
    return tuple(passes), name, tools


def _order_of(draft: Draft, n: int | None) -> tuple[Order, str, int] | None:
    """Return the order in one pass, its name, and the tools at once; None with a problem noted."""
    stated = draft.stated
    order = stated.get(_ORDER, object)
    if isinstance(order, tuple) and _TOOLS in stated:
        stated.problem(_TOOLS, "remove it: the typed order says what is tightened at once")
    if n is None or stated.problems.at(_ORDER):
        return None
    if isinstance(order, tuple):
        if not _is_whole(draft, order, n):
            return None
        return order, "as typed", max(len(step) for step in order)
    if stated.problems.at(_TOOLS):
        return None
    tools = stated.known(_TOOLS, int)
    return ORDERS[str(order)](n, tools), str(order), tools


def _is_whole(draft: Draft, order: Order, n: int) -> bool:
    """Return whether an order has every fastener once; the problem is noted where not."""
    numbers = [fastener for step in order for fastener in step]
    beyond = sorted({number + 1 for number in numbers if number >= n})
    twice = sorted({number + 1 for number in numbers if numbers.count(number) > 1})
    missing = sorted(set(range(1, n + 1)) - {number + 1 for number in numbers})
    words = []
    if beyond:
        words.append(f"there is no fastener {_listed(beyond)}")
    if twice:
        words.append(f"it repeats {_listed(twice)}")
    if missing:
        words.append(f"it forgets {_listed(missing)}")
    if words:
        text = " and ".join(words)
        draft.stated.problem(_ORDER, f"each of the {n} fasteners once: {text}")
    return not words


def _listed(numbers: list[int]) -> str:
    shown = ", ".join(str(number) for number in numbers[:10])
    return f"{shown}, ..." if len(numbers) > 10 else shown
