"""Probabilistic preload reliability of bolted joints.

>>> from preloadmc import load_case, run
>>> result = run(load_case("cases/conveyor_bracket.toml"), samples=10_000)
>>> result.outcome("under_preload").probability.samples
10000
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from preloadmc.results import Result

__version__ = "0.1.0"

if TYPE_CHECKING:
    from preloadmc.case_file import load_case, load_records
    from preloadmc.questions.aim import aim
    from preloadmc.questions.check import check
    from preloadmc.questions.compare import compare
    from preloadmc.questions.control import control
    from preloadmc.questions.decay import decay
    from preloadmc.questions.derive import derive
    from preloadmc.questions.fit import fit
    from preloadmc.questions.infer import infer
    from preloadmc.questions.rank import rank
    from preloadmc.questions.run import run

__all__ = [
    "__version__",
    "aim",
    "check",
    "compare",
    "control",
    "decay",
    "derive",
    "fit",
    "infer",
    "load_case",
    "load_records",
    "rank",
    "run",
]


def __getattr__(name: str) -> Any:
    """Import a question when it is first asked, so that none pays for another."""
    if name in __all__:
        home = "case_file" if name.startswith("load_") else f"questions.{name}"
        return getattr(import_module(f"preloadmc.{home}"), name)
    raise AttributeError(f"module 'preloadmc' has no attribute '{name}'")


# Imported when a result is first asked for its document, table or part of a notebook.
Result.reports = staticmethod(lambda: import_module("preloadmc.report.documents.of_result"))
