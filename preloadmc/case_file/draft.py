"""A case being read: laws, assumptions, warnings and problems as they are found."""

from __future__ import annotations

import math

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, Assumption
from preloadmc.case_file.law_table import read_law
from preloadmc.case_file.tables import Problems, Table
from preloadmc.chance.laws import Constant, Law
from preloadmc.inputs import input_kind

NOT_GIVEN = "not given in the case file"


class Draft:
    """Collects what the sections of one file say."""

    def __init__(self, problems: Problems) -> None:
        self.problems = problems
        self.laws: dict[str, Law] = {}
        self.correlations: dict[tuple[str, str], float] = {}
        self.assumptions: list[Assumption] = []
        self.warnings: list[str] = []

    def assume(self, path: str, value: str, source: str = NOT_GIVEN) -> None:
        """Note a value that the file did not state."""
        self.assumptions.append(Assumption(path, value, source))

    def read(self, table: Table, key: str, name: str, *, offset: float = 0.0) -> Law | None:
        """Read the law under ``key`` as the input ``name`` and keep it if it is possible."""
        law = read_law(table, key, input_kind(name).dimension, offset)
        if law is not None and self._possible(table, key, name, law):
            self.laws[name] = law
        return law

    def read_or_assume(
        self, table: Table, key: str, name: str, value: float, words: str, *, offset: float = 0.0
    ) -> None:
        """Read the law under ``key``; where absent take the constant ``value`` and say so."""
        if key in table:
            self.read(table, key, name, offset=offset)
            return
        self.laws[name] = Constant(value)
        self.assume(table.at(key), words)

    def require(self, table: Table, key: str, name: str, what: str) -> None:
        """Read the law under ``key``, which must be there."""
        if key not in table:
            table.missing(key, what)
            return
        self.read(table, key, name)

    def _possible(self, table: Table, key: str, name: str, law: Law) -> bool:
        sign = input_kind(name).sign
        if sign == "any":
            return True
        edge = 0.0 if sign == "positive" else math.nextafter(0.0, -1.0)
        beyond = float(law.cdf(edge))
        wanted = "above 0" if sign == "positive" else "0 or above"
        if beyond > NEGLIGIBLE_BELOW_ZERO:
            words = f"a quantity that is {wanted}"
            if not isinstance(law, Constant):
                words += (
                    f"; this law is not with probability {beyond:.2g}"
                    " (lognormal or truncated normal stay there)"
                )
            table.problem(key, words)
            return False
        if beyond > 0.0:
            self.assume(
                table.at(key),
                f"cut off at 0, which it reaches with probability {beyond:.1g}",
                "a quantity that cannot be negative",
            )
        return True
