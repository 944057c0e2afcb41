"""The first step of a derivation by hand: what the tool really gives of the set value."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from preloadmc.joint.quantities import control_factor
from preloadmc.joint.tightened import Inputs
from preloadmc.steps import Step, Value, percent, ratio
from preloadmc.units import FloatLike


def controlled(
    title: str,
    symbol: str,
    made: Callable[[str, FloatLike], Value],
    set_value: FloatLike,
    x: Inputs,
) -> tuple[Value, Iterator[Step]]:
    """Return what the tool really gives, and the step that says so where it is not the set one."""
    factor = float(control_factor(x))
    given = made(f"{symbol}_set", set_value)
    if factor == 1.0:
        return made(symbol, set_value), iter(())
    real = made(symbol, given.value * factor)
    step = Step(
        title,
        symbol,
        f"{{{given.symbol}}}·(1 + {{b}})·{{e}}",
        (given, percent("b", x["tightening.bias"]), ratio("e", x["tightening.tool"])),
        real.value,
        real.dimension,
        "mean of the tool: bias b, scatter about the set value e",
    )
    return real, iter((step,))
