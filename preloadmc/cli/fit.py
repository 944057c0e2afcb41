"""`preloadmc fit`: what laws do test records follow, and how many tests show a claim?"""

from __future__ import annotations

from pathlib import Path

import click

from preloadmc.case_file import load_case, load_records
from preloadmc.chance.fitting import FITTED_KINDS
from preloadmc.cli.decay import answer_decay
from preloadmc.cli.options import EPILOG, Share, seed_option
from preloadmc.cli.outputs import Inputs, Outputs, output_options
from preloadmc.cli.terminal import Shown
from preloadmc.errors import UsageError
from preloadmc.questions.decay import REMAINDER, DecayQuestion
from preloadmc.questions.fit import (
    CONFIDENCE,
    CONTENT,
    USUAL_SEED,
    FitQuestion,
    fit,
    plan_claim,
)
from preloadmc.report.documents.fit import fit_document, fit_mark, plan_document
from preloadmc.report.text.fit import fit_text, plan_text
from preloadmc.report.text.screens import fit_screen, plan_screen
from preloadmc.told import and_words, percent


@click.command("fit", epilog=EPILOG)
@click.argument("files", metavar="[FILE]...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--column", metavar="NAME", help="One column, or friction that follows from several.")
@click.option("--law", type=click.Choice(FITTED_KINDS), help="Take this law.")
@click.option(
    "--where",
    multiple=True,
    metavar="COLUMN=WORD",
    help="Tests with this word in a column alone, such as 'lubricant=oil'. Repeatable.",
)
@click.option(
    "--lot", metavar="COLUMN", help="Which lot each test is of; 'lot' or 'batch' unless given."
)
@click.option("--unit", metavar="UNIT", help="Of the column's numbers, where the file states none.")
@click.option(
    "--case",
    "geometry",
    type=click.Path(path_type=Path),
    help="Case file with thread and bearing diameter of a torque-tension rig: frictions follow.",
)
@click.option(
    "--claim",
    type=Share(),
    help="Share of all that limits hold and a claim states; 99 % unless given.",
)
@click.option("--confidence", type=Share(), default=str(CONFIDENCE), help="95 % unless given.")
@click.option("--at-least", metavar="VALUE", help="Is the claim shown that all but few reach it?")
@click.option("--at-most", metavar="VALUE", help="Is the claim shown that few exceed it?")
@click.option(
    "--misses",
    type=click.IntRange(0, 1000),
    help="Tests that may miss the limit, for a --claim without FILE.",
)
@click.option("--tolerance", type=Share(), help="Of a tool about its set value: capability.")
@click.option(
    "--decay", is_flag=True, help="FILES are records of vibration tests: what preload is left?"
)
@click.option(
    "--at",
    multiple=True,
    type=click.IntRange(1),
    metavar="CYCLES",
    help="With --decay: preload left after so many load cycles. Repeatable.",
)
@click.option(
    "--remainder",
    type=Share(),
    help=f"With --decay: cycles until this is left, as a lifetime; {percent(REMAINDER)} unless "
    "given.",
)
@click.option(
    "--threshold",
    multiple=True,
    metavar="NAME=SHARE",
    help="With --decay: rate by this, such as 'good=85 % at 2000'. Repeatable.",
)
@output_options
@seed_option
def command(
    files: tuple[Path, ...],
    column: str | None,
    law: str | None,
    where: tuple[str, ...],
    lot: str | None,
    unit: str | None,
    geometry: Path | None,
    claim: float | None,
    confidence: float,
    at_least: str | None,
    at_most: str | None,
    misses: int | None,
    tolerance: float | None,
    decay: bool,
    at: tuple[int, ...],
    remainder: float | None,
    threshold: tuple[str, ...],
    outputs: Outputs,
    seed: int | None,
) -> None:
    """Fit laws to test records (CSV): which law, how sure, and what the tests show.

    FILE has a header with units, such as 'torque [N·m]', and a row for each test. Columns 'torque',
    'preload' and 'thread torque' with --case give friction by ISO 16047; 'set' and 'reading' give
    bias and repeatability of a tool. Without FILE, --claim tells how many tests show it.

    With --decay each FILE has columns 'load cycles' and 'preload', and may have 'rotation',
    'element', 'amplitude', 'joint', 'clamp length' and, for several tests in one file, 'test'.

    Example: preloadmc fit cases/friction_tests.csv --case cases/conveyor_bracket.toml
    --where lubricant=oil
    """
    shares = {"--confidence": confidence, "--claim": CONTENT if claim is None else claim}
    for option, given in shares.items():
        if not 0.5 <= given < 1.0:
            raise UsageError(f"{option} {given:g}: from 50 % to below 100 %")
    if decay:
        others = {
            "--column": column, "--lot": lot, "--unit": unit, "--case": geometry, "--seed": seed,
            "--at-least": at_least, "--at-most": at_most, "--misses": misses,
            "--tolerance": tolerance,
        }  # fmt: skip
        refused = [option for option, given in others.items() if given is not None]
        if refused:
            raise UsageError(f"{and_words(refused)}: not with --decay")
        asked = DecayQuestion(
            tuple(map(float, at)),
            REMAINDER if remainder is None else remainder,
            law,
            threshold,
            _words_by_column(where),
            shares["--claim"],
            confidence,
        )
        answer_decay(files, asked, outputs)
        return
    if at or remainder is not None or threshold:
        raise UsageError("--at, --remainder and --threshold: with --decay alone")
    if len(files) > 1:
        raise UsageError(f"one FILE, not {len(files)}; several are for --decay")
    file = files[0] if files else None
    if file is None:
        of_tests = (column, law, lot, unit, geometry, at_least, at_most, tolerance)
        if claim is None or where or any(each is not None for each in of_tests):
            raise UsageError("FILE is missing; without it, --claim, --confidence and --misses")
        if outputs.out is not None:
            raise UsageError("--out: a report folder needs FILE")
        nothing = Inputs("", {}, ())
        outputs.check(nothing, {})
        plan = plan_claim(claim, confidence, misses or 0)
        outputs.deliver(
            nothing,
            Shown(plan_screen(plan), lambda: plan_text(plan)),
            plan_document(plan),
            lambda *_: {},
        )
        return
    if misses is not None:
        raise UsageError("--misses is for a claim without FILE: the misses of a file are counted")
    question = FitQuestion(
        column,
        law,
        _words_by_column(where),
        lot,
        unit,
        shares["--claim"],
        confidence,
        at_least,
        at_most,
        tolerance,
    )
    records = load_records(file)
    case = None if geometry is None else load_case(geometry)
    if seed is None:
        seed = USUAL_SEED if case is None else case.sampling.seed
    of_case = None if case is None else Inputs.of_case(case)
    read = Inputs(
        str(file),
        {**({} if of_case is None else of_case.files), **records.files},
        (file, *(() if of_case is None else of_case.paths)),
    )
    outputs.check(read, fit_mark(records, question, case, seed))
    result = fit(records, question, case=case, seed=seed)

    def report_files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import fit_files

        return fit_files(result, document, command, png=outputs.png)

    outputs.deliver(
        read,
        Shown(fit_screen(result), lambda: fit_text(result)),
        fit_document(result),
        report_files,
    )


def _words_by_column(where: tuple[str, ...]) -> dict[str, str]:
    """Return the word that each column must have."""
    found = {}
    for each in where:
        column, equals, word = (part.strip() for part in each.partition("="))
        if not column or not equals or not word:
            raise UsageError(f"--where {each!r}: a column and a word, such as 'lubricant=oil'")
        if column in found:
            raise UsageError(f"--where {each!r}: each column once")
        found[column] = word
    return found
