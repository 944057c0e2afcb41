"""Rows of a table by name; a name that it does not hold is answered with the nearest spellings."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import TypeVar

Row = TypeVar("Row")
# Names that are listed where none is like the one given.
_FEW = 8
# A shorter word stands in many names.
_WORD = 3


def folded(name: str) -> str:
    """Name without what does not matter in it: letter case and spaces beyond one.

    Examples
    --------
    >>> folded(" Spring  washer")
    'spring washer'
    """
    return " ".join(name.casefold().split())


def row_named(
    kind: str,
    given: str,
    rows: Mapping[str, Row],
    known: Iterable[str],
    spelling: Callable[[str], str] = folded,
) -> Row:
    """Row of a table by its name.

    Parameters
    ----------
    kind : str
        What the table lists, in words: "thread", "material".
    given : str
        The name as it was written.
    rows : mapping of str to Row
        Rows by the name that ``spelling`` makes of theirs.
    known : iterable of str
        The names as they are printed.
    spelling : callable
        Takes from a name what does not matter.

    Raises
    ------
    ValueError
        No such row, with the nearest names.

    Examples
    --------
    >>> row_named("material", "Steel", {"steel": 207e3}, ["steel"])
    207000.0
    """
    found = rows.get(spelling(given))
    if found is None:
        raise unknown_name(kind, given.strip(), known)
    return found


def unknown_name(kind: str, given: str, known: Iterable[str]) -> ValueError:
    """Error for a name that a table does not hold, with the nearest spellings it does hold.

    Parameters
    ----------
    kind : str
        What the table lists, in words: "thread", "material".
    given : str
        The name as it was written.
    known : iterable of str
        Every name of the table.

    Returns
    -------
    ValueError
        To be raised by the caller.
    """
    names = {name.casefold(): name for name in known}
    close = get_close_matches(given.casefold(), names, n=4, cutoff=0.5)
    if not close:
        # A name within the one given, or the other way round, as 6082 and 6082-T6.
        words = [word for word in re.split(r"[^\w.]+", given.casefold()) if len(word) >= _WORD]
        close = [name for name in names if any(word in name for word in words)][:4]
    if close:
        hint = "nearest: " + ", ".join(names[name] for name in close)
    else:
        listed = list(names.values())
        more = ", ..." if len(listed) > _FEW else ""
        hint = "known: " + ", ".join(listed[:_FEW]) + more
    return ValueError(f"unknown {kind} {given!r}; {hint}")
