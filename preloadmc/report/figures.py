"""All figures of a run, in the order of reading."""

from __future__ import annotations

from preloadmc.questions.run import RunResult
from preloadmc.report.control_figures import control_figure
from preloadmc.report.figure_files import NamedFigure
from preloadmc.report.ladder_figures import ladder_figure
from preloadmc.report.likeliest_figures import likeliest_figure
from preloadmc.report.preload_figures import histogram_figure, path_figure
from preloadmc.report.rank_figures import rankings_figure
from preloadmc.report.ranking_figures import ranking_figure
from preloadmc.report.scatter_figures import scatter_figure


def run_figures(result: RunResult, system: str = "metric") -> tuple[NamedFigure, ...]:
    """Return the figures of a run, without those that have nothing to show.

    Parameters
    ----------
    result : RunResult
        What `run` returned.
    system : str
        "metric" or "inch".
    """
    figures: list[NamedFigure | None] = [
        histogram_figure(result, system),
        path_figure(result, system),
        ladder_figure(result, system),
        likeliest_figure(result, system),
    ]
    if result.ranking is not None:
        figures += [
            rankings_figure(result.ranking),
            ranking_figure(result.ranking),
            scatter_figure(result, system),
        ]
    if result.control is not None:
        figures.append(control_figure(result.control))
    return tuple(figure for figure in figures if figure is not None)
