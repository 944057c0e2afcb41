"""The kind of value that an input has: a law, or a plain quantity as its constant."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, SHARED_BY, Shared
from preloadmc.case_file.kinds import Quantity, Shape, Table, defined
from preloadmc.case_file.law_of_tests import doubt_of_measuring, law_of_table
from preloadmc.case_file.law_table import LawTable
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.typed_spreads import law_in_text
from preloadmc.case_file.word_kinds import Word
from preloadmc.chance.laws import Constant, Law
from preloadmc.chance.normal_knowledge import LotTests
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import InputKind
from preloadmc.units import RATIO

# A probability that no sampling meets: not worth a line.
NEVER = 1e-30


# Tables of typical values, by the input that words are typed for.
_TYPICAL = {
    "friction.thread": "friction",
    "friction.bearing": "friction",
    "friction.total": "friction",
    "friction.nut_factor": "nut-factors",
}
_OF_YIELD = re.compile(
    r"(?:(?P<share>\d+(?:[.,]\d+)?)\s*(?P<sign>%)?)?\s*(?:of\s+)?"
    r"(?P<yield>(?:yield|Rp\s?0[.,]2|Re[HL]?)\b.*)?",
    re.IGNORECASE,
)
_ORIGINS = ("no slip", "no separation", "structural preloading")


def _meant_by_words(name: str, given: Any) -> str:
    """Return how a quantity of an input is stated that is typed in words; empty for numbers."""
    if name == "requirement.maximum_preload" and (fraction := _fraction_of_yield(given)):
        return f'a force, or {{ from = "yield", fraction = {fraction:g} }}'
    if not isinstance(given, str):
        return ""
    if name == "requirement.minimum_preload" and " ".join(given.casefold().split()) in _ORIGINS:
        return f'a force, or {{ from = "{" ".join(given.casefold().split())}" }}'
    if name in _TYPICAL and not any(letter.isdigit() for letter in given):
        return (
            f"a number, or a law; `preloadmc tables {_TYPICAL[name]}` has typical ones by surface "
            "and lubricant"
        )
    return ""


def _fraction_of_yield(given: Any) -> float:
    """Return the share of yield that a maximum is typed as, in words or bare; 0 for a force."""
    share = _OF_YIELD.fullmatch(str(given).strip())
    if share is None or not (share["share"] or share["yield"]):
        return 0.0
    fraction = float((share["share"] or "1").replace(",", ".")) / (100.0 if share["sign"] else 1.0)
    return fraction if share["yield"] or fraction <= 1.0 else 0.0


class StatedLaw(NamedTuple):
    """A law that a file states; ``below`` is the probability of values that are cut off.

    ``warning`` is what to warn of, as the end of a sentence; empty where nothing.
    """

    law: Law
    shared: Shared | None = None
    below: float = 0.0
    warning: str = ""


class LawOf(NamedTuple):
    """A law of an input, or a plain quantity as its constant."""

    input: InputKind

    @property
    def allowed(self) -> str:
        """What is allowed."""
        least = f"{self._least:g}"
        sign = {"positive": f" above {least}", "not negative": f" of {least} or above", "any": ""}
        most = ", at most 1" if self.input.is_share else ""
        return f"{self.input.dimension.with_article}{sign[self.input.sign]}{most}, or a law of one"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        value = Quantity(
            self.input.dimension,
            low=self._least if self.input.sign == "not negative" else None,
            high=self._least + 1.0 if self.input.is_share else None,
            above=self._least if self.input.sign == "positive" else None,
        )
        return {"anyOf": [value.shape, defined(self.law_name)]}

    @property
    def _least(self) -> float:
        """What the file states where the quantity is 0."""
        return 0.0 - self.input.about

    @property
    def law_name(self) -> str:
        """What the schema calls a law of such a quantity."""
        what = "a scatter about a set value" if self.input.about else self.input.dimension.name
        return f"law of {what}"

    def read(self, given: Any, path: str, problems: Problems) -> StatedLaw | None:
        """Return the law."""
        shared, warning = None, ""
        if isinstance(given, Mapping):
            table = LawTable(given, path, problems, self.input.dimension, self.input.about)
            law = law_of_table(table, self.wrong_value)
            if "shared" in given:
                shared = SharedScatter().read(given["shared"], f"{path}.shared", problems)
            if isinstance(law, Tested):
                if isinstance(law.knowledge, LotTests):
                    if "shared" in given:
                        words = "remove it: the lots of the tests tell what lots have in common"
                        problems.add(f"{path}.shared", given["shared"], words)
                    shared = Shared("lot", law.knowledge.likely_fraction)
                warning = doubt_of_measuring(law)
        elif words := _meant_by_words(self.input.name, given):
            problems.add(path, given, words)
            return None
        elif spread := law_in_text(given):
            problems.add(path, given, f"one number, or a law: {spread}")
            return None
        else:
            value = Quantity(self.input.dimension).read(given, path, problems)
            law = None if value is None else Constant(value + self.input.about)
        if law is None:
            return None
        # Few tests leave some probability far off: possible is what the fitted law says.
        below = self._below(law)
        words = self._impossible(law.best_estimate(), self._below(law.best_estimate()))
        if words:
            problems.add(path, given, f"{words}{self._meant(given)}")
            return None
        return StatedLaw(law, shared, below if below > NEVER else 0.0, warning)

    def _meant(self, given: Any) -> str:
        """Return what was likely meant by a share above 1: its percent sign is forgotten."""
        try:
            share = float(given) if self.input.is_share else 0.0
        except (TypeError, ValueError):
            return ""
        return f"; is {share:g} % meant?" if 1.0 < share <= 100.0 else ""

    def wrong_value(self, value: float) -> str:
        """Return what is wrong with one value of the quantity, in words; empty for nothing."""
        constant = Constant(value)
        return self._impossible(constant, self._below(constant))

    def _below(self, law: Law) -> float:
        """Return the probability of values below those that are possible."""
        if self.input.sign == "any":
            return 0.0
        return float(law.cdf(0.0 if self.input.sign == "positive" else math.nextafter(0.0, -1.0)))

    def _impossible(self, law: Law, below: float) -> str:
        """Return what is wrong with the values of a law, empty where nothing is."""
        if below > NEGLIGIBLE_BELOW_ZERO:
            wanted = "above 0" if self.input.sign == "positive" else "0 or above"
            words = f"a quantity that is {wanted}"
            if isinstance(law, Constant):
                return words
            return (
                f"{words}; this law is not with probability {below:.2g} (lognormal or truncated "
                "normal stay there)"
            )
        if self.input.is_share and float(law.sf(1.0)) > NEGLIGIBLE_BELOW_ZERO:
            stays = "" if isinstance(law, Constant) else " (a beta law from 0 to 1 stays there)"
            return f"a share, at most 1{stays}"
        return ""


class SharedScatter:
    """The share of a law's variance that several joints have in common."""

    _by = Word(SHARED_BY)
    _fraction = Quantity(RATIO, low=0.0, high=1.0)

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return (
            f"a table of by ({self._by.allowed}) and fraction (of the variance, "
            f"{self._fraction.allowed})"
        )

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {
            "type": "object",
            "properties": {"by": self._by.shape, "fraction": self._fraction.shape},
            "required": ["by", "fraction"],
            "additionalProperties": False,
        }

    def read(self, given: Any, path: str, problems: Problems) -> Shared | None:
        """Return what is in common."""
        table = Table().read(given, path, problems)
        if table is None:
            return None
        by = fraction = None
        if "by" in table:
            by = self._by.read(table["by"], f"{path}.by", problems)
        else:
            problems.missing(f"{path}.by", self._by.allowed)
        if "fraction" in table:
            fraction = self._fraction.read(table["fraction"], f"{path}.fraction", problems)
        else:
            problems.missing(f"{path}.fraction", "the share of the variance in common, up to 1")
        for key in table:
            if key not in ("by", "fraction"):
                problems.unknown(f"{path}.{key}", key, ("by", "fraction"))
        return None if by is None or fraction is None else Shared(by, fraction)
