"""An input's law in words, in the unit of the reader."""

from __future__ import annotations

import math

from preloadmc.chance.laws import Constant, Law, Tabulated
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import INSTRUMENT_ERROR, input_kind
from preloadmc.units import (
    PERCENT,
    TEMPERATURE,
    Dimension,
    format_quantity,
)


def law_words(name: str, law: Law, system: str = "metric") -> str:
    """Return the law of the input ``name`` in words.

    Examples
    --------
    >>> from preloadmc.chance.laws import LogNormal, Normal
    >>> law_words("friction.thread", LogNormal(0.13, 0.0156))
    'lognormal, mean 0.13, s.d. 0.0156 (12 %)'
    >>> law_words("tightening.tool", Normal(1.0, 0.03))
    'normal, mean 0 %, s.d. 3 %'
    """
    dimension = _printed(name)
    tests = f"; {law.source}" if isinstance(law, Tested) else ""
    law = law.best_estimate()
    # A scatter about a set value is a factor inside; readers know it as a deviation.
    if input_kind(name).about:
        law = law.shifted(-input_kind(name).about)
    if isinstance(law, Constant):
        return format_quantity(law.value, dimension, system)
    difference = dimension.of_difference
    kind = f"table of {law.count} values" if isinstance(law, Tabulated) else law.kind
    words = (
        f"{kind}, mean {format_quantity(law.mean, dimension, system)}, "
        f"s.d. {format_quantity(law.sd, difference, system, 3)}"
    )
    if dimension not in (TEMPERATURE, PERCENT) and law.mean:
        words += f" ({100 * law.sd / abs(law.mean):.3g} %)"
    low, high = law.support
    if math.isfinite(low) and math.isfinite(high):
        words += (
            f", from {format_quantity(low, dimension, system)}"
            f" to {format_quantity(high, dimension, system)}"
        )
    return words + tests


def value_words(name: str, value: float, system: str = "metric") -> str:
    """Return one value of the input ``name`` in words.

    Parameters
    ----------
    name : str
        Name of the input.
    value : float
        Its value in N, mm, MPa, N·mm, K, rad.
    system : {"metric", "inch"}
        Whose unit is printed.

    Returns
    -------
    str
        Number with its unit; the scatter of a tool as a deviation in per cent.

    Examples
    --------
    >>> value_words("tightening.tool", 0.93)
    '-7 %'
    """
    return format_quantity(value - input_kind(name).about, _printed(name), system, 3)


def _printed(name: str) -> Dimension:
    """Return the dimension to print an input in: shares of a set value or preload in per cent."""
    kind = input_kind(name)
    shares = ("tightening.bias", "settling.relaxation", INSTRUMENT_ERROR.name)
    return PERCENT if kind.about or kind.name in shares else kind.dimension
