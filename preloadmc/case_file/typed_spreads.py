"""A spread that is typed into one text, as "90 N·m ±10 %", and the law that states it."""

from __future__ import annotations

import re
from typing import Any

from preloadmc.typed_numbers import split_quantity

# What is typed for ±, also as a regular expression of JSON Schema.
SIGN = r"\s*(?:±|\+\s?/\s?[-−]|\+[-−])\s*"
_PLUS_MINUS = re.compile(SIGN)
_BETWEEN = re.compile(r"(?<=[\d\w%])\s*(?:\.\.\.?|…|–|\bto\b|(?<=\d)\s*-)\s*(?=[\d.])")
_COVERAGE = "coverage says how many lie within ('1 sd', '2 sd', '3 sd', or a share such as '95 %')"


def without_sign(given: Any) -> Any:
    """Return what was given for a half width without the ± before it.

    Examples
    --------
    >>> without_sign("±10 %"), without_sign("+/-10 %"), without_sign(0.1)
    ('10 %', '10 %', 0.1)
    """
    if not isinstance(given, str):
        return given
    sign = _PLUS_MINUS.match(given)
    return given[sign.end() :] if sign else given


def one_number_of(given: Any) -> str:
    """Return what is wrong with a spread in place of one number; empty for everything else."""
    if isinstance(given, str) and _PLUS_MINUS.search(given):
        return "one number without ±; a half width has a key of its own, in a law"
    return "one number, not a range" if ends_of(given) else ""


def law_in_text(given: Any) -> str:
    """Return the law that states a spread in one text or list; empty where there is none.

    Examples
    --------
    >>> law_in_text("90 ± 5 N·m").partition(", coverage = ")[0]
    '{ law = "normal", mean = "90 N·m", half_width = "5 N·m"'
    >>> law_in_text("0.10 to 0.16")
    '{ law = "uniform", low = 0.1, high = 0.16 }, or another law between or about them'
    >>> law_in_text("90 N·m")
    ''
    """
    ends = ends_of(given)
    if ends is not None:
        low, high = ends
        law = f'{{ law = "uniform", low = {low}, high = {high} }}'
        return f"{law}, or another law between or about them"
    parts = _PLUS_MINUS.split(given) if isinstance(given, str) else []
    if len(parts) != 2:
        return ""
    mean, half = split_quantity(parts[0]), split_quantity(parts[1])
    if half is None or (mean is None and parts[0].strip()):
        return ""
    stated = ""
    if mean is not None:
        unit = mean[1] or ("" if half[1] == "%" else half[1])
        stated = f"mean = {_typed(mean[0], unit)}, "
        if half[1] == "%" and not unit:
            # A per cent of a ratio would be a width of its own.
            half = half[0] / 100 * mean[0], ""
        elif not half[1]:
            half = half[0], unit
    width = f"half_width = {_typed(*half)}"
    return f'{{ law = "normal", {stated}{width}, coverage = "2 sd" }}, where {_COVERAGE}'


def ends_of(given: Any) -> tuple[str, str] | None:
    """Return both ends of a range as they are typed in a law; None where there is none."""
    parts = _BETWEEN.split(given) if isinstance(given, str) else given
    if not isinstance(parts, list) or len(parts) != 2:
        return None
    split = [split_quantity(str(part)) for part in parts if not isinstance(part, bool)]
    if None in split or len(split) != 2:
        return None
    (low, low_unit), (high, high_unit) = ((each[0], each[1]) for each in split if each)
    return _typed(low, low_unit or high_unit), _typed(high, high_unit)


def _typed(number: float, unit: str) -> str:
    return f'"{number:g} {unit}"' if unit else f"{number:g}"
