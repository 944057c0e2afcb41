"""What was answered so far, by the name of the question."""

from __future__ import annotations

from collections.abc import Mapping

from preloadmc.mechanics.thread import thread

# In place of a quantity that the joint does not have.
NONE = "none"


class Answers:
    """Answers as they are read, each a text; a question may have several.

    Parameters
    ----------
    units : {"metric", "inch"} or None
        Units of what is offered as an example; those of the thread where None.
    given : mapping of str to tuple of str, optional
        Answers by the name of their question.
    """

    def __init__(
        self, units: str | None = None, given: Mapping[str, tuple[str, ...]] | None = None
    ) -> None:
        self.units = units
        self._given = dict(given or {})

    def __contains__(self, key: str) -> bool:
        """Return whether a question is answered."""
        return key in self._given

    def one(self, key: str) -> str:
        """Return the answer to a question; empty where it has none, or "none"."""
        text = (*self._given.get(key, ()), "")[0]
        return "" if text == NONE else text

    def all(self, key: str) -> tuple[str, ...]:
        """Return every answer to a question."""
        return self._given.get(key, ())

    def having(self, more: Mapping[str, tuple[str, ...]]) -> Answers:
        """Return these answers with more, or others in their place."""
        return Answers(self.units, {**self._given, **more})

    @property
    def system(self) -> str:
        """Return the unit system of examples: "metric" or "inch"."""
        if self.units is not None:
            return self.units
        name = self.one("thread")
        return thread(name).unit_system if name else "metric"
