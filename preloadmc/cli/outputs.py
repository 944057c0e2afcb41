"""Where a command's result goes: terminal, JSON, report folder. Checked before the work."""

from __future__ import annotations

import json
import os
import shlex
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial, wraps
from hashlib import sha256
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from preloadmc.case import Case
from preloadmc.cli.interrupts import interrupts_held
from preloadmc.cli.leaving import noting_what_is_written
from preloadmc.cli.terminal import Shown, full_option, quiet_option, say, show
from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.documents.document import as_json
from preloadmc.report.folder import INPUTS, Content, check_folder, write_folder
from preloadmc.report.single_file import check_file, write_file

Command = Callable[..., Any]
# From the JSON text and the command that repeats it: name and content of each file of a folder.
Files = Callable[[str, str], Mapping[str, Content]]
# What says where output goes, and changes no number; and what went into the copy of the case, or
# is told among what is read.
_NOT_REPEATED = (
    "json_file", "table", "out", "png", "xlsx", "overwrite", "threads", "found",
    "workers", "template", "address", "resume",
)  # fmt: skip
# Options that name a file that is read, of which the report has a copy.
_COPIED = ("geometry",)

json_option = click.option(
    "--json",
    "json_file",
    metavar="FILE",
    help="Write the result as JSON; - for standard output, and then nothing else goes there.",
)
table_option = click.option(
    "--table",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write a table of the result: .csv, or .xlsx with every table as a sheet.",
)
out_option = click.option(
    "--out",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Write a report folder: text, page, JSON, copies of the inputs, figures. "
    "Usual place: reports/<case>.",
)
png_option = click.option(
    "--png", is_flag=True, help="Write each figure of the report folder as PNG too, beside SVG."
)
overwrite_option = click.option(
    "--overwrite",
    is_flag=True,
    help="Replace an existing file, or a report of another case or other options.",
)


@dataclass(frozen=True, slots=True)
class Inputs:
    """What a command reads: the file that it is given, and all files that this leads to.

    ``files`` has their text by the path that each gets in a report, ``paths`` where they lie.
    ``repeated`` are the words of a call that name the copies in a report; that of the file that the
    command is given, unless told.
    """

    source: str
    files: Mapping[str, str]
    paths: tuple[Path, ...]
    repeated: tuple[str, ...] = ()

    @classmethod
    def of_case(cls, case: Case) -> Inputs:
        """Return what is read where a case file is given."""
        folder = Path(case.source).parent
        return cls(case.source, case.files, tuple(folder / name for name in case.files))

    @property
    def sums(self) -> dict[str, object]:
        """Return the SHA-256 of each file by its path in a report."""
        sums = {name: sha256(text.encode()).hexdigest() for name, text in self.files.items()}
        return {"inputs": sums}


