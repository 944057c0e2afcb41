"""A case being read: laws, assumptions, warnings and problems as they are found."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, SHARED_BY, Assumption, Shared
from preloadmc.case_file.law_table import read_law
from preloadmc.case_file.tables import Problems, Table
from preloadmc.chance.laws import Constant, Law
from preloadmc.inputs import input_kind
from preloadmc.units import RATIO

NOT_GIVEN = "not given in the case file"
# A probability that no sampling meets: not worth a line.
NEVER = 1e-30


class Draft:
    """Collects what the sections of one file say."""

    def __init__(self, problems: Problems, folder: Path) -> None:
        self.problems = problems
        self.folder = folder
        self.laws: dict[str, Law] = {}
        self.shared: dict[str, Shared] = {}
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
            self._read_shared(table, key, name)
        return law

    def _read_shared(self, table: Table, key: str, name: str) -> None:
        """Read what share of a law's variance several joints have in common."""
        given = table.raw(key)
        if not isinstance(given, Mapping) or "shared" not in given:
            return
        shared = table.table(key).table("shared")
        by = shared.choice("by", SHARED_BY, None)
        fraction = shared.quantity("fraction", RATIO, above=0.0, high=1.0)
        if "fraction" not in shared:
            shared.missing("fraction", "the share of the variance in common, up to 1")
        shared.close()
        if by is not None and fraction is not None:
            self.shared[name] = Shared(by, fraction)

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
        if beyond > NEVER:
            self.assume(
                table.at(key),
                f"cut off at 0, which it reaches with probability {beyond:.1g}",
                "a quantity that cannot be negative",
            )
        return True
