"""How answers of several words are read, each into the text that stands for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from preloadmc.case_file.new_case.answers import NONE, Answers
from preloadmc.case_file.new_case.lookup import is_unknown_material, material_name
from preloadmc.case_file.new_case.typed import (
    is_number,
    is_table,
    pieces,
    printable,
    quantity,
    table_of,
    with_points,
    word,
)
from preloadmc.chance.spreads import COVERAGES
from preloadmc.joint import METHODS
from preloadmc.limits import minimum_origins
from preloadmc.mechanics import losses
from preloadmc.mechanics.grades import grade_named
from preloadmc.mechanics.names import folded
from preloadmc.mechanics.thread import thread
from preloadmc.units import (
    ANGLE,
    FORCE,
    LENGTH,
    RATIO,
    SMALL_LENGTH,
    STRESS,
    TEMPERATURE,
    TORQUE,
    parse_quantity,
    to_unit,
)

_COVERAGE = "2 sd"
_ORIGINS = (*minimum_origins(), "structural preloading")
_OF_A_ROOM = ("rt", "room", "room temperature", "ambient")
_ENDS_IN_LENGTH = re.compile(
    r"(.+?)\s+((?:\d+[ -](?=\d+/\d))?\d[\d.,/]*\s*(?:mm|cm|m|inch|in|\")?)", re.IGNORECASE
)
CLAMP, ELONGATION, EMBEDDING, OF_YIELD = (
    "clamp force",
    "plastic elongation",
    "embedding",
    "of yield",
)


def one_text(key: str, read: Callable[[str], str]) -> Callable[[str], Mapping[str, str]]:
    """Return a reader of an answer that stands for itself alone."""
    return lambda text: {key: read(text)}


def thread_name(text: str) -> str:
    """Return a thread by its usual designation."""
    return thread(text).designation


def angle(text: str) -> str:
    """Return a plain angle."""
    text = with_points(text)
    parse_quantity(text, ANGLE)
    return text


def strengths(text: str) -> Mapping[str, str]:
    """Return a property class by its name, or yield strength and tensile strength."""
    first, *others = pieces(text)
    if not is_table(first) and not _is_stress(first):
        return {"property_class": grade_named(with_points(text))}
    if len(others) > 1:
        raise ValueError("two strengths at most: yield strength, tensile strength")
    keys = ("yield_strength", "tensile_strength")
    return {
        "property_class": NONE,
        **{key: quantity(each, STRESS) for key, each in zip(keys, (first, *others), strict=False)},
    }


def _is_stress(text: str) -> bool:
    """Return whether a text begins as a number with a unit, which no property class does."""
    return re.match(r"[\d.,]+\s*[A-Za-z]", text) is not None


def part(text: str) -> str:
    """Return material, thickness and perhaps outer diameter of a part."""
    name, *lengths = _apart(text)
    found = material_name(name)
    if not 1 <= len(lengths) <= 2:
        raise ValueError(
            f"material, thickness, and outer diameter only if small, such as '{found}, 12 mm' or "
            f"'{found}, 12 mm, 34 mm'"
        )
    read = [with_points(each) for each in lengths]
    for each in read:
        parse_quantity(each, LENGTH)
    return ", ".join((found, *read))


def _apart(text: str) -> list[str]:
    """Return material and lengths of a part, also where only blanks stand between them.

    Examples
    --------
    >>> _apart("steel 12 mm"), _apart("aluminium 6082 12 mm, 34 mm")
    (['steel', '12 mm'], ['aluminium 6082', '12 mm', '34 mm'])
    """
    given = pieces(text)
    name, *lengths = given
    while is_unknown_material(name) and (ended := _ENDS_IN_LENGTH.fullmatch(name)):
        name, lengths = ended[1], [ended[2], *lengths]
    # What ends in a bare number may be an alloy that is misspelt.
    is_alloy = is_unknown_material(name) and lengths[:1] and lengths[0].isdigit()
    return given if is_alloy else [name, *lengths]


def engagement(text: str, diameter: float, unit: str) -> str:
    """Return an engaged length that is typed in diameters of the thread [mm] as one in ``unit``.

    Examples
    --------
    >>> engagement("1,5d", 10.0, "mm"), engagement("1 x d", 12.7, "in"), engagement("9 mm", 6.0, "")
    ('15 mm', '0.5 in', '9 mm')
    """
    diameters = re.fullmatch(r"([\d.,]+)\s*[x×*·]?\s*d", text.strip(), re.IGNORECASE)
    if diameters is None:
        return text
    turns = parse_quantity(with_points(diameters[1]), RATIO)
    return f"{to_unit(turns * diameter, unit, LENGTH):.6g} {unit}"


def temperature(text: str) -> str:
    """Return a temperature; that of a room is 20 degC."""
    return "20 degC" if folded(text) in _OF_A_ROOM else quantity(text, TEMPERATURE)


def method(text: str) -> Mapping[str, str]:
    """Return a tightening method by its name, or by a set torque."""
    if is_number(text) or is_table(text):
        return {"method": "torque", "torque": quantity(text, TORQUE)}
    return {"method": word(text, METHODS, "a torque, or ")}


def tool(text: str) -> str:
    """Return a tolerance with its coverage, a cov, a law, or "none" for a tool that repeats."""
    if is_table(text):
        return table_of(text)[0]
    if folded(text) == NONE:
        return NONE
    share, *others = pieces(re.sub(r"^(±|\+/?-)\s*", "", text))
    scatter = folded(share).removeprefix("cov").strip()
    is_cov = scatter != folded(share)
    found = with_points(scatter if is_cov else share)
    parse_quantity(found, RATIO)
    if is_cov and not others:
        return f"cov {found}"
    if is_cov or len(others) > 1:
        raise ValueError("a tolerance and what it covers, such as '6 %, 2 sd', or 'cov 3 %'")
    return f"{found}, {word(with_points(others[0]) if others else _COVERAGE, COVERAGES)}"


def roughness(text: str) -> str:
    """Return a class of roughness, embedding as a length or a law, or "none"."""
    rest = re.sub(rf"^{EMBEDDING}( of)?[ =]+", "", text, flags=re.IGNORECASE)
    if rest != text:
        return f"{EMBEDDING} {quantity(rest, SMALL_LENGTH)}"
    if is_table(text):
        return table_of(text)[0]
    classes = (*losses.ROUGHNESS_CLASSES, NONE)
    text = re.sub(r"(?<=\d)\s*[-–]\s*(?=\d)", " to ", text.replace("Rz", "").replace("<", "below "))
    text = re.sub(r"(?<=\d)(?=[uµμ]m)", " ", text, flags=re.IGNORECASE)
    return word(text, classes, f"'{EMBEDDING}' and a length, or ")


def need(text: str) -> str:
    """Return a least preload or clamp force, or what either follows from."""
    rest = re.sub(r"^(minimum )?clamp( force)?( of)?[ =]+", "", text, flags=re.IGNORECASE)
    if rest != text:
        return f"{CLAMP} {quantity(rest, FORCE)}"
    plain = re.sub(r"^preload( of)? ", "", text, flags=re.IGNORECASE)
    if is_table(plain) or is_number(plain):
        return quantity(plain, FORCE)
    return word(text, _ORIGINS, f"a force, '{CLAMP}' and a force, or ")


def maximum(text: str) -> str:
    """Return a share of yield, a largest preload, or a largest plastic elongation."""
    rest = re.sub(rf"^{ELONGATION}( of)?[ =]+", "", text, flags=re.IGNORECASE)
    if rest != text:
        return f"{ELONGATION} {quantity(rest, SMALL_LENGTH)}"
    plain = re.sub(r"( of)? yield( preload)?$", "", f" {text}", flags=re.IGNORECASE).strip()
    if not plain:
        return f"100 % {OF_YIELD}"
    if is_table(plain):
        return quantity(plain, FORCE)
    plain = with_points(plain)
    try:
        parse_quantity(plain, RATIO)
    except ValueError:
        if plain != with_points(text):
            raise
        return quantity(plain, FORCE)
    return f"{plain} {OF_YIELD}"


def is_past_yield(answer: str) -> bool:
    """Return whether a largest preload lies past yield."""
    if answer.endswith(OF_YIELD):
        return parse_quantity(answer.removesuffix(OF_YIELD).strip(), RATIO) > 1.0
    return answer.startswith(ELONGATION)


def example_maximum(answers: Answers) -> str:
    """Return 90 % of yield, or a plastic elongation for a method that always passes yield."""
    found = METHODS[answers.one("method") or "torque"]
    if found.passes_yield and found.elastic is None:
        return f"{ELONGATION} 8 mil" if answers.system == "inch" else f"{ELONGATION} 200 um"
    return f"90 % {OF_YIELD}"


def state(text: str) -> str:
    """Return name and temperatures of a state; parts are as warm as the fastener unless told."""
    name, *temperatures = pieces(text)
    if not 1 <= len(temperatures) <= 2 or not printable(name):
        raise ValueError(
            "a name and the temperatures of fastener and parts, such as 'hot, 90 degC, 95 degC'"
        )
    read = [temperature(each) for each in temperatures]
    return ", ".join((name, read[0], read[-1]))
