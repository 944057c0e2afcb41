"""The family of errors; each knows the exit code of the command line.

PreloadError            exit 1  something the program cannot do, said in words
├── CaseError           exit 2  the case file has problems: all of them at once
├── UsageError          exit 2  a call that asks for what is not there or not allowed
└── EstimateError       exit 1  a number could not be computed to the claim made for it
    └── NotFiniteError  exit 1  a margin came out NaN or infinite: never counted as safe
"""

from __future__ import annotations

from dataclasses import dataclass


class PreloadError(Exception):
    """Root of all errors raised on purpose by this package."""

    exit_code = 1


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem of a case file: where, what was given, what is allowed.

    ``of`` is the name of the alternative or suspect that it is found in; empty for the case itself.
    """

    path: str
    given: str
    allowed: str
    of: str = ""

    def __str__(self) -> str:
        given = f" (given: {self.given})" if self.given else ""
        of = f" (in '{self.of}')" if self.of else ""
        return f"{self.path}: {self.allowed}{given}{of}"


class CaseError(PreloadError):
    """A case file that cannot be used, with every problem found in it.

    ``warnings`` are of values beside them that are possible and unusual.
    """

    exit_code = 2

    def __init__(
        self, source: str, problems: tuple[Problem, ...], warnings: tuple[str, ...] = ()
    ) -> None:
        self.source = source
        self.problems = problems
        self.warnings = warnings
        count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        lines = [f"{source}: {count}", *(f"  - {problem}" for problem in problems)]
        if warnings:
            lines += ["Also unusual:", *(f"  - {warning}" for warning in warnings)]
        super().__init__("\n".join(lines))


class UsageError(PreloadError):
    """A call that asks for something absent or not allowed."""

    exit_code = 2


class EstimateError(PreloadError):
    """A number could not be computed to the claim made for it."""


class NotFiniteError(EstimateError):
    """A margin came out NaN or infinite."""
