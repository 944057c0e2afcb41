"""Where a command's result goes: terminal, JSON, report folder. Checked before the work."""

from __future__ import annotations

import functools
import shlex
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from preloadmc.cli.terminal import quiet_option, show_report
from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.documents.document import as_json
from preloadmc.report.folder import check_folder, write_folder

Command = Callable[..., Any]
# From the JSON text and the command that repeats it: name and content of each file of a folder.
Files = Callable[[str, str], Mapping[str, bytes]]
# What says where output goes, and changes no number.
_ABOUT_FILES = ("json_file", "out", "overwrite", "threads")

json_option = click.option(
    "--json",
    "json_file",
    metavar="FILE",
    help="Write the result as JSON; - for standard output, and then nothing else goes there.",
)
out_option = click.option(
    "--out",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Write a report folder: text, page, JSON, a copy of the case, figures. "
    "Usual place: reports/<case>.",
)
overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace an existing report folder or file."
)


@dataclass(frozen=True, slots=True)
class Outputs:
    """Where the result of one command goes."""

    json_file: str | None
    out: Path | None
    overwrite: bool

    def check(self, mark: Mapping[str, object]) -> None:
        """Raise UsageError where something may not be written; ``mark`` names the report."""
        _check_json_file(self.json_file, self.overwrite)
        if self.out is not None:
            check_folder(self.out, mark, self.overwrite)

    def deliver(self, text: str, document: dict[str, Any], files: Files) -> None:
        """Write the folder and the JSON, then show the text."""
        json_text = as_json(document)
        if self.out is not None:
            write_folder(self.out, files(json_text, _repeated()))
        if self.json_file is not None:
            _write_json(self.json_file, json_text)
        show_report(text, self.json_file, self.out)


def output_options(function: Command) -> Command:
    """Add the options that say where output goes; the command gets them as ``outputs``."""

    @functools.wraps(function)
    def with_outputs(
        *, json_file: str | None, out: Path | None, overwrite: bool, **others: Any
    ) -> Any:
        return function(outputs=Outputs(json_file, out, overwrite), **others)

    for option in (quiet_option, overwrite_option, out_option):
        option(with_outputs)
    return json_option(with_outputs)


def _repeated() -> str:
    """Return the running command as one would give it beside the copy of the case in a folder."""
    context = click.get_current_context()
    words = ["preloadmc", context.info_name or "", "case.toml"]
    for option in context.command.params:
        name = option.name or ""
        given = context.get_parameter_source(name) is ParameterSource.COMMANDLINE
        if not isinstance(option, click.Option) or not given or not option.expose_value:
            continue
        if name in _ABOUT_FILES:
            continue
        value = context.params[name]
        for each in value if option.multiple else (value,):
            words += [option.opts[-1]] if option.is_flag else [option.opts[-1], str(each)]
    return shlex.join(words)


def _check_json_file(json_file: str | None, overwrite: bool) -> None:
    """Raise UsageError where the JSON file may not be written: before the work."""
    if json_file is None or json_file == "-":
        return
    target = Path(json_file)
    if target.is_dir():
        raise UsageError(f"{target}: is a folder; a file is needed for the JSON")
    if target.exists() and not overwrite:
        raise UsageError(f"{target}: exists; name another file, or replace it with --overwrite")
    if not target.absolute().parent.is_dir():
        raise UsageError(f"{target}: its folder does not exist")


def _write_json(json_file: str, text: str) -> None:
    """Write the JSON text to a file, as a whole or not at all, or to standard output."""
    if json_file == "-":
        click.echo(text, nl=False)
        return
    target = Path(json_file).absolute()
    try:
        # A file made in a folder of its own has the usual permissions and leaves nothing behind.
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}.") as made:
            fresh = Path(made) / target.name
            fresh.write_text(text, encoding="utf-8")
            fresh.replace(target)
    except OSError as error:
        raise PreloadError(f"{target}: cannot be written: {error.strerror}") from error