@dataclass(frozen=True, slots=True)
class Outputs:
    """Where the result of one command goes."""

    json_file: str | None
    table: Path | None
    out: Path | None
    overwrite: bool
    png: bool = False

    def check(
        self, read: Case | Inputs, mark: Mapping[str, object], also: Iterable[Path] = ()
    ) -> None:
        """Raise UsageError with everything that may not be written.

        ``mark`` names the report; ``also`` are files that are read beside those of the case.
        """
        if self.png and self.out is None:
            raise UsageError("--png: of the figures of a report folder; give --out too")
        read = Inputs.of_case(read) if isinstance(read, Case) else read
        inputs = [*read.paths, *also]
        checks: list[Callable[[], None]] = []
        for file in self._files:
            checks.append(partial(check_file, file, self.overwrite, inputs))
            if self.out is not None:
                checks.append(partial(_check_apart, file, self.out))
        if self.table is not None:
            checks.append(partial(_check_table, self.table, self._file))
        if self.out is not None:
            made_by = {**mark, **read.sums}
            checks.append(partial(check_folder, self.out, made_by, self.overwrite, inputs))
        problems = []
        for check in checks:
            try:
                check()
            except UsageError as error:
                problems.append(str(error))
        if len(problems) > 1:
            listed = "".join(f"\n  - {problem}" for problem in problems)
            raise UsageError(f"{len(problems)} problems with what is to be written{listed}")
        if problems:
            raise UsageError(problems[0])

    def deliver(
        self,
        read: Case | Inputs,
        shown: Shown,
        document: dict[str, Any],
        files: Files,
        table: Callable[[Path], bytes] | None = None,
    ) -> None:
        """Write the folder, the JSON and the table, then show the result.

        ``table`` returns the content of a table for a file of that name, where it is not made of
        the document.
        Where one of them cannot be written, the others still are, and it is said at the end.
        """
        case = read if isinstance(read, Case) else None
        read = Inputs.of_case(read) if isinstance(read, Case) else read
        json_text = as_json(document)
        writings: dict[str, Callable[[], None]] = {}
        if self.out is not None:
            command = _repeated(read)
            within = as_json({**document, **read.sums, "repeat": command})
            writings[f"report {self.out}"] = partial(write_folder, self.out, files(within, command))
        if self._file is not None:
            writings[str(self._file)] = partial(write_file, self._file, json_text.encode())
        if self.table is not None:
            content = table(self.table) if table else _table_content(self.table, json_text, case)
            writings[str(self.table)] = partial(write_file, self.table, content)
        failures = []
        with noting_what_is_written() as written:
            for what, write in writings.items():
                try:
                    with interrupts_held():
                        write()
                        written.append(what)
                except PreloadError as error:
                    failures.append(str(error))
            try:
                if self.json_file == "-":
                    say(json_text.encode())
                else:
                    show(shown, self.out if f"report {self.out}" in written else None)
            except PreloadError as error:
                failures.append(str(error))
            if failures:
                raise PreloadError("; ".join(failures))

    @property
    def _file(self) -> Path | None:
        """Return the file for the JSON; None where there is none, or it goes to standard output."""
        return None if self.json_file in (None, "-") else Path(self.json_file)

    @property
    def _files(self) -> tuple[Path, ...]:
        """Return the single files to be written."""
        return tuple(file for file in (self._file, self.table) if file is not None)


def output_options(function: Command) -> Command:
    """Add the options that say where output goes; the command gets them as ``outputs``."""

    @wraps(function)
    def with_outputs(
        *,
        json_file: str | None,
        table: Path | None,
        out: Path | None,
        overwrite: bool,
        png: bool,
        **others: Any,
    ) -> Any:
        return function(outputs=Outputs(json_file, table, out, overwrite, png), **others)

    for option in (
        full_option,
        quiet_option,
        overwrite_option,
        png_option,
        out_option,
        table_option,
    ):
        option(with_outputs)
    return json_option(with_outputs)


def _repeated(read: Inputs) -> str:
    """Return the running command as one would give it in the report folder."""
    context = click.get_current_context()
    given = read.repeated or (f"{INPUTS}/{Path(read.source).name}",)
    words = ["preloadmc", context.info_name or "", *given]
    for option in context.command.params:
        name = option.name or ""
        is_given = context.get_parameter_source(name) is ParameterSource.COMMANDLINE
        if not isinstance(option, click.Option) or not is_given or not option.expose_value:
            continue
        if name in _NOT_REPEATED:
            continue
        value = context.params[name]
        if name in _COPIED:
            value = f"{INPUTS}/{Path(value).name}"
        for each in value if option.multiple else (value,):
            words += [option.opts[-1]] if option.is_flag else [option.opts[-1], str(each)]
    return shlex.join(words)


def _check_apart(file: Path, out: Path) -> None:
    """Raise UsageError where a file and the report folder would lie in each other."""
    one, other = Path(os.path.realpath(file)), Path(os.path.realpath(out))
    if one.is_relative_to(other) or other.is_relative_to(one):
        raise UsageError(
            f"{file}: lies in the report folder {out}, or around it; name a file elsewhere"
        )


def _check_table(file: Path, json_file: Path | None) -> None:
    """Raise UsageError where a table of that name cannot be written, or the JSON goes there."""
    from preloadmc.report.tables.spreadsheet import check_kind

    if json_file is not None and os.path.realpath(file) == os.path.realpath(json_file):
        raise UsageError(f"{file}: is where the JSON goes; name another file for the table")
    check_kind(file)


def _table_content(file: Path, json_text: str, case: Case | None) -> bytes:
    """Return the tables of a document as a file of the kind that its name says."""
    from preloadmc.report.tables.result_tables import result_tables
    from preloadmc.report.tables.spreadsheet import spreadsheet

    return spreadsheet(file, result_tables(json.loads(json_text), case))
