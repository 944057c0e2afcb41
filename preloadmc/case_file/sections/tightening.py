"""The section [tightening]: the method, what it controls, and a preload of typical scatter."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field, Form
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.law_table import COVERAGE
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.sections.fastener import TURNED
from preloadmc.case_file.word_kinds import Named, Word
from preloadmc.chance import spreads
from preloadmc.chance.laws import Constant, Law, Normal
from preloadmc.inputs import Default, input_label
from preloadmc.joint import METHODS, SEATING, Method
from preloadmc.mechanics.fastener import NO_HEAD
from preloadmc.mechanics.scatter_table import TypicalScatter, known_scatters, typical_scatter
from preloadmc.told import Magnitude, percent
from preloadmc.typed_numbers import split_quantity
from preloadmc.units import FORCE, LENGTH

GAUGE_LENGTH = "tightening.gauge_length"
ACCEPTED_ANGLE = "tightening.accept.angle"
TYPICAL = Named(
    "a row of the table of typical scatter", typical_scatter, known_scatters, table="scatter"
)
METHOD = Word(METHODS)
_METHOD = "tightening.method"
FIELDS = (
    Field("tightening", Table(), "tightening method, its setting and its tool"),
    Field(_METHOD, METHOD, "tightening method", '"torque"', needed=True),
    Field(
        TURNED,
        Word(("head", "nut")),
        "side that is turned: its bearing face and the friction under it take the torque",
        '"nut"',
        Default("head", "head: the face under the head takes the torque"),
    ),
    Field(
        GAUGE_LENGTH,
        Quantity(LENGTH, above=0.0),
        "length from the head on over which the elongation is measured",
        '"40 mm"',
    ),
)
# The tool's own inputs, which a method without a set value does not have.
_OF_A_TOOL = ("tightening.bias", "tightening.tool")
# What only a fastener past yield has.
_PAST_YIELD = ("fastener.plastic_strain", "requirement.maximum_plastic_elongation")
# A tool this far off its set value on the average is worth a question.
_FAR_OFF = 0.2
# No tool repeats better, as s.d.; what is typed below is easily a share with a percent sign too
# many, whose tolerance [%] is no wider than this.
_LEAST_SCATTER, _WIDEST_MEANT = 0.003, 20.0
# Beyond, a number is no tolerance of a tool: a factor such as 1.04, or torques.
_WIDEST_TOLERANCE = 0.9
# The widest that a published band is commonly meant [s.d.].
_WIDEST_BAND = 3.0


def method_of(stated: Stated) -> Method | None:
    """Return the tightening method; None where it is not known.

    A method that can stop below yield does, unless the case states what only a fastener past yield
    has: a plastic strain, a largest plastic elongation, or a maximum preload above yield. Yield is
    then a miss, as for tightening by torque, and no plastic strain is asked for. Where the tool
    watches the angle, the angle that only seats the joint is an input of the method.
    """
    # Where its key is misspelt in a change, another method than that of the case is meant.
    known = None if stated.problems.at(_METHOD) else stated.get(_METHOD, str)
    method = METHODS.get(known or "")
    if method is not None and method.elastic is not None and not _goes_past_yield(stated):
        method = method.elastic
    if method is not None and "angle" in method.monitors and ACCEPTED_ANGLE in stated:
        return replace(method, controls=(*method.controls, SEATING))
    return method


def _goes_past_yield(stated: Stated) -> bool:
    if any(path in stated for path in _PAST_YIELD):
        return True
    if stated.form("requirement.maximum_preload") is None:
        return False
    return (stated.get("requirement.maximum_preload.fraction", float) or 0.0) > 1.0


def unread_inputs(method: Method | None) -> frozenset[str]:
    """Return the inputs of [tightening] that a method does not read; none without a method."""
    if method is None:
        return frozenset()
    own = {control.input for control in method.controls}
    others = {control.input for each in METHODS.values() for control in each.controls}
    return frozenset(others - own) | (frozenset() if method.has_tool else frozenset(_OF_A_TOOL))


def check_controls(draft: Draft, method: Method | None, changed: bool) -> None:
    """Ask for what the method controls, refuse what it does not, and doubt a tool far off.

    Parameters
    ----------
    draft : Draft
        The case so far.
    method : Method or None
        Its tightening method.
    changed : bool
        Whether an alternative or a suspect put this method in the place of another. The tool of
        another method says nothing of this one: a tool that repeats exactly is then not assumed.
    """
    if method is None:
        return
    stated = draft.stated
    for control in method.controls:
        if control.default is None and control.input not in stated:
            stated.missing(control.input, control.words)
    for name in sorted(unread_inputs(method), key=stated.fields.place):
        if name in stated and name in _OF_A_TOOL:
            stated.problem(name, f"remove it: the method '{method.name}' has no set value")
        elif name in stated:
            stated.problem(name, f"remove it: the method '{method.name}' does not control it")
    if GAUGE_LENGTH in stated and not method.stretches_fastener:
        stated.problem(GAUGE_LENGTH, f"remove it: the method '{method.name}' measures no length")
    if method.setting == "pump_force":
        _check_tensioner(draft)
    if changed:
        _ask_for_tool(draft, method)
    if not method.has_tool:
        draft.laws["tightening.bias"] = Constant(0.0)
        draft.laws["tightening.tool"] = Constant(1.0)
    # A factor in place of a scatter is easily typed, and so is a width without a law.
    law = draft.laws.get("tightening.tool")
    if isinstance(law, Constant) and law.value != 1.0:
        off = abs(law.value - 1.0)
        share = f"{100 * off:.4g} %" if off < _WIDEST_TOLERANCE else "10 %"
        stated.problem(
            "tightening.tool",
            f'a scatter about the set value: {{ tolerance = "{share}", coverage = "2 sd" }}, where '
            "coverage says how many lie within the tolerance ('1 sd', '2 sd', '3 sd', "
            f"'rectangular', '95 %'), or {{ law = \"normal\", cov = \"{share}\" }} where it is one "
            "s.d.; a tool that is off by one share every time is stated as bias",
        )
        return
    if law is not None and abs(law.mean - 1.0) > _FAR_OFF:
        draft.warnings.append(
            f"tightening.tool is off the set value by {100 * (law.mean - 1.0):+.3g} % on the "
            "average; its mean is the share by which the tool is off, not a factor."
        )
    _doubt_exact_tool(draft)
    if method.typical_scatter:
        _doubt_small_scatter(draft, method, typical_scatter(method.typical_scatter))


def _check_tensioner(draft: Draft) -> None:
    """A tensioner pulls at a nut, on the thread above it."""
    stated = draft.stated
    is_stud = stated.known("fastener.head", str) == NO_HEAD
    if not is_stud and stated.known("fastener.mate", str) != "nut":
        stated.problem(
            "fastener.head",
            f"{NO_HEAD} in a tapped hole: a tensioner pulls at the nut of a stud; a headed "
            "fastener there has none",
        )
        return
    held = "the lower end" if is_stud else "the head"
    draft.assume(
        "where the pump force acts",
        f"on the fastener and on {held}; the seat and the engaged thread of the nut at which it "
        "pulls carry what is left; the thread above that nut and the seat of the tensioner itself "
        "are not judged",
        "equilibrium",
    )


def _doubt_exact_tool(draft: Draft) -> None:
    """Warn of a tool that scatters less than any does, with the width that was likely meant."""
    law = draft.laws.get("tightening.tool")
    if law is None or not 0.0 < law.sd < _LEAST_SCATTER:
        return
    given = draft.stated.given("tightening.tool")
    stated = given if isinstance(given, Mapping) else {}
    typed = [split_quantity(str(each)) for key, each in stated.items() if key != "mean"]
    widths = (100.0 * each[0] for each in typed if each is not None and each[1] == "%")
    likely = next((f"{width:g} %" for width in widths if 0.0 < width <= _WIDEST_MEANT), "")
    draft.warnings.append(
        f"tightening.tool: a scatter of {percent(law.sd)} (1 s.d.); usual is "
        f"{percent(_LEAST_SCATTER)} or more (engineering judgement)"
        + (f"; is {likely} meant?" if likely else ".")
    )


def _doubt_small_scatter(draft: Draft, method: Method, row: TypicalScatter) -> None:
    """Warn where a tool, with what it sets, scatters less than is published of its method.

    The row is of the preload and does not say which share of joints its band holds. So the tool's
    band is taken as wide as a band is ever meant, 3 s.d., and held against the best case of the
    row: what lies below that is less than any reading of the row.
    """
    set_value = draft.laws.get(f"tightening.{method.scatter_about}")
    tool = draft.laws.get("tightening.tool")
    if set_value is None or tool is None:
        return
    half = _WIDEST_BAND * math.hypot(set_value.sd / set_value.mean, tool.sd / tool.mean)
    if half < row.low:
        draft.warnings.append(
            f"tightening.tool scatters by ±{100 * half:.3g} % (3 s.d.), less than the table of "
            f"typical scatter gives '{method.name}': ±{100 * row.low:.3g} to "
            f"{100 * row.high:.3g} % of the preload, friction included ({row.source})."
        )


def _ask_for_tool(draft: Draft, method: Method) -> None:
    """Ask for the scatter of the tool, unless what it sets is itself a law with scatter."""
    stated = draft.stated
    if not method.has_tool or "tightening.tool" in stated:
        return
    about = f"tightening.{method.scatter_about}"
    law = draft.laws.get(about)
    if (law is None and about in stated) or (law is not None and law.sd > 0.0):
        return
    stated.missing(
        "tightening.tool",
        f"the scatter of what this method controls, the {input_label(about)}, about its set value "
        '("0 %" if the tool repeats exactly): the case states none that holds for it',
    )


def _typical_preload(draft: Draft) -> Law | None:
    """Return a stated scatter as a row of the shipped table, asked for by name."""
    stated = draft.stated
    path = "tightening.preload"
    row = stated.get(f"{path}.typical", TypicalScatter)
    nominal = stated.get(f"{path}.nominal", float)
    coverage = stated.get(f"{path}.coverage", str)
    end = stated.known(f"{path}.case", str)
    if row is None or nominal is None or coverage is None:
        return None
    half = row.high if end == "worst" else row.low
    sd = spreads.sd_from_half_width(half, coverage) * nominal
    draft.assume(
        path,
        (
            "normal, mean ",
            Magnitude(nominal, FORCE),
            ", s.d. ",
            Magnitude(sd, FORCE, 3),
            f": '{row.name}', ±{100 * half:.3g} % at its {end}, read as {coverage}",
        ),
        f"{row.source}; it does not say which share of fasteners the band holds",
    )
    return Normal(nominal, sd)


TYPICAL_PRELOAD = Form(
    "tightening.preload",
    "typical",
    (
        Field(
            "tightening.preload.typical",
            TYPICAL,
            "row of the table of typical scatter",
            '"by feel, Machinery\'s Handbook"',
        ),
        Field(
            "tightening.preload.nominal",
            Quantity(FORCE, above=0.0),
            "middle preload of the band",
            '"15 kN"',
            needed=True,
        ),
        Field(
            "tightening.preload.coverage", COVERAGE, "how the band is meant", '"2 sd"', needed=True
        ),
        Field(
            "tightening.preload.case",
            Word(("best", "worst")),
            "which end of the published range",
            '"worst"',
            Default("worst", "worst"),
        ),
    ),
    _typical_preload,
)
