"""The text of a case file as tables, if it keeps within what a case file can need.

Beyond these bounds a file is refused before anything of it is read: what it would cost to read,
in time and memory, grows faster than the file.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.case_file.problems import UNPRINTABLE, shown

# The deepest key of a case, `alternative.temperature.state.fastener.shared.by`, has six parts.
DEEPEST = 16
LONGEST_KEY = 100
# TOML asks readers for 64 bits, and for an error beyond what they take.
_LARGEST_WHOLE = 2**63 - 1

# The tokens that say how deep a text goes. Each ends where the text does, at the latest, so that
# no character is looked at twice.
_TOKEN = re.compile(
    r"""(?P<text>\"{3}(?:[^"\\]|\\.|"(?!""))*+(?:\"{3}|\Z)|'{3}(?:[^']|'(?!''))*+(?:'{3}|\Z)
        |"(?:[^"\\\n]|\\.)*+"?|'[^'\n]*+'?)
    |(?P<comment>\#[^\n]*+)|(?P<word>[\w+-]++)|(?P<dot>\.)|(?P<open>[\[{])|(?P<close>[\]}])
    |(?P<other>[^\s])|(?P<line>\n)""",
    re.VERBOSE | re.DOTALL,
)


def tables_of(text: str) -> dict[str, Any]:
    """Return the tables of a TOML text.

    Raises
    ------
    ValueError
        In plain words: no TOML, nested too deep, a key too long or with characters that cannot be
        printed, a whole number beyond 64 bits.

    Examples
    --------
    >>> tables_of("[load]\\nslip_faces = 2")
    {'load': {'slip_faces': 2}}
    """
    if _depth(text) > DEEPEST:
        raise ValueError(f"tables, lists and keys nested at most {DEEPEST} deep are needed")
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: also a number of endless digits
        raise ValueError(f"not TOML: {error}") from error
    for words in _faults(data, "", 0):
        raise ValueError(words)
    return data


def _depth(text: str) -> int:
    """Return how deep brackets and dotted keys nest; a little more than the tables do."""
    deepest = brackets = parts = 0
    after_dot = False
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        if kind == "open":
            brackets += 1
        elif kind == "close":
            brackets = max(brackets - 1, 0)
        if kind == "dot":
            after_dot = True
            continue
        if kind in ("word", "text"):
            parts = parts + 1 if after_dot else 1
            deepest = max(deepest, brackets + parts)
        elif kind != "comment":
            parts = 0
        deepest = max(deepest, brackets)
        after_dot = False
    return deepest


def _faults(value: Any, path: str, depth: int) -> Iterator[str]:
    """Yield what is wrong with keys and whole numbers; several headers add up in depth."""
    if depth > DEEPEST:
        yield f"tables, lists and keys nested at most {DEEPEST} deep are needed"
    elif isinstance(value, Mapping):
        for key, item in value.items():
            if len(key) > LONGEST_KEY:
                yield f"a key of at most {LONGEST_KEY} characters is needed (given: {shown(key)})"
            elif UNPRINTABLE.search(key):
                yield f"keys of printable characters are needed (given: {shown(key)})"
            else:
                yield from _faults(item, f"{path}.{key}" if path else key, depth + 1)
    elif isinstance(value, list):
        for place, item in enumerate(value, 1):
            yield from _faults(item, f"{path}[{place}]", depth + 1)
    elif isinstance(value, int) and abs(value) > _LARGEST_WHOLE:
        yield f"whole numbers of at most 64 bits are needed (given: {path} = {shown(value)})"
