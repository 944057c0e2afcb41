"""Signs as they are printed, for words that are typed in plain text."""

from __future__ import annotations

import re

POWER = re.compile(r"\sx\s10\^(-?\d+)")
_TYPED = re.compile(r"(?<![^\s(])(->|\+-)(?=\s)")
_SIGNS = {"->": "→", "+-": "±"}
_DEGREE = re.compile(r"\bdeg([CF])\b")
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
# Keeps a number and its unit on one line.
NO_BREAK = "\N{NO-BREAK SPACE}"


def with_signs(text: str) -> str:
    """Return a text with arrows, plus-minus and degree signs; powers of ten stay as typed.

    Examples
    --------
    >>> with_signs("20 degC +- 2 -> 5 %")
    '20 °C ± 2 → 5 %'
    """
    return _DEGREE.sub(r"°\1", _TYPED.sub(lambda typed: _SIGNS[typed[1]], text))


def with_powers(text: str) -> str:
    """Return a text with its signs, and its powers of ten raised.

    Examples
    --------
    >>> with_powers("3.1 x 10^-7 +- 2 %").replace(NO_BREAK, "_")
    '3.1_×_10⁻⁷ ± 2 %'
    """
    return POWER.sub(_raised, with_signs(text))


def _raised(power: re.Match[str]) -> str:
    return f"{NO_BREAK}×{NO_BREAK}10{power[1].translate(_RAISED)}"
