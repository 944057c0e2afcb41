"""What the result of every question can do: become a document, a table, a part of a notebook.

Reports are made of results, so that a result knows none: the package lends them to it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar, Protocol

if TYPE_CHECKING:
    from pandas import DataFrame


class Reports(Protocol):
    """What makes documents, tables and parts of notebooks of results."""

    def result_document(self, result: Result, /) -> dict[str, Any]:
        """Return the JSON document."""

    def result_frame(self, result: Result, /) -> DataFrame:
        """Return the table as a data frame."""

    def result_html(self, result: Result, /) -> str:
        """Return a part of a page."""


class Lender(Protocol):
    """Imports what makes reports when they are asked for."""

    def __call__(self) -> Reports:
        """Return it."""


class Result:
    """The result of a question; ``reports`` lends it what makes documents and tables of it."""

    __slots__ = ()

    reports: ClassVar[Lender]

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document, as ``--json`` writes it, as Python objects."""
        return self.reports().result_document(self)

    def to_frame(self) -> DataFrame:
        """Return the table that ``--table`` writes as a pandas DataFrame, a row for each event.

        Raises
        ------
        PreloadError
            If pandas is not installed.
        """
        return self.reports().result_frame(self)

    def _repr_html_(self) -> str:
        """Return the answer and the first tables, as a notebook shows them."""
        return self.reports().result_html(self)
