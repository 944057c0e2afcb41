"""What is said when a name is not in a table: the nearest spellings, or the whole list."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


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
    if close:
        hint = "nearest: " + ", ".join(names[name] for name in close)
    else:
        listed = list(names.values())
        more = ", ..." if len(listed) > 12 else ""
        hint = "known: " + ", ".join(listed[:12]) + more
    return ValueError(f"unknown {kind} {given!r}; {hint}")
