"""`preloadmc run`: how likely is the joint to end outside its window?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case
from preloadmc.cli.options import (
    EPILOG,
    Share,
    Time,
    case_argument,
    sampling_options,
    seed_option,
    threads_option,
    units_option,
)
from preloadmc.cli.outputs import Outputs, output_options
from preloadmc.cli.progress import progress_bar
from preloadmc.cli.terminal import Shown
from preloadmc.errors import UsageError
from preloadmc.estimates.probability import METHODS
from preloadmc.questions.run import asked, run
from preloadmc.report.documents.run import run_document, run_mark
from preloadmc.report.text.run import run_text
from preloadmc.report.text.screens import run_screen


@click.command("run", epilog=EPILOG)
@case_argument
@output_options
@seed_option
@sampling_options
@click.option(
    "--method",
    type=click.Choice(list(METHODS)),
    help="Force an estimator; the program chooses unless given.",
)
@click.option(
    "--until",
    type=Time(),
    help="Time of service up to which the joint is judged, such as '5 years'; the last of "
    "[service] times unless given.",
)
@threads_option
@units_option
@click.option(
    "--fail-above",
    type=Share(),
    help="Exit 3 if the upper end of any probability's interval, of the window or of any limit, is "
    "above this, such as 1e-4, or if one is not reliable.",
)
def command(
    case: Path,
    outputs: Outputs,
    seed: int | None,
    samples: int | None,
    precision: float | None,
    method: str | None,
    until: float | None,
    threads: int | None,
    units: str | None,
    fail_above: float | None,
) -> None:
    """Estimate how likely the joint of CASE ends outside its preload window.

    Example: preloadmc run cases/conveyor_bracket.toml --out reports/conveyor_bracket
    """
    if samples is not None and precision is not None:
        raise UsageError("--samples and --precision: give one of them")
    loaded = load_case(case)
    outputs.check(loaded, run_mark(loaded, *asked(loaded, seed, samples, precision), method, until))
    with progress_bar("sampling") as progress:
        result = run(
            loaded,
            seed=seed,
            samples=samples,
            precision=precision,
            method=method,
            threads=threads,
            progress=progress,
            ranking=outputs.out is not None,
            until=until,
        )
    system = units or loaded.unit_system

    def files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import run_files

        return run_files(result, document, system, command, png=outputs.png)

    outputs.deliver(
        loaded,
        Shown(run_screen(result, system), lambda: run_text(result, system)),
        run_document(result),
        files,
    )
    if fail_above is not None and any(
        not each.probability.reliable or each.upper > fail_above
        for each in (*result.outcomes, *result.judgement.beside, *result.judgement.of_joint)
    ):
        click.get_current_context().exit(3)
