"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from preloadmc.case import MOST_SAMPLES
from preloadmc.report.text.cautions import CAUTIONS
from preloadmc.units import RATIO, TIME, parse_quantity

Function = TypeVar("Function", bound=Callable[..., Any])
# Older click has no generic parameter types.
if TYPE_CHECKING:
    _ParamType = click.ParamType[float]
else:
    _ParamType = click.ParamType
EPILOG = "Cautions: " + " ".join(CAUTIONS)


class Share(_ParamType):
    """A number above 0 and up to 1, given as such or in per cent."""

    name = "share"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the share as a number."""
        try:
            number = parse_quantity(str(value), RATIO)
        except ValueError as error:
            self.fail(f"{value!r}: {error}", param, ctx)
        if not 0.0 < number <= 1.0:
            self.fail(
                f"{value!r}: a share above 0 and at most 1, such as 0.05 or '5 %'", param, ctx
            )
        return number


class Time(_ParamType):
    """A time above 0, with its unit."""

    name = "time"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the time [s]."""
        try:
            number = parse_quantity(str(value), TIME)
        except ValueError as error:
            self.fail(f"{value!r}: {error}", param, ctx)
        if not number > 0.0:
            self.fail(f"{value!r}: a time above 0, such as '5 years'", param, ctx)
        return number


case_argument = click.argument("case", type=click.Path(path_type=Path))
units_option = click.option(
    "--units",
    type=click.Choice(["metric", "inch"]),
    help="Units of the text and figures; those of the thread unless given.",
)
seed_option = click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), help="Seed; that of the case unless given."
)
threads_option = click.option(
    "--threads",
    type=click.IntRange(1, 256),
    help="Threads; all cores unless given. The result is the same for any number.",
)


def sampling_options(function: Function) -> Function:
    """Add --samples and --precision."""
    function = click.option(
        "--precision",
        type=Share(),
        help="Sample until the half width of each interval is this share of its probability, "
        "such as '5 %'.",
    )(function)
    return click.option(
        "--samples", type=click.IntRange(1, MOST_SAMPLES), help="How many samples to draw."
    )(function)
