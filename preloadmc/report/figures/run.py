"""All figures of a run, in the order of reading."""

from __future__ import annotations

from preloadmc.questions.run import RunResult
from preloadmc.report.figures.control import control_figure
from preloadmc.report.figures.joint import joint_position_figure
from preloadmc.report.figures.joint_lots import joint_lot_figure
from preloadmc.report.figures.joint_passes import joint_pass_figure
from preloadmc.report.figures.knowledge import knowledge_figure
from preloadmc.report.figures.ladder import ladder_figure
from preloadmc.report.figures.life import life_figure
from preloadmc.report.figures.likeliest import likeliest_figure
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.preload import histogram_figure, path_figure
from preloadmc.report.figures.rankings import rankings_figure
from preloadmc.report.figures.scatter import scatter_figure


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
        joint_position_figure(result, system),
        joint_pass_figure(result, system),
        joint_lot_figure(result),
        knowledge_figure(result),
        path_figure(result, system),
        life_figure(result, system),
        ladder_figure(result, system),
        likeliest_figure(result, system),
    ]
    if result.ranking is not None:
        figures += [
            rankings_figure(result.ranking),
            scatter_figure(result, system),
        ]
    if result.control is not None:
        figures.append(control_figure(result.control))
    return tuple(figure for figure in figures if figure is not None)
