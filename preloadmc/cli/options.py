"""Options that several commands share, and where their output goes."""

from __future__ import annotations

import shlex
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.core import ParameterSource

from preloadmc.case import MOST_SAMPLES
from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.cautions import CAUTIONS
from preloadmc.units import RATIO, parse_quantity

Function = TypeVar("Function", bound=Callable[..., Any])
# Older click has no generic parameter types.
if TYPE_CHECKING:
    _ParamType = click.ParamType[float]
else:
    _ParamType = click.ParamType
# What says where output goes, and changes no number.
_ABOUT_FILES = ("json_file", "out", "overwrite", "threads")
EPILOG = "Cautions: " + " ".join(CAUTIONS)


class Share(_ParamType):
    """A number above 0 and up to 1, given as such or in per cent."""

    name = "share"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the share as a number."""
        try:
            number = parse_quantity(str(value), RATIO)
        except ValueError as error:
            self.fail(f"{value!r}: {error}", param, ctx)
        if not 0.0 < number <= 1.0:
            self.fail(
                f"{value!r}: a share above 0 and at most 1, such as 0.05 or '5 %'", param, ctx
            )
        return number


case_argument = click.argument("case", type=click.Path(path_type=Path))
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
units_option = click.option(
    "--units",
    type=click.Choice(["metric", "inch"]),
    help="Units of the text and figures; those of the thread unless given.",
)
overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace an existing report folder or JSON file."
)
seed_option = click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), help="Seed; that of the case unless given."
)
threads_option = click.option(
    "--threads",
    type=click.IntRange(1, 256),
    help="Threads; all cores unless given. The result is the same for any number.",
)


def sampling_options(function: Function) -> Function:
    """Add how far to sample."""
    function = click.option(
        "--precision",
        type=Share(),
        help="Sample until the half width of each interval is this share of its probability.",
    )(function)
    return click.option(
        "--samples", type=click.IntRange(1, MOST_SAMPLES), help="How many samples to draw."
    )(function)


def repeated() -> str:
    """Return the running command as one would give it beside the copy of the case in a folder."""
    context = click.get_current_context()
    words = ["preloadmc", context.info_name or "", "case.toml"]
    for option in context.command.params:
        name = option.name or ""
        given = context.get_parameter_source(name) is ParameterSource.COMMANDLINE
        if not isinstance(option, click.Option) or not given or name in _ABOUT_FILES:
            continue
        value = context.params[name]
        for each in value if option.multiple else (value,):
            words += [option.opts[-1]] if option.is_flag else [option.opts[-1], str(each)]
    return shlex.join(words)


def check_json_file(json_file: str | None, overwrite: bool) -> None:
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


def write_json(json_file: str, text: str) -> None:
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
