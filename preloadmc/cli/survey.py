"""`preloadmc survey`: how many joints of a register will miss, and which?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from glob import glob, has_magic
from pathlib import Path, PurePath

import click

from preloadmc import __version__
from preloadmc.case_file.register import Register, load_register, register_of_cases
from preloadmc.cli.options import EPILOG, seed_option, units_option
from preloadmc.cli.outputs import Inputs, Outputs, output_options
from preloadmc.cli.progress import progress_bar
from preloadmc.cli.terminal import Shown
from preloadmc.errors import UsageError
from preloadmc.questions.survey import (
    DEFAULT_SEED,
    WORST,
    MemoryStore,
    RowStore,
    Workers,
    cluster_at,
    processes,
    survey,
)
from preloadmc.report.documents.survey import survey_document, survey_mark
from preloadmc.report.folder import INPUTS, Content
from preloadmc.report.tables.spreadsheet import check_kind
from preloadmc.report.tables.survey import register_table_file
from preloadmc.report.text.survey import survey_screen, survey_text
from preloadmc.report.text.survey_rows import survey_rows
from preloadmc.report.unfinished import Unfinished

_CASE = ".toml"


@click.command("survey", epilog=EPILOG)
@click.argument("register", nargs=-1, required=True)
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    help="Case file that the rows change; a column 'case' names others.",
)
@output_options
@click.option("--xlsx", is_flag=True, help="Write the register of the report as XLSX too.")
@click.option(
    "--aim",
    "aimed",
    is_flag=True,
    help="Search the best setting of each joint; some sixty times as long.",
)
@click.option(
    "--worst",
    type=click.IntRange(0, 1000),
    default=WORST,
    show_default=True,
    help="Joints at highest risk that are run by themselves, for their answers.",
)
@seed_option
@click.option(
    "--workers",
    type=click.IntRange(1, 1024),
    help="Processes of this machine; as many as cores unless given. The result is the same.",
)
@click.option(
    "--cluster",
    "address",
    metavar="ADDRESS",
    help="Scheduler of a Dask cluster, such as tcp://10.0.0.1:8786; 'local' starts one here.",
)
@click.option(
    "--resume", is_flag=True, help="Go on with a survey for the same --out that was not finished."
)
@units_option
def command(
    register: tuple[str, ...],
    template: Path | None,
    outputs: Outputs,
    xlsx: bool,
    aimed: bool,
    worst: int,
    seed: int | None,
    workers: int | None,
    address: str | None,
    resume: bool,
    units: str | None,
) -> None:
    """Judge every joint of REGISTER: a table with a row a joint, or case files.

    A table (CSV, XLSX) has a path of the case file above each column, such as
    'tightening.torque [N·m]'; 'joint', 'case', 'lot', 'tool' and 'note' are columns too.

    Example: preloadmc survey cases/drive_line_register.csv --template cases/drive_line_joint.toml
    --out reports/drive_line
    """
    _check_options(outputs, address, workers, resume=resume, xlsx=xlsx)
    read = _read(register, template)
    used = DEFAULT_SEED if seed is None else seed
    sums = {name: each.sha256 for name, each in read.templates.items()}
    mark = survey_mark(read.sha256, sums, used, aimed=aimed)
    inputs = Inputs(read.source, read.files, tuple(_paths(read)), tuple(_repeated(read)))
    outputs.check(inputs, mark)
    engine: Workers = processes(workers) if address is None else cluster_at(address)
    begun_with = _begun_with(read, used, aimed=aimed)
    with (
        _store(outputs, begun_with, resume=resume) as store,
        progress_bar("judging joints") as progress,
    ):
        result = survey(
            read,
            seed=used,
            aimed=aimed,
            worst=worst,
            workers=engine,
            store=store,
            progress=progress,
        )
        system = units or "metric"
        rows = survey_rows(result)

        def files(document: str, command: str) -> dict[str, Content]:
            from preloadmc.report.files import survey_files

            return survey_files(
                result,
                document,
                system,
                command,
                rows=rows,
                register=read.content or None,
                png=outputs.png,
                xlsx=xlsx,
            )

        outputs.deliver(
            inputs,
            Shown(survey_screen(result, system, rows), lambda: survey_text(result, system, rows)),
            survey_document(result, rows),
            files,
            lambda file: register_table_file(file, result, system),
        )
        if isinstance(store, Unfinished):
            store.remove()
    if not result.counts.get("judged"):
        click.get_current_context().exit(2)


def _check_options(
    outputs: Outputs, address: str | None, workers: int | None, *, resume: bool, xlsx: bool
) -> None:
    if address is not None and workers is not None:
        raise UsageError("--cluster and --workers: give one of them")
    if outputs.out is None and resume:
        raise UsageError("--resume: goes on with what is beside a report folder; give --out too")
    if outputs.out is None and xlsx:
        raise UsageError("--xlsx: of the register in a report folder; give --out too")
    if xlsx:
        check_kind(Path("register.xlsx"))


def _read(given: Sequence[str], template: Path | None) -> Register:
    """Return the register: of one table, or of case files, which a pattern may name."""
    names: list[str] = []
    for each in given:
        is_pattern = has_magic(each) and not Path(each).exists()
        # As a shell expands it where it is not quoted.
        found = sorted(glob(each)) if is_pattern else [each]  # noqa: PTH207
        if not found:
            raise UsageError(f"{each}: no file has such a name")
        names += found
    are_cases = [PurePath(name).suffix.casefold() == _CASE for name in names]
    if not any(are_cases):
        if len(names) > 1:
            raise UsageError(f"{len(names)} registers: give one, or case files (.toml)")
        return load_register(names[0], template)
    if not all(are_cases):
        raise UsageError("a register and case files: give one kind of them")
    if template is not None:
        raise UsageError("--template: of the rows of a table; case files are joints themselves")
    return register_of_cases(names)


def _paths(register: Register) -> Iterator[Path]:
    """Yield what is read, none of which may be written."""
    if register.content:
        yield Path(register.source)
    for template in register.templates.values():
        folder = Path(template.file.source).parent
        yield from (folder / name for name in template.files)


def _repeated(register: Register) -> Iterator[str]:
    """Yield the words of a call that name what is read as it lies in a report."""
    places = register.places
    if not register.content:
        yield from (f"{INPUTS}/{place}" for place in places.values())
        return
    yield f"{INPUTS}/{PurePath(register.source).name}"
    if register.given:
        yield from ("--template", f"{INPUTS}/{places[register.given]}")


def _begun_with(register: Register, seed: int, *, aimed: bool) -> dict[str, object]:
    """Return what finished rows depend on, in words that tell which of it has changed."""
    return {
        "program": __version__,
        "register": register.sha256,
        **{f"template {name}": each.sha256 for name, each in register.templates.items()},
        "--seed": seed,
        "--aim": aimed,
    }


@contextmanager
def _store(outputs: Outputs, begun_with: dict[str, object], *, resume: bool) -> Iterator[RowStore]:
    """Yield where finished rows are kept: beside the report folder, if there is one."""
    if outputs.out is None:
        yield MemoryStore()
        return
    made = (
        Unfinished.resume(outputs.out, begun_with)
        if resume
        else Unfinished.begin(outputs.out, begun_with, outputs.overwrite)
    )
    with made as store:
        try:
            yield store
        except BaseException as error:
            if store.keys:
                error.add_note(f"{len(store.keys):,} rows, go on with --resume")
            else:
                store.remove()
            raise
