"""All figures of a run, in the order of reading."""

from __future__ import annotations

from preloadmc.questions.run import RunResult
from preloadmc.report.control_figures import control_figure
from preloadmc.report.figure_files import NamedFigure
from preloadmc.report.preload_figures import histogram_figure, path_figure
from preloadmc.report.rank_figures import rankings_figure
from preloadmc.report.ranking_figures import ranking_figure
from preloadmc.report.scatter_figures import scatter_figure


def run_figures(result: RunResult, system: str = "metric") -> tuple[NamedFigure, ...]:
    """Return the figures of a run; without rankings and scatter where those were not made.

    Parameters
    ----------
    result : RunResult
        What `run` returned.
    system : str
        "metric" or "inch".
    """
    preload = histogram_figure(result, system), path_figure(result, system)
    control = None if result.control is None else control_figure(result.control)
    worth = () if control is None else (control,)
    if result.ranking is None:
        return (*preload, *worth)
    rankings = rankings_figure(result.ranking), ranking_figure(result.ranking)
    return (*preload, *rankings, scatter_figure(result, system), *worth)
