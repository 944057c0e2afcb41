"""Findings and suspects as a commented example, made of the rows of the shipped tables."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from preloadmc.case_file.shipped_suspects import library
from preloadmc.evidence import COUNT, OBSERVATIONS, READINGS, SERVICE_TIME, ReadingKind
from preloadmc.inputs import INPUT_KINDS
from preloadmc.units import ANGLE, FORCE, PERCENT, RATIO, TEMPERATURE, TORQUE, format_quantity

_WIDTH = 96
# Examples of values, in N, N·mm, rad and K; a hardness on the scale of the other findings.
_VALUES = {FORCE: 21e3, TORQUE: 38e3, ANGLE: 0.5, TEMPERATURE: 363.15, PERCENT: -0.04, RATIO: 180.0}
_LOOSE = 10e3
# What a finding asks of the case beside what `evidence` says of its input.
_ASKS = {
    "temperature": "asks for a [[temperature.state]]",
    "slip mark": "asks for [load] transverse and [friction] joint",
}


def investigation_text(system: str) -> str:
    """Return [investigation], [[evidence]] of every kind and [[suspect]], commented out.

    Parameters
    ----------
    system : {"metric", "inch"}
        Units of the values.
    """
    return "".join(f"# {line}".rstrip() + "\n" for line in _lines(system))


def _lines(system: str) -> Iterator[str]:
    yield from _remark(
        "Why joints came loose: take the # from what was found and from what is suspected, with "
        "your own values; then `preloadmc infer`. What each row means: `preloadmc tables evidence "
        "suspects`; all keys: `preloadmc keys evidence`."
    )
    yield "[investigation]"
    yield 'selection = "random"  # or "because loose", or "all" where it was the whole lot'
    yield f'loose_below = "{format_quantity(_LOOSE, FORCE, system, 2)}"'
    for kind, reading in READINGS.items():
        on = () if reading.of_tool else ('fastener = "1"',)
        yield from _finding(kind, reading.input, *on, *_read(reading, system))
    for kind, seen in OBSERVATIONS.items():
        value = "8.8" if seen.is_grade else seen.seen
        yield from _finding(kind, seen.input, 'fastener = "1"', f'value = "{value}"')
    yield from _finding(COUNT, "", 'value = "3 of 12"')
    yield from _finding(SERVICE_TIME, "", 'value = "500 h"')
    for name, entry in library().items():
        yield ""
        yield from _remark(entry["note"])
        yield from ("[[suspect]]", f'library = "{name}"', "prior = 1")


def _finding(kind: str, input_name: str, *lines: str) -> Iterator[str]:
    asks = _ASKS.get(kind, "")
    section, _, key = input_name.partition(".")
    if section == "seat":
        asks = f"asks for [seat] {key} as designed: {INPUT_KINDS[input_name].meaning}"
    yield from ("", "[[evidence]]", f'kind = "{kind}"' + (f"  # {asks}" if asks else ""), *lines)


def _read(reading: ReadingKind, system: str) -> tuple[str, str]:
    """Return value and measuring error of a reading."""
    dimension, error = reading.dimension, reading.usual_error
    value = format_quantity(_VALUES[dimension], dimension, system, 3)
    sd = "5 %" if error is None else format_quantity(error, dimension.of_difference, system, 2)
    return f'value = "{value}"', f'sd = "{sd}"'


def _remark(text: str) -> Iterator[str]:
    """Yield lines that stay comments when the # before them is taken."""
    for line in textwrap.wrap(text, _WIDTH, break_on_hyphens=False):
        yield f"# {line}"
