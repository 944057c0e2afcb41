"""Numbers as people type them: fractions, decimal commas, powers of ten, divided thousands."""

from __future__ import annotations

import re

# No number with its unit is longer.
LONGEST_QUANTITY = 100

_COMMA = re.compile(r"(?<=\d),(?=\d)")
# A number that begins with 0 has no thousands.
_MAY_DIVIDE_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d,])")
_POINTS_AND_COMMAS = re.compile(r"\d[\d.,]*[.,]\d+[.,]\d[\d.,]*")
_SUPERSCRIPTS = "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻"
_RAISED = re.compile(f"[{_SUPERSCRIPTS}]+")
_LOWERED = str.maketrans(_SUPERSCRIPTS, "0123456789+-")
# A minus sign and dashes that stand for it; blanks of all widths.
_PLAIN = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " "})
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}

# What most cells of a table are, without looking for more.
_SIMPLE = re.compile(r"([+-]?\d{1,15}(?:\.\d{1,15})?) ?([A-Za-z%][A-Za-z·*/%]*)?")
# Thousands may be divided by blanks (ISO 80000-1, 7.3.1) or apostrophes. A power of ten behind a
# cross or point needs a raised exponent, or one with a sign.
_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)
    (?:(?P<whole>\d{1,3})(?:\ |-)(?P<top>\d{1,3})/(?P<bottom>[1-9]\d{0,2})(?![\d.])
    |(?P<number>\d{1,3}(?:[ '’]\d{3})+(?!\d|\s*/\s*\d)(?:\.\d+)?|\d[\d_]*\.?\d*|\.\d+)
     (?P<exponent>[eE][+-]?\d+)?
     (?:\s*/\s*(?P<divisor>[1-9]\d*))?
     (?:\s*[x×*·]\s*10\ ?(?:(?:\^|\*\*)\s?(?P<raised>[+-]?\d+)|(?P<signed>[+-]\d+)))?)
    \s*(?P<unit>.*)""",
    re.VERBOSE | re.DOTALL,
)

# The same as a regular expression of JSON Schema, with the blanks, dashes and raised digits that
# stand for those above, and behind a look ahead that refuses a comma in doubt.
_BLANK, _SIGN = "[ \u00a0\u2009\u202f]", "[+−–-]"
_DIGITS = (
    rf"(?:\d{{1,3}}(?:(?:{_BLANK}|['’])\d{{3}})+(?!\d|\s*/\s*\d)(?:[.,]\d+)?"
    r"|\d[\d_]*(?:\.\d*|,\d+)?|\.\d+)"
)
_POWER = (
    rf"\s*[x×*·]\s*10{_BLANK}?"
    rf"(?:(?:\^|\*\*)\s?{_SIGN}?\d+|[⁺⁻]?[⁰¹²³⁴-⁹]+|{_SIGN}\d+)"
)
_AS_TYPED = (
    rf"(?![\s\S]*(?:^|[^\d.,])[1-9]\d{{0,2}},\d{{3}}(?![\d,]))\s*{_SIGN}?"
    rf"(?:\d{{1,3}}(?:{_BLANK}|[−–-])\d{{1,3}}/[1-9]\d{{0,2}}(?![\d.])"
    rf"|(?:(?:\d{{1,3}}\s*)?[{''.join(_VULGAR)}]"
    rf"|{_DIGITS}(?:[eE]{_SIGN}?\d+)?(?:\s*/\s*[1-9]\d*)?)(?:{_POWER})?)"
)


def number_pattern(before: str = "", behind: str = "") -> str:
    """Return a regular expression of JSON Schema for a number between two others, and blanks.

    Examples
    --------
    >>> pattern = re.compile(number_pattern(behind="mm"))
    >>> [bool(pattern.search(text)) for text in ("15,33 mm", "1 1/2 mm", "3×10⁻² mm", "1,500 mm")]
    [True, True, True, False]
    """
    return rf"^{before}{_AS_TYPED}\s*{behind}\s*$"


def lowered(text: str) -> str:
    """Return a text with ``^2`` for ², and so on.

    Examples
    --------
    >>> lowered("N/mm²"), lowered("10⁻⁶ K⁻¹")
    ('N/mm^2', '10^-6 K^-1')
    """
    return _RAISED.sub(lambda found: f"^{found[0].translate(_LOWERED)}", text)


def without_vulgar_fractions(text: str) -> str:
    """Return a text with ``1/2`` for ½, and so on.

    Examples
    --------
    >>> without_vulgar_fractions("1½ in"), without_vulgar_fractions("½-13 UNC")
    ('1 1/2 in', '1/2-13 UNC')
    """
    for mark, words in _VULGAR.items():
        text = re.sub(rf"(?<=\d)\s*{mark}", f" {words}", text).replace(mark, words)
    return text


def split_quantity(given: str) -> tuple[float, str] | None:
    """Return number and unit of a quantity as typed; None where it does not begin with a number.

    A comma between digits stands before the decimals, unless it may divide thousands
    (`doubt_in_number`).

    Examples
    --------
    >>> split_quantity("84 N·m"), split_quantity("3/8 in"), split_quantity("much")
    ((84.0, 'N·m'), (0.375, 'in'), None)
    >>> split_quantity("1 1/2 in"), split_quantity("15,33 mm"), split_quantity("33 000 N")
    ((1.5, 'in'), (15.33, 'mm'), (33000.0, 'N'))
    >>> split_quantity("12×10⁻⁶/K"), split_quantity("1,500 N")
    ((1.2e-05, '/K'), None)
    """
    if len(given) > LONGEST_QUANTITY:
        return None
    if simple := _SIMPLE.fullmatch(given):
        return float(simple[1]), simple[2] or ""
    if doubt_in_number(given):
        return None
    text = without_vulgar_fractions(lowered(given.translate(_PLAIN)))
    match = _NUMBER.fullmatch(with_decimal_point(text) if has_decimal_comma(text) else text)
    if match is None:
        return None
    if match["whole"]:
        top, bottom = int(match["top"]), int(match["bottom"])
        if top >= bottom:
            return None
        number = int(match["whole"]) + top / bottom
    else:
        digits = re.sub(r"[_ '’]", "", match["number"])
        number = float(f"{digits}{match['exponent'] or ''}") / float(match["divisor"] or 1)
        power = match["raised"] or match["signed"]
        if power:
            # Beyond this, floating point ends.
            number *= 10.0 ** max(min(int(power), 300), -300)
    return -number if match["sign"] == "-" else number, match["unit"].strip()


def doubt_in_number(given: str) -> str:
    """Return how a number is to be written that can be read in two ways; empty for others.

    Examples
    --------
    >>> doubt_in_number("1,500 N"), doubt_in_number("15,33 mm")
    ("'1.500 N' or '1500 N': the comma may be either", '')
    >>> doubt_in_number("1.500,5 N"), doubt_in_number("1,500,000")
    ("'1500.5': one point, before the decimals", "'1500000': one point, before the decimals")
    """
    several = _POINTS_AND_COMMAS.search(given)
    if several is not None:
        parts = re.split(r"[.,]", several[0])
        # Marks of two kinds: the last one stands before the decimals. Of one kind: thousands.
        kinds = set(re.findall(r"[.,]", several[0]))
        end = f".{parts.pop()}" if len(kinds) > 1 else ""
        return f"'{''.join(parts)}{end}': one point, before the decimals"
    return comma_in_doubt(given)


def has_decimal_comma(cell: str) -> bool:
    """Return whether one comma stands between the digits of a number.

    Examples
    --------
    >>> has_decimal_comma("24,5 kN"), has_decimal_comma("24.5 kN"), has_decimal_comma("1,234,567")
    (True, False, False)
    """
    return "," in cell and len(_COMMA.findall(cell)) == 1


def with_decimal_point(cell: str) -> str:
    """Return a number with a point for its decimal comma."""
    return _COMMA.sub(".", cell)


def comma_in_doubt(cell: str) -> str:
    """Return the two ways to read a number whose comma may divide thousands; empty for others.

    Examples
    --------
    >>> comma_in_doubt("1,500 N")
    "'1.500 N' or '1500 N': the comma may be either"
    >>> comma_in_doubt("0,132"), comma_in_doubt("24,5 kN")
    ('', '')
    """
    if not _MAY_DIVIDE_THOUSANDS.search(cell):
        return ""
    return f"'{_COMMA.sub('.', cell)}' or '{_COMMA.sub('', cell)}': the comma may be either"
