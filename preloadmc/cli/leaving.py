"""How a command ends: whatever happens, in an exit code and at most a few words."""

from __future__ import annotations

import errno
import io
import itertools
import os
import platform
import shlex
import shutil
import signal
import sys
import tempfile
import textwrap
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import click

from preloadmc import __version__
from preloadmc.cli.interrupts import EXIT_CODES, Interrupt, interrupts_raised
from preloadmc.errors import PreloadError

_COLUMNS = 80
_POINT = "  - "
# A narrower terminal wraps by itself.
_FEWEST_COLUMNS = 40
_NO_OUTPUT = (errno.EPIPE, errno.ENOSPC)


class InterruptionError(PreloadError):
    """A command was interrupted; what had been written by then is said in its words."""

    def __init__(self, interrupt: BaseException) -> None:
        number = getattr(interrupt, "number", signal.SIGINT)
        how = "interrupted" if number == signal.SIGINT else "terminated"
        super().__init__(f"{how}; {written(interrupt) or 'nothing was written'}")
        self.exit_code = EXIT_CODES[number]


def written(error: BaseException) -> str:
    """Return what had been written before an error or interrupt, as its notes say it."""
    notes = getattr(error, "__notes__", [])
    return f"written: {', '.join(notes)}" if notes else ""


@contextmanager
def noting_what_is_written() -> Iterator[list[str]]:
    """Yield a list for what has been written; an error or interrupt takes it along as notes."""
    done: list[str] = []
    try:
        yield done
    except BaseException as error:
        for each in done:
            error.add_note(each)
        raise


def exit_code_of(command: Callable[[], Any], arguments: Sequence[str]) -> int:
    """Run a command and return its exit code; what ends it early is said on standard error.

    Parameters
    ----------
    command : callable
        Returns an exit code, or anything else for 0.
    arguments : sequence of str
        Those of the call, for the file about an internal error.
    """
    # What the terminal cannot show is written as an escape, such as \\xb5, and no error.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    with interrupts_raised():
        try:
            code = command()
        except Exception as error:
            words, code = _said_of(error, arguments)
            stands = written(error)
        except KeyboardInterrupt as interrupt:
            words, code = _said_of(InterruptionError(interrupt), arguments)
            stands = ""
        else:
            return code if isinstance(code, int) else 0
        if stands:
            words = f"{words}; {stands}"
        with suppress(OSError):
            click.echo(words, err=True)
    return code


def _said_of(error: Exception, arguments: Sequence[str]) -> tuple[str, int]:
    """Return the words on an error and the exit code."""
    if isinstance(error, PreloadError):
        return wrapped(f"preloadmc: {error}"), error.exit_code
    if isinstance(error, click.Abort):  # an interrupt, or the end of the input, at a question
        cause = error.__context__
        return _said_of(
            InterruptionError(cause if isinstance(cause, Interrupt) else error), arguments
        )
    if isinstance(error, click.ClickException):
        with io.StringIO() as text:
            error.show(text)
            return text.getvalue().rstrip("\n"), error.exit_code
    if isinstance(error, MemoryError):
        return "preloadmc: not enough memory", 1
    if isinstance(error, RuntimeError) and str(error) == "can't start new thread":
        return "preloadmc: no further thread can be started; give fewer --threads", 1
    if isinstance(error, OSError) and error.errno in _NO_OUTPUT:
        drop_output()
        return f"preloadmc: the output cannot be written: {error.strerror}", 1
    what = " ".join(f"{type(error).__name__}: {error}".split())
    file = _error_file(error, arguments)
    to_send = f"please send {file}" if file else "no file could be written about it"
    return f"preloadmc: internal error: {what}; {to_send}", 1


def wrapped(message: str) -> str:
    """Return a message with its list in lines of the terminal's width, or of 80 columns.

    The points of a list hang from their mark; no word is divided. What stands before them may be
    a path, and stays in one line.
    """
    on_terminal = sys.stderr is not None and sys.stderr.isatty()
    columns = shutil.get_terminal_size().columns if on_terminal else _COLUMNS
    lines: list[str] = []
    for line in message.split("\n"):
        if line.startswith(_POINT):
            lines += textwrap.wrap(
                line,
                max(columns, _FEWEST_COLUMNS),
                subsequent_indent=" " * len(_POINT),
                break_long_words=False,
                break_on_hyphens=False,
            )
        else:
            lines.append(line)
    return "\n".join(lines)


def drop_output() -> None:
    """Let standard output lead nowhere, so that nothing is tried again when the program ends."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _error_file(error: Exception, arguments: Sequence[str]) -> Path | None:
    """Write what is known of an internal error into a new file; None where that cannot be."""
    text = "\n".join(
        [
            f"preloadmc {__version__}, Python {platform.python_version()}, {platform.platform()}",
            shlex.join(["preloadmc", *arguments]),
            "",
            *traceback.format_exception(error),
        ]
    )
    for folder in (Path(), Path(tempfile.gettempdir())):
        for number in itertools.count(1):
            file = folder / f"preloadmc-error-{number}.txt"
            try:
                with file.open("x", encoding="utf-8", errors="backslashreplace") as opened:
                    opened.write(text)
            except FileExistsError:
                continue
            except OSError:
                break
            return file
    return None
