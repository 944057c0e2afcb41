"""The keys of a table that names a law, as records: what each may be, and how they go together."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from preloadmc.case_file.common_scatter import common_words
from preloadmc.case_file.kinds import Quantity, Shape, Value, defined
from preloadmc.case_file.law_kind import SharedScatter
from preloadmc.case_file.law_of_tests import COUNT, OF_FILES, OF_LISTS, PRICE
from preloadmc.case_file.law_table import (
    BESIDE_NUMBERS,
    COVERAGE,
    KIND,
    MEANINGS,
    SCATTER_RATIO,
    SHAPE_NUMBER,
    SHARE,
    SPREADS,
    WAYS,
)
from preloadmc.case_file.word_kinds import Text, Word
from preloadmc.chance.fitting import FITTED_KINDS
from preloadmc.chance.knowledge import FEWEST_TESTS
from preloadmc.units import RATIO, TEMPERATURE, Dimension

# The spread of a law is one of several keys.
ONE_SPREAD = "one spread"


class _Among(NamedTuple):
    """What a key of a law may be that is no kind of value elsewhere."""

    allowed: str
    shape: Shape


class LawKey(NamedTuple):
    """One key of a law's table.

    ``example`` is as it would be typed for a torque; ``value`` returns what the key may be where
    the law is one of a dimension. ``default`` says what holds where the key is not stated.
    """

    key: str
    meaning: str
    example: str
    value: Callable[[Dimension], Value]
    default: str = ""


def _sd(dimension: Dimension) -> Value:
    return _width(dimension, both_ways=False)


def _half_width(dimension: Dimension) -> Value:
    return _width(dimension, both_ways=True)


def _width(dimension: Dimension, *, both_ways: bool) -> Value:
    """Return what a width may be; a share of the mean where the dimension has a zero."""
    plain = Quantity(dimension.of_difference, above=0.0, both_ways=both_ways)
    if dimension in (RATIO, TEMPERATURE):
        return plain
    ratio = Quantity(RATIO, both_ways=both_ways)
    share = {"type": "string", "pattern": r"%\s*$", **ratio.shape}
    return _Among(f"{plain.allowed}, or a share of the mean in %", {"anyOf": [plain.shape, share]})


def _variation(dimension: Dimension) -> Value:
    if dimension is TEMPERATURE:
        return _Among("nothing: it would depend on the zero of the scale", {"not": {}})
    return SHARE


def _values(dimension: Dimension) -> Value:
    return _Among(
        f"a list, each {dimension.with_article}, or a number in the unit",
        _list_of_values(dimension, 1),
    )


def _list_of_values(dimension: Dimension, fewest: int) -> Shape:
    item = {"anyOf": [Quantity(dimension).shape, {"type": "number"}]}
    return {"type": "array", "items": item, "minItems": fewest}


def _tests(dimension: Dimension) -> Value:
    return _Among(
        f"the path of a CSV file, a list of at least {FEWEST_TESTS} values, or {COUNT.allowed}",
        {
            "anyOf": [
                Text("a file").shape,
                _list_of_values(dimension, FEWEST_TESTS),
                COUNT.bare_shape,
            ]
        },
    )


def _measuring(dimension: Dimension) -> Value:
    errors = {"sd": Quantity(dimension.of_difference, above=0.0)}
    if dimension is not TEMPERATURE:
        errors["cov"] = Quantity(RATIO, above=0.0)
    return _Among(
        f"a table of {' or '.join(errors)}",
        {
            "type": "object",
            "properties": {key: error.shape for key, error in errors.items()},
            "minProperties": 1,
            "maxProperties": 1,
            "additionalProperties": False,
        },
    )


_WORDS = _Among(
    "a table of words by column",
    {
        "type": "object",
        "additionalProperties": {"not": {"type": ["object", "array", "boolean"]}},
    },
)

# fmt: off
LAW_KEYS = (
    LawKey("law", MEANINGS["law"], '"lognormal"', lambda _: KIND),
    LawKey("mean", "mean of the quantity itself", '"84 N·m"', Quantity),
    LawKey("sd", "standard deviation, as a width or as a share of the mean", '"3 N·m"', _sd),
    LawKey("cov", "standard deviation over mean", '"12 %"', _variation),
    LawKey("half_width", "half the width that the coverage speaks of", '"6 %"', _half_width),
    LawKey("scatter_ratio", "largest over smallest value", "1.6", lambda _: SCATTER_RATIO),
    LawKey("coverage", MEANINGS["coverage"], '"2 sd"', lambda _: COVERAGE),
    LawKey("low", "least value", '"80 N·m"', Quantity),
    LawKey("mode", "likeliest value", '"84 N·m"', Quantity),
    LawKey("high", "largest value", '"90 N·m"', Quantity),
    LawKey("shape", "shape of a weibull law", "2.0", lambda _: SHAPE_NUMBER),
    LawKey("scale", "scale of a weibull law", '"12 N·m"', Quantity),
    LawKey("location", "least value of a weibull law", '"70 N·m"', Quantity),
    LawKey("alpha", "first shape of a beta law", "2.0", lambda _: SHAPE_NUMBER),
    LawKey("beta", "second shape of a beta law", "3.0", lambda _: SHAPE_NUMBER),
    LawKey("value", "value of a constant", '"84 N·m"', Quantity),
    LawKey("values", "measured values", "[82, 84, 87]", _values),
    LawKey("unit", "unit of all measured values", '"N·m"', lambda _: Text("a unit")),
    LawKey("tests", "tests that the law is known from: a CSV file, a list of values, or how many "
           "they were", "25", _tests),
    LawKey("column", "column of the file that holds the values", '"torque"',
           lambda _: Text("a name")),
    LawKey("where", "words by column: only rows with them count", '{ lubricant = "oil" }',
           lambda _: _WORDS),
    LawKey("lot", "column of the file that tells the lot of each test", '"batch"',
           lambda _: Text("a name")),
    LawKey("measuring", "known measuring error, taken out of the scatter", '{ sd = "1 N·m" }',
           _measuring),
    LawKey("test_price", "price of one more test, in the currency of [cost]", "40",
           lambda _: PRICE),
    LawKey("as_good_as", "how many tests a law is worth that no tests stand behind", "8",
           lambda _: COUNT),
    LawKey("shared", "scatter that several fasteners have in common",
           '{ by = "lot", fraction = 0.6 }', lambda _: SharedScatter(), common_words()),
)
# fmt: on


class LawWay(NamedTuple):
    """One way to state a law: which keys its table must have, and which it may have.

    ``laws`` are those stated so. ``needed`` are its keys in the order in which they are read, with
    `ONE_SPREAD` for one of the spreads; ``of`` says what stands under ``tests`` where that is what
    tells the law, and ``tests`` what may stand there, as a JSON Schema.
    """

    laws: tuple[str, ...]
    needed: tuple[str, ...]
    may: tuple[str, ...]
    tests: Shape
    of: str = ""


def law_ways() -> Iterator[LawWay]:
    """Yield every way to state a law: by its numbers, by a list of tests, by a file of them."""
    for law, ways in WAYS.items():
        beside = BESIDE_NUMBERS if law in FITTED_KINDS else ("shared",)
        for way in ways:
            needed = tuple(
                key
                for number in way.numbers
                for key in ((ONE_SPREAD,) if number.is_spread else number.needed)
            )
            yield LawWay((law,), needed, (*way.keys, *beside), COUNT.bare_shape)
    for keys, type_, words in ((OF_LISTS, "array", "a list"), (OF_FILES, "string", "a CSV file")):
        may = tuple(key for key in keys if key != "law")
        yield LawWay(FITTED_KINDS, ("tests",), may, {"type": type_}, words)


def law_ways_shape(with_mean: bool) -> Shape:
    """Return which keys of a law go together, as a JSON Schema; what each may be is not in it.

    Parameters
    ----------
    with_mean : bool
        Whether a law must have its mean: a scatter about a set value need not.
    """
    return {"oneOf": [_way_shape(way, with_mean) for way in law_ways()]}


def _way_shape(way: LawWay, with_mean: bool) -> Shape:
    others = {word: meant for word, meant in KIND.others.items() if meant in way.laws}
    law = Word(way.laws, others).shape
    left_out = (ONE_SPREAD,) if with_mean else (ONE_SPREAD, "mean")
    shape: Shape = {
        "title": f"{' or '.join(way.laws)}: {', '.join(way.needed)}",
        "properties": {"law": law} | {key: {} for key in way.may},
        "required": ["law", *(key for key in way.needed if key not in left_out)],
        "additionalProperties": False,
    }
    if "tests" in way.may:
        shape["properties"]["tests"] = way.tests
    return shape | defined(ONE_SPREAD) if ONE_SPREAD in way.needed else shape


def one_spread_shape() -> Shape:
    """Return that one of the spreads stands in a table, as a JSON Schema."""
    return {
        "oneOf": [{"required": [key]} for key in SPREADS],
        "dependentRequired": {"scatter_ratio": ["coverage"]},
    }


def law_shape(dimension: Dimension, about: bool) -> Shape:
    """Return the table of a law of a dimension as a JSON Schema.

    Parameters
    ----------
    dimension : Dimension
        What the quantity measures.
    about : bool
        Whether it is a scatter about a set value.
    """
    return {
        "type": "object",
        "properties": {
            key.key: key.value(dimension).shape | {"description": key.meaning} for key in LAW_KEYS
        },
        "required": ["law"],
        "allOf": [defined(WAYS_OF_A_SCATTER if about else WAYS_OF_A_LAW)],
    }


WAYS_OF_A_LAW, WAYS_OF_A_SCATTER = "ways to state a law", "ways to state a scatter"


def law_definitions() -> dict[str, Shape]:
    """Return the definitions that the shapes of all laws share, by name."""
    return {
        WAYS_OF_A_LAW: law_ways_shape(with_mean=True),
        WAYS_OF_A_SCATTER: law_ways_shape(with_mean=False),
        ONE_SPREAD: one_spread_shape(),
    }
