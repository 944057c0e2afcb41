"""A progress bar on a terminal, nothing in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from preloadmc.cli.terminal import is_quiet
from preloadmc.engine import Progress


@contextmanager
def progress_bar(label: str) -> Iterator[Progress]:
    """Yield a function that shows the samples done and planned."""
    with click.progressbar(
        length=1,
        label=label,
        file=sys.stderr,
        hidden=is_quiet() or sys.stderr is None or not sys.stderr.isatty(),
        show_eta=True,
    ) as bar:

        def update(done: int, planned: int) -> None:
            bar.length = planned
            bar.update(done - bar.pos)

        yield update
